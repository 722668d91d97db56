package training

import (
	"context"
	"fmt"
	"slices"

	"stillwet/internal/ledger"
)

// compareBatch is how many leaves of a kind are compared with their rows at once.
const compareBatch = 128

// take hands a leaf on to what it is of.
func (v *verifier) take(ctx context.Context, l StoredLeaf) error {
	switch l.Kind {
	case "":
		v.orphan(l)
		return nil
	case SignatureLeaf, SignOffLeaf, AttemptLeaf, DemonstrationLeaf, SetLeaf, FollowUpLeaf, DutyLeaf, ReviewLeaf, PlanLeaf, RequirementLeaf, AbsenceLeaf, EndLeaf, ItemLeaf, ItemEntryLeaf, EarlierLeaf, AssignmentLeaf, ObservationTargetLeaf:
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
	for _, kind := range []LeafKind{SignatureLeaf, SignOffLeaf, AttemptLeaf, DemonstrationLeaf, SetLeaf, FollowUpLeaf, DutyLeaf, ReviewLeaf, PlanLeaf, RequirementLeaf, AbsenceLeaf, EndLeaf, ItemLeaf, ItemEntryLeaf, EarlierLeaf, AssignmentLeaf, ObservationTargetLeaf, replayedLeaf} {
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
	case ReviewLeaf:
		return v.reviews(ctx, leaves)
	case PlanLeaf:
		return v.plans(ctx, leaves)
	case ItemLeaf:
		return compareRows(ctx, v, leaves, v.r.ItemVersionsAt, func(i Item) row { return row{i.Leaf, i.ID, i.At, itemFields(i)} })
	case EarlierLeaf:
		words := earlierWordsIn(leaves)
		return compareRows(ctx, v, leaves, v.r.EarlierAt, func(b EarlierBatch) row {
			if b.Words = EarlierWords; len(b.Lines) == 1 && words[b.Leaf] == OneEarlierWords {
				b.Words = OneEarlierWords
			}
			return row{b.Leaf, b.ID, b.At, earlierFields(b)}
		})
	case ItemEntryLeaf:
		return compareRows(ctx, v, leaves, v.r.ItemEntriesAt, func(e ItemEntry) row { return row{e.Leaf, e.ID, e.At, itemEntryFields(e)} })
	case ObservationTargetLeaf:
		return compareRows(ctx, v, leaves, v.r.ObservationTargetsAt, func(t ObservationTarget) row { return row{t.Leaf, targetRecord, t.At, targetFields(t)} })
	case EndLeaf:
		return compareRows(ctx, v, leaves, v.r.EndsAt, func(e End) row { return row{e.Leaf, e.Record, e.At, endFields(e)} })
	case RequirementLeaf:
		return v.requirements(ctx, leaves)
	case AbsenceLeaf:
		return v.absences(ctx, leaves)
	case AssignmentLeaf:
		return v.assignments(ctx, leaves)
	}
	for _, l := range leaves {
		v.replayed(l)
	}
	return nil
}

// earlierWordsIn are the words that leaves of earlier sign-offs say were signed: a single one was
// signed in the words of a list at first. What cannot be read is told where it is compared.
func earlierWordsIn(leaves []StoredLeaf) map[int64]string {
	words := map[int64]string{}
	for _, l := range leaves {
		if is, err := readLeaf(l.Bytes); err == nil {
			words[l.Leaf], _ = is.fields["words"].(string)
		}
	}
	return words
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
			as := d.At(endedAt)
			f, err := demonstrationFields(as, d.Lines)
			t.compare(l, d.ID, d.EndedAt, f, err)
			t.lines(l, as.Log, d.Lines)
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

// endedAt is the number of the event that ends a recording.
const endedAt = 2

// reviews compares leaves of what became of demonstrations with their events.
func (v *verifier) reviews(ctx context.Context, leaves []StoredLeaf) error {
	whole, err := wholeDemonstrations(ctx, v.r, recordIDs(leaves))
	if err != nil {
		return err
	}
	v.beside(func(t *told) {
		for _, l := range leaves {
			d, ok := whole[l.Record]
			i := slices.IndexFunc(d.Events, func(e DemonstrationEvent) bool { return e.Leaf == l.Leaf })
			if !ok || i < 0 {
				t.gone(l)
				continue
			}
			e := d.Events[i]
			f, err := eventFields(d.At(e.Seq), e, correctedBy(d.Corrections, e.Seq))
			t.compare(l, d.ID, e.At, f, err)
		}
	})
	return nil
}

// correctedBy are the corrections of an event.
func correctedBy(all []Correction, event int) (of []Correction) {
	for _, c := range all {
		if c.Event == event {
			of = append(of, c)
		}
	}
	return of
}

// plans compares leaves of what became of plans with their events.
func (v *verifier) plans(ctx context.Context, leaves []StoredLeaf) error {
	all, err := v.r.PlansAt(ctx, leafNumbers(leaves))
	if err != nil {
		return err
	}
	of := map[int64]Plan{}
	for _, p := range all {
		for _, e := range p.Events {
			of[e.Leaf] = p
		}
	}
	v.beside(func(t *told) {
		for _, l := range leaves {
			p, ok := of[l.Leaf]
			i := slices.IndexFunc(p.Events, func(e PlanEvent) bool { return e.Leaf == l.Leaf })
			if !ok || i < 0 {
				t.gone(l)
				continue
			}
			f, err := planFields(p, p.Events[i])
			t.compare(l, p.ID, p.Events[i].At, f, err)
		}
	})
	return nil
}

// row is what a leaf is made of again.
type row struct {
	leaf int64
	id   string
	at   Instant
	of   ledger.Fields
}

// compareRows compares leaves of which each has a row of its own.
func compareRows[T any](ctx context.Context, v *verifier, leaves []StoredLeaf, read func(context.Context, []int64) ([]T, error), turn func(T) row) error {
	all, err := read(ctx, leafNumbers(leaves))
	if err != nil {
		return err
	}
	of := map[int64]row{}
	for _, x := range all {
		r := turn(x)
		of[r.leaf] = r
	}
	v.beside(func(t *told) {
		for _, l := range leaves {
			r, ok := of[l.Leaf]
			if !ok {
				t.gone(l)
				continue
			}
			t.compare(l, r.id, r.at, r.of, nil)
		}
	})
	return nil
}

// requirements compares leaves of versions of requirements with their rows.
func (v *verifier) requirements(ctx context.Context, leaves []StoredLeaf) error {
	rows, err := v.r.RequirementsAt(ctx, leafNumbers(leaves))
	if err != nil {
		return err
	}
	v.beside(func(t *told) {
		for _, l := range leaves {
			i := slices.IndexFunc(rows, func(r Requirements) bool { return r.Leaf == l.Leaf })
			if i < 0 {
				t.gone(l)
				continue
			}
			f, err := requirementFields(rows[i])
			t.compare(l, rows[i].record(), rows[i].At, f, err)
		}
	})
	return nil
}

// absences compares leaves of what was entered of a leave with their rows.
func (v *verifier) absences(ctx context.Context, leaves []StoredLeaf) error {
	rows, err := v.r.AbsencesAt(ctx, leafNumbers(leaves))
	if err != nil {
		return err
	}
	v.beside(func(t *told) {
		for _, l := range leaves {
			i := slices.IndexFunc(rows, func(a Absence) bool { return a.Leaf == l.Leaf })
			if i < 0 {
				t.gone(l)
				continue
			}
			t.compare(l, rows[i].ID, rows[i].At, absenceFields(rows[i]), nil)
		}
	})
	return nil
}
