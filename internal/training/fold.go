package training

import (
	"cmp"
	"slices"
	"time"

	"stillwet/internal/assess"
)

// History is what a person's standing follows from. Order does not matter;
// records of other competencies and of later days do not count. Enough is: of
// each scenario the first attempt that passed and the last, or any one when none did; of each
// competency the last sign-off and the clean demonstrations since, or before the
// first sign-off any that was neither abandoned nor withdrawn, and is no routine observation;
// the plans of demonstrations since; and all leaves, each as it was entered last.
type History struct {
	Attempts       []Attempt
	Demonstrations []Demonstration
	SignOffs       []SignOff
	Plans          []PlanSpan
	Absences       []Absence
	Working        bool // there is an unfinished draft
}

// PlanSpan is what a standing follows from of a plan: when its demonstration began, and when
// it was proposed, opened and closed by an educator ("" for not). That of a demonstration
// that was withdrawn is none.
type PlanSpan struct {
	PersonID, Competency            string
	Began, Proposed, Opened, Closed Instant
	Due                             Day      // by when it is to be practised, once it is open
	Scenarios                       []string // that train what was missed
}

// Fold works out where a person stands in a competency on a day, by the [Requirements]
// that hold on it.
//
//   - A sign-off holds until its due day, unless it was withdrawn. "due" begins NoticeDays before that
//     day and includes it; the day after it is "lapsed".
//   - Ready: every module was passed once, not in guided practice, those that are asked for
//     again once more, and there are enough clean demonstrations since the last sign-off, on
//     enough days of the clinic's zone and by enough preceptors ([tally]).
//   - Where each variant of the station is to be shown, all that is asked at each; those
//     beyond that at one count for no other.
//   - An opened plan lasts until a clean demonstration that begins after it was opened, until
//     an educator closes it, or until the next sign-off.
//   - "on leave" stands in place of due and lapsed while a leave lasts. After a leave on whose
//     last day it was due or lapsed, somebody has to check the person ([Standing.Unchecked]).
//   - Without a sign-off: "on a plan", "ready to sign" when ready, "in training" when
//     anything was begun, "not started" otherwise.
func Fold(p Person, c Competency, h History, today Day, zone *time.Location) Standing {
	st := Standing{Person: p, Competency: c, Requirements: c.Requirements(today)}
	terms := &st.Requirements.Terms
	before := today.End(zone)
	since := st.takeSignOff(h.SignOffs, today, before)
	takes := terms.takes(st.LastSignOff, st.Due, today)
	st.Takes, st.Needed = takes, takes.Clean*c.shown()
	clean, begun := st.cleanSince(h.Demonstrations, since, before)
	st.takeScenarios(h.Attempts, before, st.again(takes.Again, h.Plans, since, before))
	st.takeClean(clean, takes, zone)
	st.takePlan(h.Plans, clean, since, before)
	st.takeLeave(h.Absences, clean, today, before, zone)
	if st.LastSignOff == nil && p.Hired != "" && terms.HireDays > 0 {
		st.NotBefore = p.Hired.AddDays(terms.HireDays)
	}
	st.Ready = len(st.MissingScenarios) == 0 && st.Watched() && today >= st.NotBefore && st.Plan == nil
	st.Word = st.word(today, begun || h.Working || st.tried)
	return st
}

// word is the standing, by its precedence.
func (st *Standing) word(today Day, begun bool) StandingWord {
	lapsed := st.LastSignOff != nil && today > st.Due
	due := st.LastSignOff != nil && today >= st.noticed()
	st.DueAgain = lapsed || due
	switch {
	case lapsed && st.Leave != nil:
		return OnLeave
	case lapsed:
		return Lapsed
	case st.Plan != nil:
		return OnPlan
	case due && st.Leave != nil:
		return OnLeave
	case due:
		return DueSoon
	case st.LastSignOff != nil:
		return Current
	case st.Ready:
		return ReadyToSign
	case begun:
		return InTraining
	}
	return NotStarted
}

// noticed is the first day on which the next sign-off is due.
func (st *Standing) noticed() Day { return st.Due.AddDays(-st.Requirements.Terms.NoticeDays) }

// takeSignOff finds the latest sign-off up to a day; what counts for the next
// one began after it.
func (st *Standing) takeSignOff(all []SignOff, today Day, before Instant) (since Instant) {
	for i := range all {
		o := &all[i]
		if o.Competency != st.Competency.ID || o.On > today || o.SignedAt < since || o.End.by(before) || o.EnteredAt >= before {
			continue
		}
		st.LastSignOff, since = o, o.SignedAt
	}
	if st.LastSignOff != nil {
		st.Due = st.Competency.dueOf(st.LastSignOff, today)
	}
	return since
}

// again are the scenarios that are to be passed once more, each after a moment.
func (st *Standing) again(which Again, plans []PlanSpan, since, before Instant) map[string]Instant {
	if st.LastSignOff == nil || which == AgainNone {
		return nil
	}
	after := map[string]Instant{}
	switch which {
	case AgainAll:
		for _, id := range st.Competency.Scenarios {
			after[id] = since
		}
	case AgainMissed:
		for _, p := range plans {
			if p.Competency != st.Competency.ID || p.Began <= since || p.Proposed >= before {
				continue
			}
			for _, id := range p.Scenarios {
				after[id] = max(after[id], p.Began)
			}
		}
	}
	return after
}

func (st *Standing) takeScenarios(all []Attempt, before Instant, after map[string]Instant) {
	for _, id := range st.Competency.Scenarios {
		var found *Attempt // the first that passed, or the last where it is to be passed again
		_, again := after[id]
		for i := range all {
			a := &all[i]
			if a.ScenarioID != id || a.FinishedAt >= before {
				continue
			}
			st.tried = true
			if a.Guided || a.Outcome != assess.Pass || again && a.FinishedAt <= after[id] {
				continue
			}
			if found == nil || (a.FinishedAt < found.FinishedAt) != again {
				found = a
			}
		}
		if again {
			st.Again = append(st.Again, id)
		}
		if found == nil {
			st.MissingScenarios = append(st.MissingScenarios, id)
			continue
		}
		st.PassedScenarios = append(st.PassedScenarios, id)
		st.passing = append(st.passing, found.ID)
	}
}

// cleanSince are the clean demonstrations since the last sign-off, oldest first; begun says
// whether there was any that is anything to a standing.
func (st *Standing) cleanSince(all []Demonstration, since, before Instant) (clean []*Demonstration, begun bool) {
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
	sortClean(clean)
	return clean, begun
}

// takeClean takes those that count; where each station is to be shown, at each until all
// that is asked for is there.
func (st *Standing) takeClean(clean []*Demonstration, takes Takes, zone *time.Location) {
	if !st.Competency.EachVariant {
		st.takeAt(clean, newTally(takes), zone)
		return
	}
	for _, station := range st.Competency.Stations() {
		there := slices.DeleteFunc(slices.Clone(clean), func(d *Demonstration) bool { return d.Procedure != station })
		st.takeAt(there, newTally(takes), zone)
	}
	sortClean(st.Clean)
}

// takeAt takes those of one station, or of all.
func (st *Standing) takeAt(clean []*Demonstration, t *tally, zone *time.Location) {
	for _, d := range clean {
		if st.Competency.EachVariant && t.full() {
			break
		}
		if t.take(d.StartedAt.Day(zone), d.PreceptorID) {
			st.Clean = append(st.Clean, d)
		}
	}
	st.More = More{st.More.Clean + max(0, t.takes.Clean-t.n), max(st.More.Days, t.moreDays()), max(st.More.Preceptors, t.morePreceptors())}
}

func sortClean(clean []*Demonstration) {
	slices.SortFunc(clean, func(a, b *Demonstration) int {
		return cmp.Or(cmp.Compare(a.StartedAt, b.StartedAt), cmp.Compare(a.ID, b.ID))
	})
}

// takePlan finds the plan that is open at the end of a day, the newest of several.
func (st *Standing) takePlan(plans []PlanSpan, clean []*Demonstration, since, before Instant) {
	for i := range plans {
		p := &plans[i]
		if p.Competency != st.Competency.ID || p.Opened == "" || p.Opened >= before || p.Opened <= since || p.Closed != "" && p.Closed < before {
			continue
		}
		met := slices.ContainsFunc(clean, func(d *Demonstration) bool { return d.StartedAt > p.Opened })
		if !met && (st.Plan == nil || st.Plan.Opened < p.Opened) {
			st.Plan = p
		}
	}
}

// takeLeave finds the leave of a day, and the newest that ended before it, on whose last
// day the next sign-off was due and since which nothing was checked.
func (st *Standing) takeLeave(absences []Absence, clean []*Demonstration, today Day, before Instant, zone *time.Location) {
	for i := range absences {
		a := &absences[i]
		switch {
		case a.Cancelled || a.From > today || a.At >= before:
		case a.Until == "" || today <= a.Until:
			if st.Leave == nil || st.Leave.From > a.From {
				st.Leave = a
			}
		case st.LastSignOff != nil && st.LastSignOff.On < a.Until && st.noticed() <= a.Until && a.Until > st.Unchecked:
			st.Unchecked = a.Until
		}
	}
	if st.Unchecked != "" && slices.ContainsFunc(clean, func(d *Demonstration) bool { return d.StartedAt >= st.Unchecked.End(zone) }) {
		st.Unchecked = ""
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
