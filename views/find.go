package views

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"stillwet/internal/action"
	"stillwet/internal/assess"
	"stillwet/internal/course"
	"stillwet/internal/procedure"
	"stillwet/internal/simulate"
	"stillwet/internal/training"
)

// Find is the page on which somebody looks on and marks what is wrong. Its acts say only
// how things look.
type Find struct {
	Scenario  *simulate.Scenario
	Procedure *procedure.Procedure
	Draft     training.Draft
	Acts      []course.Shown
	Told      []Told // of practice, at the rows that are marked
	Said      string
}

// Told is what practice says of a marked row, as the page and the script have it. Where
// nothing is wrong it is the text alone.
type Told struct {
	Row  int    `json:"row"`
	Text string `json:"text"`
	Why  string `json:"why,omitempty"`
	Next string `json:"next,omitempty"`
}

const foundIt = "You found it: "

const nothingWrong = "Nothing is wrong here: this may come now, and like this."

// ToldOf is what practice says, a line a finding.
func ToldOf(rows []training.RowTold) []Told {
	told := []Told{}
	for _, r := range rows {
		if len(r.Findings) == 0 {
			told = append(told, Told{Row: r.Row, Text: nothingWrong})
		}
		for _, f := range r.Findings {
			text := foundIt + f.Message
			if f.Advice() {
				text = "Advice, which costs nothing: " + f.Message
			}
			told = append(told, Told{r.Row, text, f.Why, f.Next})
		}
	}
	return told
}

func (x Find) worked() WorkedExample { return WorkedExample{x.Procedure, x.Acts} }

// player is what plays it; there is nothing to go on to.
func (x Find) player() WatchPart { return WatchPart{Procedure: x.Procedure, Example: x.Acts} }

func (x Find) kicker() string {
	if x.Draft.Guided {
		return "Practice · " + findTitle
	}
	return "Test · " + findTitle
}

func (x Find) marked(row int) bool { return slices.Contains(x.Draft.Steps, strconv.Itoa(row)) }

func (x Find) toldAt(row int) []Told {
	return slices.DeleteFunc(slices.Clone(x.Told), func(t Told) bool { return t.Row != row })
}

// hint is what is wrong at a row, in the part that hints have.
func (t Told) hint() Hint { return Hint{Row: t.Row, Message: t.Text, Why: t.Why, Next: t.Next} }

func markedText(n int) string { return strconv.Itoa(n) + " marked" }

// Rows are the rows that a plain form comes with, in their order.
func Rows(in map[string]string) (picks []string) {
	var rows []int
	for name := range in {
		if text, ok := strings.CutPrefix(name, rowField); ok {
			if n, err := strconv.Atoi(text); err == nil {
				rows = append(rows, n)
			}
		}
	}
	slices.Sort(rows)
	picks = []string{}
	for _, n := range rows {
		picks = append(picks, strconv.Itoa(n))
	}
	return picks
}

const rowField = "row-"

// Sought is the result page of a search.
type Sought struct {
	Attempt
	Picks []string
	Seen  []assess.Finding // the breaches that were found
}

// breaches are all that there was to find, by their rows.
func (x Sought) breaches() (list []numbered) {
	breaches := slices.Concat(x.Result.Result.Breaches(), x.Seen)
	slices.SortStableFunc(breaches, func(a, b assess.Finding) int { return cmp.Compare(a.Act, b.Act) })
	for i, same := range assess.SaidOnce(breaches) {
		n := together(same)
		n.No = strconv.Itoa(i + 1)
		list = append(list, n)
	}
	return list
}

// seen reports whether a breach was found.
func (x Sought) seen(n numbered) bool {
	return slices.ContainsFunc(x.Seen, func(f assess.Finding) bool {
		return f.Rule == n.Rule && f.Act == n.Act && f.Surface == n.Surface && f.Worn == n.Worn && f.Message == n.Message
	})
}

func (x Sought) wrong() []int { return x.Result.Result.Marks.WrongRows() }

// sentence is the result in one.
func (x Sought) sentence() string {
	list, found := x.breaches(), 0
	for _, n := range list {
		if x.seen(n) {
			found++
		}
	}
	who := "You found "
	if !x.Own {
		who = "Found: "
	}
	text := fmt.Sprintf("%s%d of %s", who, found, count(len(list), "breach", "breaches"))
	if n := len(x.wrong()); n > 0 {
		marked := ", and marked "
		if !x.Own {
			marked = "; marked: "
		}
		text += marked + count(n, "row", "rows") + " where nothing was wrong"
	}
	return text + "."
}

func (x Sought) lead() string { return x.Result.Result.Marks.Result.Words() + ". " + x.scoreText() }

// soughtRow is a row of the work as it was shown, with what became of it.
type soughtRow struct {
	line
	Marked, Wrong bool
}

func (x Sought) rows() (rows []soughtRow) {
	list, wrong := x.breaches(), x.wrong()
	for _, a := range x.Log.Acts {
		r := soughtRow{line: line{Number: strconv.Itoa(a.Number), Time: roundClock(a.At), Text: ActWords(x.Procedure, a), Event: a.Verb.Event()},
			Marked: slices.Contains(x.Picks, strconv.Itoa(a.Number)), Wrong: slices.Contains(wrong, a.Number)}
		for _, n := range list {
			if slices.Contains(assess.RowsOf(x.Log, []assess.Finding{n.Finding}), a.Number) {
				r.Refs = append(r.Refs, n.No)
			}
		}
		rows = append(rows, r)
	}
	return rows
}

// wrongRows are those that were marked with nothing wrong at them.
func (x Sought) wrongRows() []soughtRow {
	return slices.DeleteFunc(x.rows(), func(r soughtRow) bool { return !r.Wrong })
}

// rowsText names rows in a sentence.
func rowsText(rows []int) string {
	var all []string
	for _, n := range rows {
		all = append(all, strconv.Itoa(n))
	}
	if len(all) == 1 {
		return "row " + all[0]
	}
	return "rows " + strings.Join(all[:len(all)-1], ", ") + " and " + all[len(all)-1]
}

// whenSought names the rows of a finding, with the time of the first where there is one.
func (r Result) whenSought(f assess.Finding) string {
	rows := assess.RowsOf(r.Log, []assess.Finding{f})
	if len(rows) == 0 {
		return "at the end"
	}
	text := rowsText(rows)
	if a := r.Log.Acts[rows[0]-1]; a.At != action.Untimed {
		text += ", " + roundClock(a.At)
	}
	return text
}
