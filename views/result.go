package views

import (
	"cmp"
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"stillwet/internal/action"
	"stillwet/internal/assess"
	"stillwet/internal/procedure"
	"stillwet/internal/training"
)

// Result is what the engine said of one log, ready to be shown.
type Result struct {
	Result    *assess.Result
	Log       *action.Log
	Procedure *procedure.Procedure
	Spells    []assess.SurfaceSpells // of a log with a clock
	Steps     []int                  // for each act of the log the number of the step or tap it came from, 0 for what happened by itself; nil when acts are counted
	Sought    bool                   // the acts are rows of another's work, in which breaches were to be found
	Older     string                 // a sentence when it was judged by another version of the procedure
	Amend     string                 // address at which an act of the log is corrected, "" where none is
	Version   int                    // of the clinic's set, in force when the work began; 0 where there are none
}

// numbered is a finding with the number it has in the list, the picture, the
// timeline and the log.
type numbered struct {
	No string
	assess.Finding
	Surfaces []string // of a finding on surfaces: all those of which the same is said
}

// findings puts the worst first: critical ones, then other breaches, then advice; of
// each first what a rule finds for the first time, so that the three that stand open
// say three things, then by their place in the log; the end of the log comes last.
func (r Result) findings() []numbered {
	sorted := slices.Clone(r.Result.Findings)
	slices.SortStableFunc(sorted, func(a, b assess.Finding) int { return cmp.Compare(r.place(a), r.place(b)) })
	told := map[string]bool{}
	var groups [6][]assess.Finding
	for _, f := range sorted {
		group := 0
		switch {
		case f.Advice():
			group = 4
		case !f.Critical:
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
		x := together(same)
		x.No = strconv.Itoa(len(list) + 1)
		list = append(list, x)
	}
	return list
}

// together is one finding for all that say the same, with the surfaces of all.
func together(same []assess.Finding) numbered {
	x := numbered{Finding: same[0]}
	for _, f := range same {
		switch {
		case len(f.Surfaces) > 0:
			x.Surfaces = append(x.Surfaces, f.Surfaces...)
		case f.Surface != "":
			x.Surfaces = append(x.Surfaces, f.Surface)
		}
	}
	return x
}

// message is what is said, with the names of all its surfaces.
func (r Result) message(x numbered) string {
	what, _, found := strings.Cut(x.Message, ": ")
	if !found || len(x.Surfaces) < 2 || len(x.Finding.Surfaces) > 0 {
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

// when says at which step and time something was, and when again.
func (r Result) when(f assess.Finding) string {
	if r.Sought {
		return r.whenSought(f)
	}
	text := "at the end"
	if f.Act > 0 {
		text = r.stepOf(f.Act)
	}
	if f.AtS != nil {
		text += ", " + roundClock(action.Millis(*f.AtS*1000))
	}
	var again []string
	for _, act := range f.Acts[min(1, len(f.Acts)):] {
		if step := r.stepOf(act); step != r.stepOf(f.Act) && !slices.Contains(again, step) {
			again = append(again, step)
		}
	}
	if len(again) > 0 {
		text += "; again at " + shortList(again)
	}
	return text
}

// number is the number of an act's step as the person who did it counts them, 0 for
// what happened by itself.
func (r Result) number(act int) int {
	if act < 1 || act > len(r.Steps) {
		return act
	}
	return r.Steps[act-1]
}

// stepOf names the step of an act: "step 6", "after step 6" for what happened by
// itself.
func (r Result) stepOf(act int) string {
	if r.Sought {
		return fmt.Sprintf("row %d", act)
	}
	if n := r.number(act); n > 0 {
		return fmt.Sprintf("step %d", n)
	}
	for a := act; a > 0; a-- {
		if n := r.number(a); n > 0 {
			return fmt.Sprintf("after step %d", n)
		}
	}
	return "before the first step"
}

var actInChain = regexp.MustCompile(`\(act (\d+)\)`)

// travelled tells the way of a finding. Results that were stored before ways have it
// as text, with the numbers of acts.
func (r Result) travelled(f assess.Finding) string {
	if len(f.Way) > 0 {
		return r.sentenceOf(f.Way)
	}
	return actInChain.ReplaceAllStringFunc(strings.Join(f.Chain, "; "), func(s string) string {
		act, err := strconv.Atoi(s[len("(act ") : len(s)-1])
		if err != nil {
			return s // too large a number to be one of ours
		}
		return "(" + r.stepOf(act) + ")"
	})
}

// sentenceOf tells how a contamination travelled, or one step of its way.
func (r Result) sentenceOf(way []assess.Hop) string {
	return assess.WaySentence(r.Procedure, way, func(act int) string {
		if r.number(act) == 0 {
			return r.stepOf(act)
		}
		return "at " + r.stepOf(act)
	})
}

// sentence is the result in one sentence.
func (r Result) sentence() string {
	m := r.Result.Marks
	breaches, critical, advice := tally(r.findings())
	marks := fmt.Sprintf("%d of %s", m.Met, count(m.Met+m.Missed, "mark", "marks"))
	switch {
	case m.Result == assess.Pass && breaches+advice == 0:
		return "Passed, with nothing to change: " + marks + "."
	case m.Result == assess.Pass && breaches == 0:
		return "Passed without a breach: " + marks + ", and " + count(advice, "piece", "pieces") + " of advice."
	case m.Result == assess.Pass:
		return "Passed with " + marks + ", and " + count(breaches, "breach", "breaches") + " to mend."
	case m.Result == assess.Incomplete && r.stopped() != "":
		return "Incomplete: the work was stopped before its end (" + r.stopped() + ")" + withBreaches(breaches) + "."
	case m.Result == assess.Incomplete && breaches == 0:
		return "Incomplete: something that must be seen could not be assessed."
	case m.Result == assess.Incomplete:
		return "Incomplete: something that must be seen could not be assessed" + withBreaches(breaches) + "."
	}
	text := "Not passed yet: " + count(breaches, "breach", "breaches")
	switch {
	case critical == 1 && breaches == 1:
		text += ", a critical one"
	case critical == 2 && breaches == 2:
		text += ", both critical"
	case critical > 0 && critical == breaches:
		text += ", all of them critical"
	case critical > 0:
		text += fmt.Sprintf(", %d of them critical", critical)
	}
	return text + "."
}

// scoreText is the score, and what passing takes.
func (r Result) scoreText() string {
	if r.stopped() != "" {
		return ""
	}
	m := r.Result.Marks
	return fmt.Sprintf("Score %s (%d of %s); passing takes %s and every critical mark.", percent(m.Score), m.Met, count(m.Met+m.Missed, "mark", "marks"), percent(m.Cut))
}

// judgedBy tells in the foot by what a result was judged.
func (f Frame) judgedBy(r Result) Frame {
	p := r.Procedure
	f.Judged = fmt.Sprintf("Judged by %s, version %s, rules version %d. Owner: %s; review by %s. Fingerprint %s", p.Definition.Title, p.Version, r.Result.RulesVersion, p.Owner, day(training.Day(p.ReviewBy)), short(r.Result.ProcedureHash))
	if r.Version > 0 {
		f.Judged += fmt.Sprintf(". In force then: version %d of the clinic's procedure", r.Version)
	}
	f.JudgedURL = ProcedureURL(p.ID, r.Result.ProcedureHash)
	return f
}

// tellsCritical reports whether the word tells findings apart: where all of them are
// critical, the sentence above says so.
func tellsCritical(list []numbered) bool {
	return slices.ContainsFunc(list, func(x numbered) bool { return !x.Critical })
}

func withBreaches(n int) string {
	switch n {
	case 0:
		return ""
	case 1:
		return ", and there is 1 breach"
	}
	return fmt.Sprintf(", and there are %d breaches", n)
}

// stopped is why the work was stopped before its end, "" when it was not.
func (r Result) stopped() string {
	for _, a := range r.Log.Live() {
		if a.Verb == action.Stopped {
			return reasonWords[a.Object]
		}
	}
	return ""
}

// shortList joins a few, and counts the rest.
func shortList(all []string) string {
	const most = 6
	if len(all) > most {
		return strings.Join(all[:most], ", ") + fmt.Sprintf(" and %d more times", len(all)-most)
	}
	return strings.Join(all, ", ")
}

// tally counts what the list shows.
func tally(list []numbered) (breaches, critical, advice int) {
	for _, f := range list {
		switch {
		case f.Advice():
			advice++
		case f.Critical:
			breaches, critical = breaches+1, critical+1
		default:
			breaches++
		}
	}
	return breaches, critical, advice
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

// kindOf names a finding in a word.
func kindOf(f assess.Finding) string {
	if f.Advice() {
		return "Advice"
	}
	return "Breach"
}

// line is one line of the log as it is shown.
type line struct {
	Act    int
	Number string // of its step; "" for a further act of one, or an event
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
	last := 0
	for i, a := range r.Log.Acts {
		if r.timed(a, live) {
			continue
		}
		n, text := "", r.words(a)
		if step := r.number(a.Number); step > 0 && step != last {
			n, last = strconv.Itoa(step), step
			text = cmp.Or(r.label(i), text)
		}
		l := line{Act: a.Number, Number: n, Time: roundClock(a.At), Text: text, Event: a.Verb.Event()}
		l.Gone = !live[a.Number] && a.Verb != action.Undone
		for _, f := range list {
			if f.Act == a.Number || slices.Contains(f.Acts, a.Number) {
				l.Refs = append(l.Refs, f.No)
			}
		}
		lines = append(lines, l)
	}
	return lines
}

// timed reports whether a line is only there because a rub or a wash was timed: its
// first tap, and the line that took that back. The text of the log has them.
func (r Result) timed(a action.Act, live map[int]bool) bool {
	if a.Verb == action.Undone && a.Undoes > 0 && a.Undoes <= len(r.Log.Acts) {
		a = r.Log.Acts[a.Undoes-1]
	}
	return (a.Verb == action.RubHands || a.Verb == action.WashHands) && !live[a.Number]
}

// label is what the button said that wrote the acts from act i on, "" when there is
// none that wrote just these.
func (r Result) label(i int) string {
	n := r.number(r.Log.Acts[i].Number)
	end := i
	for end < len(r.Log.Acts) && r.number(r.Log.Acts[end].Number) == n {
		end++
	}
	acts := r.Log.Acts[i:end]
	for _, s := range r.Procedure.Steps {
		if slices.EqualFunc(s.Acts, acts, func(x, y action.Act) bool {
			return x.Verb == y.Verb && x.Object == y.Object && x.Place == y.Place && x.Helper == y.Helper && (x.Of == y.Of || x.Of == procedure.Shelf)
		}) {
			return s.Label
		}
	}
	return ""
}

// words are an act's; what takes another back says which.
func (r Result) words(a action.Act) string {
	text := ActWords(r.Procedure, a)
	if a.Verb == action.Undone && a.Undoes > 0 && a.Undoes <= len(r.Log.Acts) {
		return text + ": " + procedure.Within(ActWords(r.Procedure, r.Log.Acts[a.Undoes-1]))
	}
	return text
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

// only keeps the breaches, or the advice.
func only(list []numbered, advice bool) (some []numbered) {
	for _, x := range list {
		if x.Advice() == advice {
			some = append(some, x)
		}
	}
	return some
}

// gap is what could not be assessed, under the words of its mark.
type gap struct{ title, text string }

// gaps are those that leave a mark open, each with its reason, or those that the
// clinic does not ask to see: of these the surfaces of one mark stand together.
func (r Result) gaps(unasked bool) (all []gap) {
	for _, g := range r.Result.NotAssessed {
		title, of := gapTitle(r, g)
		switch {
		case g.Unasked != unasked:
		case !unasked:
			if of != "" {
				title += ", " + of
			}
			all = append(all, gap{title, g.Reason})
		case of == "":
			all = append(all, gap{title, g.Reason})
		case len(all) > 0 && all[len(all)-1].title == title:
			all[len(all)-1].text += "; " + procedure.Within(of)
		default:
			all = append(all, gap{title, of})
		}
	}
	return all
}

// gapTitle names a gap by the mark sheet's words where it has them, and the surface or
// the equipment that it is of.
func gapTitle(r Result, g assess.Gap) (title, of string) {
	title = g.Rule
	for _, m := range r.Procedure.MarkSheet.Marks {
		if m.Rule == g.Rule && (m.Surface == "" || m.Surface == g.Surface) && (m.Worn == "" || m.Worn == g.Worn) {
			title = m.Title
			break
		}
	}
	switch {
	case g.Surface != "":
		of = r.Procedure.Title(g.Surface)
	case g.Worn != "":
		of = procedure.Capital(thing(r.Procedure, g.Worn))
	}
	return title, of
}

func noteText(r Result, n assess.Note) string {
	if n.Act == 0 {
		return n.Text
	}
	return procedure.Capital(r.stepOf(n.Act)) + ": " + n.Text
}

func short(hash string) string {
	if len(hash) > 12 {
		return hash[:12]
	}
	return hash
}

// restsOn is what a finding rests on. A row of the clinic's own that somebody confirmed rests
// on that, and has not to be confirmed any more.
func (r Result) restsOn(x assess.Finding) string {
	said := x.Source
	own := func(why string, b procedure.Basis, c procedure.Confirmed) {
		if b.Kind != procedure.Published && c.By != "" && why == x.Why && b.String() == x.Source {
			said = standing(b, c)
		}
	}
	for i := range r.Procedure.Order {
		own(r.Procedure.Order[i].Why, r.Procedure.Order[i].Basis, r.Procedure.Order[i].Confirmed)
	}
	for i := range r.Procedure.Closing {
		own(r.Procedure.Closing[i].Why, r.Procedure.Closing[i].Basis, r.Procedure.Closing[i].Confirmed)
	}
	return said
}
