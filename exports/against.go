package exports

import (
	"bytes"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/xuri/excelize/v2"

	"stillwet/internal/training"
)

// Difference is a cell of a kept workbook that the records contradict.
type Difference struct{ Sheet, Cell, Was, Is string }

func (d Difference) String() string {
	if d.Was == "" {
		return fmt.Sprintf("%s lacks %s: the records have %s", d.Sheet, d.Cell, d.Is)
	}
	if d.Is == "" {
		return fmt.Sprintf("%s %s says %q, and the records have nothing there", d.Sheet, d.Cell, d.Was)
	}
	return fmt.Sprintf("%s %s says %q, and the records say %q", d.Sheet, d.Cell, d.Was, d.Is)
}

// Against compares a kept workbook with the records: its rows, those that are missing in it,
// and what it says of the ledger. a is the same year with the standings of the same day, ever
// what people were called in the ledger, by id. Columns and sheets that only one of the two has
// are passed over: they were added or dropped by a version.
func (k Kept) Against(a training.Annual, ever map[string][]training.Named) ([]Difference, error) {
	var b bytes.Buffer
	if err := Annual(&b, a); err != nil {
		return nil, err
	}
	now, err := Reread(&b)
	if err != nil {
		return nil, err
	}
	zone, err := time.LoadLocation(a.Zone)
	if err != nil {
		return nil, fmt.Errorf("workbook: time zone: %w", err)
	}
	all := append(k.odd, k.ledgerLines()...)
	all = append(all, k.countsOfRows()...)
	same := sameNames(ever)
	all = append(all, k.signOffs.against(now.signOffs, signedFor, func(title, was, is string) bool {
		return was == is || title == watchedTitle && same(title, was, is)
	})...)
	all = append(all, k.watched.against(now.watched, settled, exactly)...)
	all = append(all, k.standing.against(now.standing, k.standingOf(a), same)...)
	all = append(all, k.versions.against(now.versions, onceMade, exactly)...)
	return slices.Concat(all, k.moreAgainst(now, same), k.lackingVersions(a), k.missing(a, zone)), nil
}

// ledgerLines compares what the workbook says of the ledger with the signed head that
// stands beside it.
func (k Kept) ledgerLines() (all []Difference) {
	if k.Head == "" {
		return nil
	}
	lines := strings.SplitN(k.Head, "\n", 4)
	if len(lines) < 4 || k.size != lines[1] || k.root != lines[2] {
		all = append(all, Difference{k.headSheet, "Ledger size and root", k.size + ", " + k.root, "those of the signed head below them"})
	}
	return all
}

// countsOfRows compares the counts of the first sheet with the workbook's own standings,
// which are compared with the records. Earlier versions had none.
func (k Kept) countsOfRows() (all []Difference) {
	for _, c := range k.counts {
		n := 0
		for _, row := range k.standing.rows {
			if c.what == inAll || c.what == row["Standing"] || c.what == readyAgain && row[readyAgain] != "" {
				n++
			}
		}
		if is := strconv.Itoa(n); c.said != is {
			all = append(all, Difference{readMeName, c.what, c.said, is})
		}
	}
	return all
}

// isCounted reports whether a line of the first sheet says how many there are of something.
func isCounted(what string) bool {
	return what == inAll || what == readyAgain || slices.ContainsFunc(training.StandingWords, func(w training.StandingWord) bool { return what == w.Title() })
}

// signedBefore reports whether a leaf was in the ledger when the workbook was made.
func (k Kept) signedBefore(leaf int64) bool {
	size, err := strconv.ParseInt(k.size, 10, 64)
	return err == nil && leaf < size
}

// missing are records of before the workbook that are not in it.
func (k Kept) missing(a training.Annual, zone *time.Location) (all []Difference) {
	for _, o := range a.SignOffs {
		if _, ok := k.signOffs.rows[o.ID]; !ok && k.signedBefore(o.Leaf) {
			all = append(all, Difference{"Sign-offs", "a row that is not there", "", "a sign-off of " + a.People[o.PersonID].Name + " on " + o.On.Said()})
		}
	}
	for _, d := range a.Demonstrations {
		began := d.StartedAt.Time().In(zone)
		wall := time.Date(began.Year(), began.Month(), began.Day(), began.Hour(), began.Minute(), began.Second(), 0, time.UTC)
		if _, ok := k.watched.rows[d.ID]; !ok && wall.Before(k.made.Add(-time.Minute)) {
			all = append(all, Difference{"Demonstrations", "a row that is not there", "", "a demonstration of " + a.People[d.TraineeID].Name + " on " + d.StartedAt.Day(zone).Said()})
		}
	}
	return all
}

// exactly is for what shows people as they stood when it was signed.
func exactly(_, was, is string) bool { return was == is }

// A comparison says of two rows which columns of the kept one must still be so; nil is none,
// and that the row may be gone.
type comparison func(id string, was, is map[string]string) func(title string) bool

// While a demonstration waits for its signatures they may come, and with them the names as
// signed; while it is recorded all but its beginning.
var (
	bySigning   = []string{"Learner signed", "Preceptor signed", "What the preceptor signed", "Ledger nos.", toBeKnown, "Person", "Staff no.", "Preceptor"}
	ofRecording = []string{"Date", "Competency", "Product"}
)

// signedFor compares a sign-off, which can only be withdrawn.
func signedFor(_ string, was, is map[string]string) func(string) bool {
	since := withdrawnSince(was, is)
	return func(title string) bool { return title != toBeKnown || !since }
}

// withdrawnSince reports whether a record was withdrawn after the workbook was made.
func withdrawnSince(was, is map[string]string) bool {
	return strings.Contains(is[toBeKnown], withdrawnWords) && !strings.Contains(was[toBeKnown], withdrawnWords)
}

func settled(_ string, was, is map[string]string) func(string) bool {
	switch {
	case was["Preceptor signed"] != "": // what is signed can only be withdrawn
		since := withdrawnSince(was, is)
		return func(title string) bool { return title != toBeKnown || !since }
	case was["Result"] == "Still recording" && is["Result"] != was["Result"]:
		return func(title string) bool { return slices.Contains(ofRecording, title) }
	}
	return func(title string) bool { return !slices.Contains(bySigning, title) }
}

// standingOf compares what a standing rests on: the last sign-off. What was practised or
// watched on the very day of the workbook may have come after it.
func (k Kept) standingOf(a training.Annual) comparison {
	later := map[string]bool{} // people signed off on that day, after the workbook
	for _, o := range a.SignOffs {
		if o.On == k.AsOf && !k.signedBefore(o.Leaf) {
			later[o.PersonID] = true
		}
	}
	return func(_ string, was, is map[string]string) func(string) bool {
		if later[is["Person id"]] {
			return func(string) bool { return false }
		}
		onTheWay := slices.Contains(beforeSignOff, was["Standing"]) && slices.Contains(beforeSignOff, is["Standing"])
		return func(title string) bool {
			return slices.Contains([]string{"Person", "Staff no.", "Last sign-off", "Due", "Signed off by"}, title) || title == "Standing" && !onTheWay
		}
	}
}

// beforeSignOff are the standings between which a day's practice can move a person.
var beforeSignOff = []string{training.NotStarted.Title(), training.InTraining.Title(), training.ReadyToSign.Title()}

func (r rowsOf) against(now rowsOf, compare comparison, same sameText) (all []Difference) {
	for _, id := range r.ids {
		was := r.rows[id]
		is, ok := now.rows[id]
		counts := compare(id, was, is)
		if counts == nil {
			continue
		}
		if !ok {
			all = append(all, Difference{r.sheet, "row " + strconv.Itoa(r.at[id]), id, ""})
			continue
		}
		for c, title := range r.titles {
			if counts(title) && slices.Contains(now.titles, title) && !same(title, was[title], is[title]) {
				cell, err := excelize.CoordinatesToCellName(c+1, r.at[id])
				if err != nil {
					cell = title
				}
				all = append(all, Difference{r.sheet, cell + " (" + title + ")", was[title], is[title]})
			}
		}
	}
	return all
}
