package exports

import (
	"fmt"
	"slices"
	"strings"

	"stillwet/internal/assess"
	"stillwet/internal/training"
)

// Names of the sheets of single findings, of who may sign, and of what was put right.
const (
	findingsName     = "Findings"
	entitlementsName = "Entitlements"
	correctionsName  = "Corrections"
)

// told is what one demonstration was told once: a finding, or several that say the same of
// several surfaces.
type told struct {
	judged
	same []assess.Finding
	n    int // which of the demonstration's
}

// findings is what was missed in each demonstration of the period, and what was advised:
// as many breaches of each as the sheet of demonstrations counts.
func (b *book) findings(a training.Annual) error {
	demonstrations, err := judgedOf(a.Demonstrations)
	if err != nil {
		return err
	}
	type row = told
	return write(b, table[row]{name: findingsName, rows: toldOf(demonstrations), whose: []column[row]{
		{"Person", 18, text, func(f row) any { return asSigned(a, f.judged, training.PartLearner, f.TraineeID).Name }},
		{"Date", 12, date, func(f row) any { return day(f.StartedAt.Day(b.zone)) }},
	}, pages: [][]column[row]{{
		{"Kind", 14, strong, func(f row) any { return f.level() }},
		{"What was seen", 44, prose, func(f row) any { return f.words() }},
		{"Why it matters", 38, prose, func(f row) any { return f.same[0].Why }},
		{"Into the work", 9, text, func(f row) any { return f.when() }},
		{"How often", 8, count, func(f row) any { return f.often() }},
	}, {
		{"Competency", 30, text, func(f row) any { return a.Shown(f.Demonstration) }},
		{"Preceptor", 24, text, func(f row) any { return asSigned(a, f.judged, training.PartPreceptor, f.PreceptorID).Name }},
		{"Result", 18, strong, func(f row) any { return resultWords(f.judged) }},
		{"Prompted", 10.5, text, func(f row) any { return yes(f.Prompted) }},
	}}, keys: []column[row]{
		{"Rule", 22, id, func(f row) any { return f.same[0].Rule }},
		{"Finding id", 40, id, func(f row) any { return fmt.Sprintf("%s/%d", f.ID, f.n) }},
	}})
}

func toldOf(all []judged) (rows []told) {
	for _, d := range all {
		if d.result == nil {
			continue
		}
		for i, same := range assess.SaidOnce(d.result.Findings) {
			rows = append(rows, told{d, same, i + 1})
		}
	}
	return rows
}

func (f told) level() string {
	switch {
	case f.same[0].Advice():
		return "Advice"
	case slices.ContainsFunc(f.same, func(x assess.Finding) bool { return x.Critical }):
		return "Critical breach"
	}
	return "Breach"
}

// words are the findings' own sentences.
func (f told) words() string {
	lines := make([]string, len(f.same))
	for i, x := range f.same {
		lines[i] = x.Message
	}
	return strings.Join(lines, "\n")
}

// when is minutes and seconds since the work began, nothing of its end.
func (f told) when() any {
	if f.same[0].AtS == nil {
		return nil
	}
	s := int(*f.same[0].AtS)
	return fmt.Sprintf("%d:%02d", s/60, s%60)
}

func (f told) often() (n int) {
	for _, x := range f.same {
		n += max(1, x.Count)
	}
	return n
}

// entitlements is who might watch or sign off on a day of the period, and on whose word.
func (b *book) entitlements(a training.Annual) error {
	type row = training.Entitlement
	return write(b, table[row]{name: entitlementsName, rows: a.Entitlements, whose: []column[row]{
		{"Person", 18, text, func(e row) any { return a.People[e.PersonID].Name }},
	}, pages: [][]column[row]{{
		{"Competency", 20, text, func(e row) any { return a.Title(e.Competency) }},
		{"May", 16, prose, func(e row) any { return may(e) }},
		{"From", 12, date, func(e row) any { return day(e.From) }},
		{"Until", 12, date, func(e row) any { return day(e.Until) }},
		{"Credential", 14, text, func(e row) any { return e.Credential }},
		{"Granted by", 16, text, func(e row) any { return a.People[e.GrantedBy].Name }},
		{"Approved", 20, prose, func(e row) any { return approvedWords(e.Approval) }},
		{"Not current then: why", 18, prose, func(e row) any { return e.Founding }},
		{"Ended before", 20, prose, func(e row) any { return b.endWords(e.End) }},
	}}, keys: []column[row]{
		{"Entitlement id", 37, id, func(e row) any { return e.ID }},
	}})
}

func may(e training.Entitlement) string {
	var all []string
	if e.Watch {
		all = append(all, "watch")
	}
	if e.SignOff {
		all = append(all, "sign off")
	}
	return strings.Join(all, ", ")
}

func approvedWords(ap training.Approval) string {
	switch ap.How {
	case training.ApprovedHere:
		return "here, by " + ap.By
	case training.ApprovedPaper:
		return "on paper, by " + ap.By + " (" + ap.Role + "), " + ap.On.Said() + ": " + ap.Where
	case training.ApprovedAlone:
		return "nobody: there was no second educator"
	}
	return ""
}

// endWords says that a record holds no longer.
func (b *book) endWords(e training.End) string {
	if e.At == "" {
		return ""
	}
	return e.At.Day(b.zone).Said() + " by " + e.ByName + ": " + e.Why
}

// corrections is what was put right in the period; what it was of stays where it stands.
func (b *book) corrections(a training.Annual) error {
	type row = training.Corrected
	return write(b, table[row]{name: correctionsName, rows: a.Corrected, whose: []column[row]{
		{"Person", 20, text, func(c row) any { return a.People[c.PersonID].Name }},
	}, pages: [][]column[row]{{
		{"What", 24, strong, func(c row) any { return strings.ToUpper(string(c.What[:1])) + string(c.What[1:]) }},
		{"On", 12, date, func(c row) any { return day(c.At.Day(b.zone)) }},
		{"By", 18, text, func(c row) any { return c.ByName }},
		{"Why", 44, prose, func(c row) any { return c.Why }},
		{"Record of", 12, date, func(c row) any { return day(c.OfAt.Day(b.zone)) }},
		{"Competency or item", 22, text, func(c row) any { return a.Title(c.Competency) }},
	}}, keys: []column[row]{
		{ledgerNo, 9, count, func(c row) any { return c.Leaf }},
		{"Record id", 37, id, func(c row) any { return c.Record }},
	}})
}
