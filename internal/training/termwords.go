package training

import (
	"fmt"
	"strings"

	"stillwet/internal/procedure"
)

// TermLine is one of the terms in words.
type TermLine struct{ Term, Text string }

// Signers are the choices of who may sign off, in words.
var Signers = []struct {
	Value Signer
	Text  string
}{
	{SignerEntitled, "Whoever is entitled to sign off"},
	{SignerEducator, "Only educators who are entitled"},
	{SignerOther, "Whoever is entitled and watched none of the demonstrations: two different people"},
}

func needsText(n Needs) string {
	if n.Everybody() {
		return "Everybody who is trained here"
	}
	var parts []string
	if n.New {
		parts = append(parts, "new hires")
	}
	if n.Staff {
		parts = append(parts, "staff")
	}
	for _, r := range n.Roles {
		parts = append(parts, string(r)+"s")
	}
	for _, j := range n.Jobs {
		parts = append(parts, "job title “"+j+"”")
	}
	for _, t := range n.Teams {
		parts = append(parts, "team “"+t+"”")
	}
	return procedure.Capital(strings.Join(parts, ", "))
}

func takesText(t Takes) string {
	text := countOf(t.Clean, "clean demonstration", "clean demonstrations")
	switch {
	case t.Clean > 1 && t.Days == t.Clean:
		text += ", each on its own day"
	case t.Days > 1:
		text += fmt.Sprintf(", on %d different days", t.Days)
	}
	if t.Preceptors > 1 {
		text += fmt.Sprintf(", watched by %d different people", t.Preceptors)
	}
	switch t.Again {
	case AgainAll:
		text += "; every module passed again"
	case AgainMissed:
		text += "; modules passed again that train what was missed since"
	}
	return text
}

func intervalText(t Terms) string {
	text := countOf(t.IntervalMonths, "month", "months") + " after a sign-off"
	if t.EarlyDays > 0 {
		text += "; a renewal in the last " + countOf(t.EarlyDays, "day", "days") + " keeps the anniversary, an earlier one runs from its own day"
	}
	return text
}

func aloneText(a Alone) string {
	var may, not []string
	for _, x := range []struct {
		on   bool
		text string
	}{{a.Due, "due"}, {a.OnPlan, "on a plan"}, {a.Lapsed, "lapsed"}, {a.Elsewhere, "signed off at another site only"}} {
		if x.on {
			may = append(may, x.text)
		} else {
			not = append(not, x.text)
		}
	}
	text := "While current"
	if len(may) > 0 {
		text += ", and while " + strings.Join(may, " or ")
	}
	if len(not) > 0 {
		text += "; not while " + strings.Join(not, " or ")
	}
	return text
}

func signerRule(s Signer) string {
	for _, c := range Signers {
		if c.Value == s {
			return c.Text
		}
	}
	return string(s)
}

// Lines are terms in words.
func (t Terms) Lines() []TermLine {
	first := takesText(t.First) + "; every module passed once"
	if t.HireDays > 0 {
		first += "; not before " + countOf(t.HireDays, "day", "days") + " after the hire"
	}
	return []TermLine{
		{Term: "Who needs it", Text: needsText(t.Needs)},
		{Term: "First sign-off", Text: first},
		{Term: "Each later one, in time", Text: takesText(t.Annual)},
		{Term: "After a lapse", Text: takesText(t.Lapsed)},
		{Term: "After a change of the procedure", Text: takesText(t.Change)},
		{Term: "Due again", Text: intervalText(t)},
		{Term: "“Due” is shown", Text: countOf(t.NoticeDays, "day", "days") + " before"},
		{Term: "Who may sign off", Text: signerRule(t.Signer)},
		{Term: "May work alone", Text: aloneText(t.Alone)},
	}
}
