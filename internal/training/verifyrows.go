package training

import (
	"context"
	"fmt"
)

// compareBatch is how many leaves of a kind are compared with their rows at once.
const compareBatch = 128

// take hands a leaf on to what it is of.
func (v *verifier) take(ctx context.Context, l StoredLeaf) error {
	switch l.Kind {
	case "":
		v.orphan(l)
		return nil
	case SignatureLeaf, SignOffLeaf, AttemptLeaf, DemonstrationLeaf, SetLeaf, FollowUpLeaf, DutyLeaf:
		v.waiting[l.Kind] = append(v.waiting[l.Kind], l)
	default: // these change one another's people and accounts, so they keep their order
		v.waiting[replayedLeaf] = append(v.waiting[replayedLeaf], l)
	}
	return v.flush(ctx, compareBatch)
}

// replayedLeaf stands for every kind of which rows keep only the outcome.
const replayedLeaf LeafKind = "replayed"

// orphan is a leaf that nothing says the record of.
func (v *verifier) orphan(l StoredLeaf) {
	is, err := readLeaf(l.Bytes)
	if err != nil {
		v.fault("ledger", fmt.Sprintf("leaf %d", l.Leaf), "Leaf %d cannot be read: %v.", l.Leaf, err)
		return
	}
	v.fault(titleOf(is.about()), "record", "Leaf %d is of it, and it is not among the records any more.", l.Leaf)
}

// flush compares what waits, of each kind that has so many.
func (v *verifier) flush(ctx context.Context, least int) error {
	for _, kind := range []LeafKind{SignatureLeaf, SignOffLeaf, AttemptLeaf, DemonstrationLeaf, SetLeaf, FollowUpLeaf, DutyLeaf, replayedLeaf} {
		leaves := v.waiting[kind]
		if len(leaves) < least {
			continue
		}
		v.waiting[kind] = nil
		if err := v.compareKind(ctx, kind, leaves); err != nil {
			return err
		}
	}
	return nil
}

func (v *verifier) compareKind(ctx context.Context, kind LeafKind, leaves []StoredLeaf) error {
	people, err := v.r.NamedAt(ctx, leafNumbers(leaves))
	if err != nil {
		return err
	}
	for i := range leaves {
		leaves[i].People = people[leaves[i].Leaf]
	}
	switch kind {
	case SignatureLeaf:
		return v.signatures(ctx, leaves)
	case SignOffLeaf:
		return v.signOffs(ctx, leaves)
	case AttemptLeaf:
		return v.attempts(ctx, leaves)
	case DemonstrationLeaf:
		return v.demonstrations(ctx, leaves)
	case SetLeaf:
		return v.setLeaves(ctx, leaves)
	case FollowUpLeaf:
		return v.followUps(ctx, leaves)
	case DutyLeaf:
		return v.dutyActs(ctx, leaves)
	}
	for _, l := range leaves {
		v.replayed(l)
	}
	return nil
}

func leafNumbers(leaves []StoredLeaf) []int64 {
	out := make([]int64, len(leaves))
	for i, l := range leaves {
		out[i] = l.Leaf
	}
	return out
}

func recordIDs(leaves []StoredLeaf) []string {
	out := make([]string, len(leaves))
	for i, l := range leaves {
		out[i] = l.Record
	}
	return out
}

func (v *verifier) signatures(ctx context.Context, leaves []StoredLeaf) error {
	rows, err := v.r.SignaturesAt(ctx, leafNumbers(leaves))
	if err != nil {
		return err
	}
	of := map[int64]Signature{}
	ids := recordIDs(leaves)
	for _, n := range rows {
		of[n.Leaf] = n
		ids = append(ids, n.Record)
	}
	whole, err := wholeDemonstrations(ctx, v.r, ids)
	if err != nil {
		return err
	}
	v.beside(func(t *told) {
		for _, l := range leaves {
			n, ok := of[l.Leaf]
			if !ok {
				t.gone(l)
				continue
			}
			d := whole[n.Record]
			f, err := signatureFields(d.Demonstration, d.Lines, n)
			t.compare(l, n.Record, n.SignedAt, f, err)
		}
	})
	return nil
}

func (v *verifier) demonstrations(ctx context.Context, leaves []StoredLeaf) error {
	whole, err := wholeDemonstrations(ctx, v.r, recordIDs(leaves))
	if err != nil {
		return err
	}
	v.beside(func(t *told) {
		for _, l := range leaves {
			d, ok := whole[l.Record]
			if !ok {
				t.gone(l)
				continue
			}
			f, err := demonstrationFields(d.Demonstration, d.Lines)
			t.compare(l, d.ID, d.EndedAt, f, err)
			t.lines(l, d)
		}
	})
	return nil
}

func (v *verifier) attempts(ctx context.Context, leaves []StoredLeaf) error {
	whole, err := wholeAttempts(ctx, v.r, recordIDs(leaves))
	if err != nil {
		return err
	}
	v.beside(func(t *told) {
		for _, l := range leaves {
			a, ok := whole[l.Record]
			if !ok {
				t.gone(l)
				continue
			}
			t.compare(l, a.ID, a.FinishedAt, finishedFields(a), nil)
		}
	})
	return nil
}

func (v *verifier) signOffs(ctx context.Context, leaves []StoredLeaf) error {
	rows, err := v.r.SignOffsAt(ctx, leafNumbers(leaves))
	if err != nil {
		return err
	}
	of := map[int64]SignOff{}
	var watched, practised []string
	for _, o := range rows {
		of[o.Leaf] = o
		watched, practised = append(watched, o.Demonstrations...), append(practised, o.Attempts...)
	}
	found, err := evidenceOf(ctx, v.r, watched, practised)
	if err != nil {
		return err
	}
	v.beside(func(t *told) {
		for _, l := range leaves {
			o, ok := of[l.Leaf]
			if !ok {
				t.gone(l)
				continue
			}
			f, err := found.signed(o)
			if err != nil {
				t.fault(titleOf(l.LeafAbout), "evidence", "Its evidence cannot be read: %v.", err)
				continue
			}
			t.compare(l, o.ID, o.SignedAt, f, nil)
		}
	})
	return nil
}
