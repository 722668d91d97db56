package training

import (
	"cmp"
	"slices"
	"time"

	"stillwet/internal/assess"
)

// History is what a person's standing follows from. Order does not matter;
// records of other competencies and of later days do not count. Enough is: of
// each scenario the first attempt that passed, or any one when none did; of each
// competency the last sign-off and the clean demonstrations since, or before the
// first sign-off any that was neither abandoned nor withdrawn, and is no routine observation.
type History struct {
	Attempts       []Attempt
	Demonstrations []Demonstration
	SignOffs       []SignOff
	Working        bool // there is an unfinished draft
}

// Fold works out where a person stands in a competency on a day.
//
//   - A sign-off holds until its due day, unless it was withdrawn. "due" begins NoticeDays before that
//     day and includes it; the day after it is "lapsed".
//   - Ready: every module was passed once, not in guided practice, and there are enough clean
//     demonstrations since the last sign-off, each on a day of its own in the
//     clinic's zone (of two on one day the first counts).
//   - Where each variant of the station is to be shown, as many are asked at each; those
//     beyond that at one count for no other.
//   - Without a sign-off: "ready to sign" when ready, "in training" when
//     anything was begun, "not started" otherwise.
func Fold(p Person, c Competency, h History, today Day, zone *time.Location) Standing {
	st := Standing{Person: p, Competency: c, Needed: c.Demonstrations * c.shown()}
	before := today.End(zone)
	since := st.takeSignOff(h.SignOffs, today, before)
	st.takeScenarios(h.Attempts, before)
	begun := st.takeDemonstrations(h.Demonstrations, since, before, zone)
	st.Ready = len(st.MissingScenarios) == 0 && len(st.Clean) >= st.Needed
	switch {
	case st.LastSignOff != nil && today > st.Due:
		st.Word = Lapsed
	case st.LastSignOff != nil && today >= st.Due.AddDays(-c.NoticeDays):
		st.Word = DueSoon
	case st.LastSignOff != nil:
		st.Word = Current
	case st.Ready:
		st.Word = ReadyToSign
	case begun || h.Working || st.tried:
		st.Word = InTraining
	default:
		st.Word = NotStarted
	}
	return st
}

// takeSignOff finds the latest sign-off up to a day; what counts for the next
// one began after it.
func (st *Standing) takeSignOff(all []SignOff, today Day, before Instant) (since Instant) {
	for i := range all {
		o := &all[i]
		if o.Competency != st.Competency.ID || o.On > today || o.SignedAt < since || o.End.by(before) {
			continue
		}
		st.LastSignOff, st.Due, st.Needed, since = o, o.Due, st.Competency.Recheck*st.Competency.shown(), o.SignedAt
	}
	return since
}

func (st *Standing) takeScenarios(all []Attempt, before Instant) {
	for _, id := range st.Competency.Scenarios {
		var first *Attempt
		for i := range all {
			a := &all[i]
			if a.ScenarioID != id || a.FinishedAt >= before {
				continue
			}
			st.tried = true
			if a.Guided {
				continue
			}
			if a.Outcome == assess.Pass && (first == nil || a.FinishedAt < first.FinishedAt) {
				first = a
			}
		}
		if first == nil {
			st.MissingScenarios = append(st.MissingScenarios, id)
			continue
		}
		st.PassedScenarios = append(st.PassedScenarios, id)
		st.passing = append(st.passing, first.ID)
	}
}

func (st *Standing) takeDemonstrations(all []Demonstration, since, before Instant, zone *time.Location) (begun bool) {
	var clean []*Demonstration
	for i := range all {
		d := &all[i]
		if d.Competency != st.Competency.ID || d.StartedAt >= before || !d.counts() {
			continue
		}
		begun = true
		if d.Met() && d.StartedAt > since && d.signed(WatchedMet).SignedAt < before {
			clean = append(clean, d)
		}
	}
	slices.SortFunc(clean, func(a, b *Demonstration) int {
		return cmp.Or(cmp.Compare(a.StartedAt, b.StartedAt), cmp.Compare(a.ID, b.ID))
	})
	st.takeClean(clean, zone)
	return begun
}

// takeClean takes those that count, in their order: one a day, at each station where each
// is to be shown, and there no more than are asked.
func (st *Standing) takeClean(clean []*Demonstration, zone *time.Location) {
	last, taken, most := map[string]Day{}, map[string]int{}, st.Needed/st.Competency.shown()
	for _, d := range clean {
		station, day := "", d.StartedAt.Day(zone)
		if st.Competency.EachVariant {
			station = d.Procedure
			if !slices.Contains(st.Competency.Stations(), station) || taken[station] == most {
				continue
			}
		}
		if last[station] != day {
			st.Clean = append(st.Clean, d)
			last[station], taken[station] = day, taken[station]+1
		}
	}
}

// counts reports whether a demonstration is anything to somebody's standing.
func (d *Demonstration) counts() bool {
	return d.State != Abandoned && d.Stage != Withdrawn && d.Setting.Purpose != ForRoutine
}

// shown is at how many stations what is asked for is asked.
func (c *Competency) shown() int {
	if c.EachVariant {
		return len(c.Stations())
	}
	return 1
}
