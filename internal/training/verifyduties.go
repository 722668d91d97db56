package training

import (
	"cmp"
	"context"
	"slices"
)

// followUps compares leaves of what follows from versions with their rows.
func (v *verifier) followUps(ctx context.Context, leaves []StoredLeaf) error {
	rows, err := v.r.FollowUps(ctx, 0)
	if err != nil {
		return err
	}
	duties, err := v.r.Duties(ctx, DutyQuery{Versions: true})
	if err != nil {
		return err
	}
	for _, l := range leaves {
		at := slices.IndexFunc(rows, func(f FollowUp) bool { return f.Leaf == l.Leaf })
		if at < 0 {
			v.gone(l)
			continue
		}
		f := rows[at]
		v.compare(l, f.Record(), f.At, followUpFields(f, ofFollowUp(duties, f)), nil)
	}
	return nil
}

// ofFollowUp are the duties that came with a follow-up, as they are signed: by their ids.
func ofFollowUp(duties []Duty, f FollowUp) (of []Duty) {
	for _, d := range duties {
		if d.Version == f.Version && d.FollowUp == f.Seq {
			of = append(of, d)
		}
	}
	slices.SortFunc(of, func(a, b Duty) int { return cmp.Compare(a.ID, b.ID) })
	return of
}

// dutyActs compares leaves of how duties ended, or got another day, with their rows.
func (v *verifier) dutyActs(ctx context.Context, leaves []StoredLeaf) error {
	duties, err := v.r.Duties(ctx, DutyQuery{Versions: true})
	if err != nil {
		return err
	}
	for _, l := range leaves {
		if !v.dutyAct(l, duties) {
			v.gone(l)
		}
	}
	return nil
}

// dutyAct compares one of them; false when no row has it.
func (v *verifier) dutyAct(l StoredLeaf, duties []Duty) bool {
	for _, d := range duties {
		if d.End.Ended != "" && d.End.Leaf == l.Leaf {
			v.compare(l, d.ID, d.End.At, dutyEndFields(d, d.End), nil)
			return true
		}
		for i, x := range d.Dates {
			if x.Leaf == l.Leaf && x.Seq == i+1 {
				v.compare(l, d.ID, x.At, dutyDateFields(d, x), nil)
				return true
			}
		}
	}
	return false
}

// assignments compares leaves of what was asked of people, or taken back, with their rows.
func (v *verifier) assignments(ctx context.Context, leaves []StoredLeaf) error {
	all, err := v.r.AssignmentsAt(ctx, leafNumbers(leaves))
	if err != nil {
		return err
	}
	of := map[int64]row{}
	for _, a := range all {
		of[a.Leaf] = row{a.Leaf, a.ID, a.At, assignmentFields(a)}
		for _, e := range a.Ends {
			of[e.Leaf] = row{e.Leaf, a.ID, e.At, assignmentEndFields(a, e)}
		}
	}
	v.beside(func(t *told) {
		for _, l := range leaves {
			if r, ok := of[l.Leaf]; ok {
				t.compare(l, r.id, r.at, r.of, nil)
			} else {
				t.gone(l)
			}
		}
	})
	return nil
}
