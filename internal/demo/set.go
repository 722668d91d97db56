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
	if v, ok := f.approved(saving, "What we do beyond the published demands, gone through row by row and confirmed."); ok {
		f.follows(v) // nothing: it is what everybody did before
	}
}

// approved has the educator propose a set and enter the approval that she was given on paper.
func (f *filler) approved(saving training.SetSaving, why string) (v training.SetVersion, ok bool) {
	f.signIn(educatorNo)
	educator := f.as(educatorNo)
	d, err := f.service.SaveSetDraft(f.ctx, educator, f.key(), saving)
	if !f.ok(err) {
		return v, false
	}
	if v, err = f.service.ProposeSet(f.ctx, educator, f.key(), d.Revision, why); !f.ok(err) {
		return v, false
	}
	today := f.service.Today()
	_, err = f.service.ApproveSet(f.ctx, educator, f.key(), training.SetApproving{Version: v.Number, Hash: v.Hash, From: today,
		Approval: training.Approval{How: training.ApprovedPaper, By: director, Role: directorRole, On: today, Where: minutes}}, training.DemoPassword, training.SecondPerson{})
	return v, f.ok(err)
}

// follows has the educator say what follows from a version.
func (f *filler) follows(v training.SetVersion, chosen ...training.Chosen) {
	_, err := f.service.ConfirmFollowUp(f.ctx, f.as(educatorNo), f.key(), v.Number, chosen)
	f.ok(err)
}

// renameSurface is a change of this year, which everybody has to read.
func renameSurface(f *filler) {
	if f.LoadSet == nil {
		return
	}
	sets, err := f.service.Sets(f.ctx, f.as(educatorNo))
	if !f.ok(err) {
		return
	}
	files, err := f.service.SetFiles(f.ctx, f.as(educatorNo), sets.InForce)
	if !f.ok(err) {
		return
	}
	saving, err := f.RenamedSet(files)
	if !f.ok(err) {
		return
	}
	saving.Revision = sets.Draft.Revision
	v, ok := f.approved(saving, "The counter is called the shelf by everybody; now the checklist does too.")
	if !ok {
		return
	}
	by := f.service.Today().AddDays(daysToRead)
	f.follows(v, training.Chosen{Role: training.Trainee, Kind: training.ReadDuty, Due: by}, training.Chosen{Role: training.Preceptor, Kind: training.ReadDuty, Due: by})
}

// daysToRead is how long the invented people have to read what changed.
const daysToRead = 8

// reads has somebody sign that they have read what changed.
func reads(number string) func(*filler) {
	return func(f *filler) {
		if f.LoadSet == nil {
			return
		}
		who := f.as(number)
		duties, err := f.service.DutiesOf(f.ctx, who, who.Person.ID)
		if !f.ok(err) {
			return
		}
		for _, d := range duties {
			if d.Kind != training.ReadDuty {
				continue
			}
			_, err := f.service.AcknowledgeDuty(f.ctx, who, f.key(), d.ID, training.DemoPassword)
			f.ok(err)
		}
	}
}
