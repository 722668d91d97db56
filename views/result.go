package views

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"

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
	Older     bool                   // judged by another version of the procedure
}

// numbered is a finding with the number it has in the list, the picture, the
// timeline and the log.
type numbered struct {
	No string
	assess.Finding
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
	list := make([]numbered, 0, len(sorted))
	for _, f := range slices.Concat(groups[:]...) {
		list = append(list, numbered{strconv.Itoa(len(list) + 1), f})
	}
	return list
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
	m := r.Result.Marks
	points := fmt.Sprintf("%d of %s", m.Met, count(m.Met+m.Missed, "point", "points"))
	switch {
	case m.Result == assess.Pass && len(r.Result.Findings) == 0:
		return "Passed, with nothing to change: " + points + "."
	case m.Result == assess.Pass:
		return "Passed with " + points + ", and " + count(len(r.Result.Findings), "thing", "things") + " to do better."
	case m.Result == assess.Incomplete && len(r.Result.Findings) == 0:
		return "Incomplete: something that must be seen could not be assessed."
	case m.Result == assess.Incomplete:
		return "Incomplete: something that must be seen could not be assessed, and " + count(len(r.Result.Findings), "thing", "things") + " went wrong."
	}
	critical := 0
	for _, f := range r.Result.Findings {
		if f.Critical {
			critical++
		}
	}
	text := "Not passed yet: " + count(len(r.Result.Findings), "breach", "breaches")
	switch {
	case critical == 1 && len(r.Result.Findings) == 1:
		text += ", a critical one"
	case critical > 0 && critical == len(r.Result.Findings):
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
		if f.Surface == surface {
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
