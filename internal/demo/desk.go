package demo

import "stillwet/internal/training"

// observation is what a routine observation says of whose work it is, and when.
type observation struct {
	discipline string // "" names the person
	shift      string
	announced  bool
	unread     bool // whoever watched has not kept it yet
}

// setting is what is said before it begins.
func (o *observation) setting() training.Setting {
	s := training.Setting{Purpose: training.ForRoutine, Announced: "no", Discipline: o.discipline, Shift: o.shift}
	if o.announced {
		s.Announced = "yes"
	}
	return s
}

// observations are those of the last two weeks, in different shifts, and of the month before.
func observations() []event {
	seen := func(preceptor string, forgotten int, o observation) func(*filler) {
		return watched("0057", preceptor, watch{routine: &o, forgotten: forgotten})
	}
	return []event{
		{45, 11, seen("0015", 0, observation{discipline: "Technician", shift: "Early"})},
		{38, 16, seen("0021", 2, observation{discipline: "Nurse", shift: "Late"})},
		{15, 11, seen("0015", 1, observation{discipline: "Technician", shift: "Early"})},
		{13, 16, seen("0021", 0, observation{discipline: "Nurse", shift: "Late"})},
		{10, 12, seen("0021", 0, observation{discipline: "Technician", shift: "early"})},
		{8, 20, seen("0015", 2, observation{discipline: "Nurse", shift: "Night"})},
		{4, 12, seen("0021", 0, observation{shift: "Late", announced: true})},
		{3, 11, seen(preceptorNo, 0, observation{discipline: "Nurse", shift: "Early"})},
		{2, 16, seen("0015", 1, observation{discipline: "Technician"})},
		{1, 11, seen("0021", 0, observation{discipline: "Nurse", shift: "Late", unread: true})},
	}
}

// wantsObservations says how many a month are wanted.
func wantsObservations(f *filler) {
	f.ok(f.service.SetObservationTarget(f.ctx, f.as(educatorNo), f.key(), 0, 12, "Four of each shift, agreed with the medical director."))
}

// warnsEarlier has people be called due a month earlier than before.
func warnsEarlier(f *filler) {
	f.signIn(educatorNo) // it asks for the password again
	of, err := f.service.RequirementsFor(f.ctx, f.as(educatorNo), f.competency.ID)
	if !f.ok(err) {
		return
	}
	draft := of.Now
	draft.From, draft.Why = f.service.Today(), "A month was too short to find a day for everybody's new demonstration."
	draft.Terms.NoticeDays += 30
	_, err = f.service.ChangeRequirements(f.ctx, f.as(educatorNo), f.key(), of.Newest, draft)
	f.ok(err)
}

// goesOnLeave enters a leave that lasts, from so many days ago on.
func goesOnLeave(number string, daysAgo int) func(*filler) {
	return func(f *filler) {
		_, err := f.service.EnterAbsence(f.ctx, f.as(educatorNo), f.key(), training.Absence{PersonID: f.actors[number].Person.ID, From: f.dayAgo(daysAgo), Until: f.dayAgo(-40)})
		f.ok(err)
	}
}
