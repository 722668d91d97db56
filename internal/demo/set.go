package demo

import "stillwet/internal/training"

// The invented people who had their say on the set.
const (
	director     = "Dr. Edwina Marsh-Tolliver"
	directorRole = "medical director"
	minutes      = "binder of the governing body, tab 4"
)

// startingSet is the set as the clinic began with it.
func startingSet(f *filler) {
	if f.LoadSet != nil {
		f.ok(f.service.Begin(f.ctx))
	}
}

// confirmSet has the educator confirm, as version 2, what rests on custom alone, and enter
// the approval that she was given on paper.
func confirmSet(f *filler) {
	if f.LoadSet == nil {
		return
	}
	saving, err := f.ConfirmedSet()
	if !f.ok(err) {
		return
	}
	educator := f.as(educatorNo)
	d, err := f.service.SaveSetDraft(f.ctx, educator, f.key(), saving)
	if !f.ok(err) {
		return
	}
	v, err := f.service.ProposeSet(f.ctx, educator, f.key(), d.Revision, "What we do beyond the published demands, gone through row by row and confirmed.")
	if !f.ok(err) {
		return
	}
	today := f.service.Today()
	_, err = f.service.ApproveSet(f.ctx, educator, f.key(), training.SetApproving{Version: v.Number, Hash: v.Hash, From: today,
		Approval: training.Approval{How: training.ApprovedPaper, By: director, Role: directorRole, On: today, Where: minutes}}, training.DemoPassword, training.SecondPerson{})
	f.ok(err)
}
