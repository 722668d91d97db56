package training

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"strings"

	"stillwet/internal/assess"
)

// StationObservation is a routine observation: one turnover of one station that somebody
// watched. It counts for nobody, and one that names nobody stays so.
type StationObservation struct {
	ID, TraineeID, PreceptorID string // nobody is the trainee of one that names none
	Competency, Procedure      string
	StartedAt                  Instant
	Announced                  string // "yes", "no" or "" where nobody said
	Discipline, Shift          string
	Stage                      DemonstrationState
	Stopped                    bool // before the work was finished
	Prompted                   bool
	ResultJSON                 []byte // nil while it is not judged, and where it is not asked for
	Kept                       int64  // leaf of its keeping; 0 before
}

// ObservationQuery asks for observations by when they began.
type ObservationQuery struct {
	From, Before Instant
	Results      bool // with their results
}

// ObservationReader finds station observations and how many the clinic wants.
type ObservationReader interface {
	// StationObservations are of every stage, oldest first.
	StationObservations(ctx context.Context, q ObservationQuery) ([]StationObservation, error)
	// FirstObserved is when the first one of all began, "" before.
	FirstObserved(ctx context.Context) (Instant, error)
	// ReturnsWatched counts the return demonstrations that were judged and not withdrawn.
	ReturnsWatched(ctx context.Context, from, before Instant) (int, error)
	// ObservationTargets are all versions, oldest first.
	ObservationTargets(ctx context.Context) ([]ObservationTarget, error)
	ObservationTargetsAt(ctx context.Context, leaves []int64) ([]ObservationTarget, error)
}

// ObservationWriter keeps how many the clinic wants.
type ObservationWriter interface {
	AddObservationTarget(ctx context.Context, t ObservationTarget) error
}

// Counts reports whether an observation counts towards the month's target: its watcher has
// read and kept it, and it was watched to the end of the work.
func (o *StationObservation) Counts() bool { return o.Stage == Filed && !o.Stopped }

// Seen is what an observation showed as a whole.
type Seen string

// What it showed. One of which a step could not be seen, or that somebody prompted, is
// neither a success nor a miss, unless something was missed besides.
const (
	SeenRight   Seen = "all right"
	SeenMissed  Seen = "something missed"
	SeenUnknown Seen = "not all seen"
)

// ObservationRow is an observation that counts, with what it showed.
type ObservationRow struct {
	StationObservation
	Whole  Seen
	Marks  Rate     // marks that were met, of those that were met or missed
	Missed []string // titles of the marks that were missed
	Told   []string // what the breaches say

	lines    []assess.MarkLine
	surfaces []string // ids of those that a breach was on
}

// rowOf reads what an observation showed from its result as it was judged.
func rowOf(o StationObservation) (ObservationRow, error) {
	row := ObservationRow{StationObservation: o, Whole: SeenUnknown}
	result, err := assess.ParseResult(o.ResultJSON)
	if err != nil {
		return row, fmt.Errorf("observation %s: %w", o.ID, err)
	}
	row.lines = result.Marks.Lines
	open := false
	for _, l := range row.lines {
		switch l.Status {
		case assess.Met:
			row.Marks = row.Marks.plus(Rate{1, 1})
		case assess.Missed:
			row.Marks = row.Marks.plus(Rate{0, 1})
			row.Missed = append(row.Missed, l.Title)
		case assess.NotAssessed:
			open = true
		}
	}
	for _, f := range result.Breaches() {
		row.Told = append(row.Told, f.Message)
		for _, id := range append(slices.Clone(f.Surfaces), f.Surface) {
			if id != "" && !slices.Contains(row.surfaces, id) {
				row.surfaces = append(row.surfaces, id)
			}
		}
	}
	switch {
	case len(row.Missed)+len(row.Told) > 0:
		row.Whole = SeenMissed
	case !open && !o.Prompted && result.Marks.Result == assess.Pass:
		row.Whole = SeenRight
	}
	return row, nil
}

// ObservedTally counts observations that count. The two views have denominators of their
// own: of observations, and of marks.
type ObservedTally struct {
	Right, Missed, Unknown int
	Marks                  Rate
}

// N is how many there are, also those of which not all was seen.
func (t ObservedTally) N() int { return t.Right + t.Missed + t.Unknown }

// Whole is how many had every step right and every surface wet, of those of which that is
// known.
func (t ObservedTally) Whole() Rate { return Rate{t.Right, t.Right + t.Missed} }

func (t *ObservedTally) add(r ObservationRow) {
	*map[Seen]*int{SeenRight: &t.Right, SeenMissed: &t.Missed, SeenUnknown: &t.Unknown}[r.Whole]++
	t.Marks = t.Marks.plus(r.Marks)
}

// ShiftObserved is what was observed of one shift, "" where nobody said which.
type ShiftObserved struct {
	Shift string
	ObservedTally
}

// MissedMark is how often a mark was missed, of the observations that could show it.
type MissedMark struct {
	Title string
	Rate
}

// MissedSurface is in how many observations a breach was on a surface.
type MissedSurface struct {
	Title string
	N     int
}

// NotCounted is how many observations of a month do not count, and why not.
type NotCounted struct {
	Open      int // still being recorded
	Waiting   int // judged; whoever watched has not read and kept them
	Stopped   int // before the work was finished
	Withdrawn int
}

// ObservedMonth is a month's station observations, by the day on which each began in the
// clinic's zone.
type ObservedMonth struct {
	Month   Month
	Target  ObservationTarget // that held at its end, or holds now
	All     ObservedTally
	Shifts  []ShiftObserved  // by name; where nobody said which comes last
	Told    ObservedTally    // announced before
	Untold  ObservedTally    // not announced
	Unsaid  ObservedTally    // nobody said whether they were
	Rows    []ObservationRow // newest first
	Gone    []ObservationRow // that were kept and counted, and were withdrawn since
	Missed  []MissedMark     // most often first
	Places  []MissedSurface
	Beside  NotCounted
	Returns int // return demonstrations that were watched; they do not count
}

// Observing is the page of a month.
type Observing struct {
	ObservedMonth
	First    Month // of the first observation of all, "" before it
	This     Month
	Versions []ObservationTarget // newest first
	Names    map[string]string   // by id
}

// ObservedIn is a month's station observations; "" is this month. A month to come is
// refused. Educators and managers; who only reads numbers is given no single observation.
func (s *Service) ObservedIn(ctx context.Context, actor Actor, month string) (page Observing, err error) {
	if err := need(actor, Educator, Manager); err != nil {
		return page, err
	}
	page.This = s.Today().Month()
	if page.Month, err = ParseMonth(cmp.Or(month, string(page.This))); err != nil {
		return page, refuse(ErrInvalid, "%q is no month. Write it as 2026-03.", clip(month))
	}
	if page.Month > page.This {
		return page, refuse(ErrInvalid, "%s has not begun. Choose a month up to %s.", page.Month, page.This)
	}
	err = s.Records.Snapshot(ctx, func(r Reader) error { return s.observing(ctx, r, &page) })
	if !actor.Person.Has(Educator) {
		page.Rows, page.Names = nil, nil
	}
	return page, err
}

func (s *Service) observing(ctx context.Context, r Reader, page *Observing) error {
	from, before := page.Month.span(s.Zone())
	found, err := r.StationObservations(ctx, ObservationQuery{From: from, Before: before, Results: true})
	if err != nil {
		return err
	}
	targets, err := r.ObservationTargets(ctx)
	if err != nil {
		return err
	}
	if page.ObservedMonth, err = foldObserved(page.Month, found); err != nil {
		return err
	}
	page.Places = s.missedSurfaces(page.Rows)
	if page.Returns, err = r.ReturnsWatched(ctx, from, before); err != nil {
		return err
	}
	page.Target = targetAt(targets, before)
	page.Versions = targets
	slices.Reverse(page.Versions)
	first, err := r.FirstObserved(ctx)
	if err != nil {
		return err
	}
	page.First = first.Day(s.Zone()).Month()
	var ids []string
	for _, o := range page.Rows {
		ids = append(ids, o.PreceptorID, o.TraineeID)
	}
	page.Names, err = names(ctx, r, ids)
	return err
}

// observedFrom are the months from one day to another, each whole, the oldest first; none that
// lies before the first observation of all.
func (s *Service) observedFrom(ctx context.Context, r ObservationReader, from, to Day) (months []ObservedMonth, err error) {
	first, err := r.FirstObserved(ctx)
	if err != nil || first == "" {
		return nil, err
	}
	targets, err := r.ObservationTargets(ctx)
	if err != nil {
		return nil, err
	}
	for m := max(from.Month(), first.Day(s.Zone()).Month()); m <= to.Month(); m = m.Add(1) {
		from, before := m.span(s.Zone())
		found, err := r.StationObservations(ctx, ObservationQuery{From: from, Before: before, Results: true})
		if err != nil {
			return nil, err
		}
		month, err := foldObserved(m, found)
		if err != nil {
			return nil, err
		}
		month.Target = targetAt(targets, before)
		months = append(months, month)
	}
	return months, nil
}

// foldObserved puts a month's observations together.
func foldObserved(month Month, found []StationObservation) (m ObservedMonth, err error) {
	m.Month = month
	for i := range found {
		o := &found[i]
		if !o.Counts() {
			m.Beside.add(o)
		}
		if o.Kept == 0 || o.Stopped {
			continue
		}
		row, err := rowOf(*o)
		switch {
		case err != nil:
			return m, err
		case o.Counts():
			m.add(row)
		default:
			m.Gone = append(m.Gone, row)
		}
	}
	slices.SortStableFunc(m.Shifts, func(a, b ShiftObserved) int {
		if (a.Shift == "") != (b.Shift == "") {
			return cmp.Compare(b.Shift, a.Shift)
		}
		return cmp.Compare(strings.ToLower(a.Shift), strings.ToLower(b.Shift))
	})
	slices.Reverse(m.Rows)
	m.Missed = mostMissed(m.Rows)
	return m, nil
}

func (m *ObservedMonth) add(row ObservationRow) {
	m.Rows = append(m.Rows, row)
	m.All.add(row)
	map[string]*ObservedTally{"yes": &m.Told, "no": &m.Untold, "": &m.Unsaid}[row.Announced].add(row)
	i := slices.IndexFunc(m.Shifts, func(s ShiftObserved) bool { return sameWord(s.Shift, row.Shift) })
	if i < 0 {
		i = len(m.Shifts)
		m.Shifts = append(m.Shifts, ShiftObserved{Shift: strings.Join(strings.Fields(row.Shift), " ")})
	}
	m.Shifts[i].add(row)
}

func (n *NotCounted) add(o *StationObservation) {
	switch {
	case o.Stage == Withdrawn:
		n.Withdrawn++
	case o.Stage == Recording:
		n.Open++
	case o.Stage == Abandoned, o.Stopped:
		n.Stopped++
	default:
		n.Waiting++
	}
}

// mostMissed are the marks that were missed, each among the observations in which it was met
// or missed: what nobody could see, or had no occasion, says nothing of it.
func mostMissed(rows []ObservationRow) (all []MissedMark) {
	by := map[string]Rate{}
	for _, row := range rows {
		for _, l := range row.lines {
			switch l.Status {
			case assess.Met:
				by[l.Title] = by[l.Title].plus(Rate{0, 1})
			case assess.Missed:
				by[l.Title] = by[l.Title].plus(Rate{1, 1})
			}
		}
	}
	for title, r := range by {
		if r.K > 0 {
			all = append(all, MissedMark{title, r})
		}
	}
	slices.SortFunc(all, func(a, b MissedMark) int {
		return cmp.Or(cmp.Compare(b.K, a.K), cmp.Compare(a.N, b.N), cmp.Compare(a.Title, b.Title))
	})
	return all
}

// missedSurfaces are the surfaces with breaches, those of most observations first, by their
// present titles.
func (s *Service) missedSurfaces(rows []ObservationRow) (all []MissedSurface) {
	in, by := s.present(), map[string]int{}
	for _, row := range rows {
		p, known := in.Procedure(row.Procedure)
		for _, id := range row.surfaces {
			if known {
				id = p.Title(id)
			}
			by[id]++
		}
	}
	for title, n := range by {
		all = append(all, MissedSurface{title, n})
	}
	slices.SortFunc(all, func(a, b MissedSurface) int { return cmp.Or(cmp.Compare(b.N, a.N), cmp.Compare(a.Title, b.Title)) })
	return all
}

// ObservedCount is how many station observations of this month count, and the target.
type ObservedCount struct {
	Month  Month
	N      int
	Target int // 0 is none
}

// ObservedNow counts this month's observations, for the desk and for who watches. Preceptors,
// educators and managers.
func (s *Service) ObservedNow(ctx context.Context, actor Actor) (c ObservedCount, err error) {
	if err := need(actor, Preceptor, Educator, Manager); err != nil {
		return c, err
	}
	c.Month = s.Today().Month()
	from, before := c.Month.span(s.Zone())
	err = s.Records.Snapshot(ctx, func(r Reader) error {
		found, err := r.StationObservations(ctx, ObservationQuery{From: from, Before: before})
		if err != nil {
			return err
		}
		for i := range found {
			if found[i].Counts() {
				c.N++
			}
		}
		targets, err := r.ObservationTargets(ctx)
		c.Target = targetAt(targets, before).Monthly
		return err
	})
	return c, err
}
