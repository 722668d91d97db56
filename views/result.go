package views

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"stillwet/internal/action"
	"stillwet/internal/assess"
	"stillwet/internal/procedure"
)

// Result is what the engine said of one log, ready to be shown.
type Result struct {
	Result    *assess.Result
	Log       *action.Log
	Procedure *procedure.Procedure
	Spells    []assess.SurfaceSpells // of a log with a clock
	Older     string                 // a sentence when it was judged by another version of the procedure
}

// numbered is a finding with the number it has in the list, the picture, the
// timeline and the log.
type numbered struct {
	No string
	assess.Finding
	Surfaces []string // of a finding on surfaces: all those of which the same is said
}

// findings puts the worst first: critical ones, then what a rule finds for the
// first time, so that the three that stand open say three things, then by their
// place in the log; the end of the log comes last.
func (r Result) findings() []numbered {
	sorted := slices.Clone(r.Result.Findings)
	slices.SortStableFunc(sorted, func(a, b assess.Finding) int { return cmp.Compare(r.place(a), r.place(b)) })
	told := map[string]bool{}
	var groups [4][]assess.Finding
	for _, f := range sorted {
		group := 0
		if !f.Critical {
			group = 2
		}
		if told[f.Rule] {
			group++
		}
		told[f.Rule] = true
		groups[group] = append(groups[group], f)
	}
	var list []numbered
	for _, same := range assess.SaidOnce(slices.Concat(groups[:]...)) {
		x := numbered{No: strconv.Itoa(len(list) + 1), Finding: same[0]}
		for _, f := range same {
			if f.Surface != "" {
				x.Surfaces = append(x.Surfaces, f.Surface)
			}
		}
		list = append(list, x)
	}
	return list
}

// message is what is said, with the names of all its surfaces.
func (r Result) message(x numbered) string {
	what, _, found := strings.Cut(x.Message, ":")
	if !found || len(x.Surfaces) < 2 {
		return x.Message
	}
	var names []string
	for _, id := range x.Surfaces {
		names = append(names, thing(r.Procedure, id))
	}
	return what + ": " + strings.Join(names, "; ") + "."
}

func (r Result) place(f assess.Finding) int {
	if f.Act == 0 {
		return len(r.Log.Acts) + 1
	}
	return f.Act
}

// when says at which act and time something was.
func (r Result) when(f assess.Finding) string {
	text := "at the end"
	if f.Act > 0 {
		text = fmt.Sprintf("line %d", f.Act)
	}
	if f.AtS != nil {
		text += ", " + roundClock(action.Millis(*f.AtS*1000))
	}
	return text
}

// sentence is the result in one sentence.
func (r Result) sentence() string {
	m, found := r.Result.Marks, r.findings()
	points := fmt.Sprintf("%d of %s", m.Met, count(m.Met+m.Missed, "point", "points"))
	switch {
	case m.Result == assess.Pass && len(found) == 0:
		return "Passed, with nothing to change: " + points + "."
	case m.Result == assess.Pass:
		return "Passed with " + points + ", and " + count(len(found), "thing", "things") + " to do better."
	case m.Result == assess.Incomplete && len(found) == 0:
		return "Incomplete: something that must be seen could not be assessed."
	case m.Result == assess.Incomplete:
		return "Incomplete: something that must be seen could not be assessed, and " + count(len(found), "thing", "things") + " went wrong."
	}
	critical := 0
	for _, f := range found {
		if f.Critical {
			critical++
		}
	}
	text := "Not passed yet: " + count(len(found), "breach", "breaches")
	switch {
	case critical == 1 && len(found) == 1:
		text += ", a critical one"
	case critical > 0 && critical == len(found):
		text += ", all of them critical"
	case critical > 0:
		text += fmt.Sprintf(", %d of them critical", critical)
	}
	return text + "."
}

// at collects the numbers of the findings on a surface; "" is the findings on
// no surface: hands, gloves and order.
func at(list []numbered, surface string) (nos []string) {
	for _, f := range list {
		if slices.Contains(f.Surfaces, surface) || surface == "" && len(f.Surfaces) == 0 {
			nos = append(nos, f.No)
		}
	}
	return nos
}

// line is one line of the log as it is shown.
type line struct {
	Number int
	Time   string
	Text   string
	Event  bool
	Gone   bool // taken back
	Refs   []string
}

func (r Result) lines(list []numbered) []line {
	live := map[int]bool{}
	for _, a := range r.Log.Live() {
		live[a.Number] = true
	}
	lines := make([]line, 0, len(r.Log.Acts))
	for _, a := range r.Log.Acts {
		l := line{Number: a.Number, Time: roundClock(a.At), Text: ActWords(r.Procedure, a), Event: a.Verb.Event()}
		l.Gone = !live[a.Number] && a.Verb != action.Undone
		for _, f := range list {
			if f.Act == a.Number {
				l.Refs = append(l.Refs, f.No)
			}
		}
		lines = append(lines, l)
	}
	return lines
}

func (r Result) clocked() bool { return r.Log.Witness.Has(action.Clock) }

// markText is what became of a mark, for people.
func markText(m assess.MarkLine) string {
	switch m.Status {
	case assess.NotApplicable:
		return "no occasion"
	}
	return string(m.Status)
}

// openFindings is how many findings are read at once; more would bury them.
const openFindings = 3

func notesID(r Result) string {
	if len(r.Result.NotAssessed) == 0 {
		return "gaps"
	}
	return "notes"
}

// gapTitle names a gap by the mark sheet's words where it has them.
func gapTitle(r Result, g assess.Gap) string {
	title := g.Rule
	for _, m := range r.Procedure.MarkSheet.Marks {
		if m.Rule == g.Rule && (m.Surface == "" || m.Surface == g.Surface) {
			title = m.Title
			break
		}
	}
	if g.Surface != "" {
		title += ", " + r.Procedure.Title(g.Surface)
	}
	return title
}

func noteText(r Result, n assess.Note) string {
	if n.Act == 0 {
		return n.Text
	}
	return "Line " + strconv.Itoa(n.Act) + ": " + n.Text
}

func short(hash string) string {
	if len(hash) > 12 {
		return hash[:12]
	}
	return hash
}

// Attempt is the result page of a scenario.
type Attempt struct {
	Result
	Title, Who, When string
	Pace             int
	Again            string
	Own              bool
}

func (a Attempt) kicker() string {
	text := a.Title + " · " + a.When
	if !a.Own {
		text = a.Who + " · " + text
	}
	if a.Pace > 1 {
		text += " · clock at " + strconv.Itoa(a.Pace) + " times the speed"
	}
	return text
}
