package training

import (
	"cmp"
	"context"
	"fmt"
	"slices"
)

// Effect is what a set would change of how stored work is judged, before it is approved.
// Nothing is changed by it: records keep the judgement they were made with.
type Effect struct {
	RecheckReport  // its Draft is the set's hash
	Attempts       EffectCount
	Demonstrations EffectCount
	Records        []EffectRecord // those that differ, signed ones first; the first mostEffects
}

// EffectCount is how many were looked at, how many would be judged otherwise, and how many
// of those are signed.
type EffectCount struct{ All, Different, Signed int }

// EffectRecord is one record that would be judged otherwise, and why.
type EffectRecord struct {
	Kind, ID string // attempt or demonstration
	Signed   bool
	Reasons  []string // "found now, wet-long-enough: ..."; the outcome first
}

// mostEffects is how many records are named; counts and groups are of all.
const mostEffects = 200

// Effect judges every stored log by what holds now and by a set, and tells where the two
// differ. What changed with earlier versions is not told again. The set is proved first.
func (s *Service) Effect(ctx context.Context, files map[string][]byte) (Effect, error) {
	ctx, stop := context.WithTimeout(ctx, recheckTime)
	defer stop()
	draft, err := s.loadSet(files)
	if err != nil {
		return Effect{}, err
	}
	r := s.rechecker()
	r.effect = &effect{draft: draft, now: s.present()}
	r.report.Draft = SetHash(files)
	err = s.Records.Snapshot(ctx, func(read Reader) error { return r.all(ctx, read) })
	all := Effect{r.finish(), r.effect.attempts, r.effect.demonstrations, r.effect.records}
	slices.SortFunc(all.Records, func(a, b EffectRecord) int {
		return cmp.Or(-cmp.Compare(btoi(a.Signed), btoi(b.Signed)), cmp.Compare(a.Kind, b.Kind), cmp.Compare(a.ID, b.ID))
	})
	all.Records = all.Records[:min(len(all.Records), mostEffects)]
	return all, err
}

func btoi(b bool) int {
	if b {
		return 1
	}
	return 0
}

// effect is a set beside what holds now.
type effect struct {
	draft, now               Library
	attempts, demonstrations EffectCount
	records                  []EffectRecord
}

// procedures says by what a log is judged, and with what it is compared.
func (e *effect) procedures(j *job) {
	var ok bool
	if j.by.p, ok = e.draft.Procedure(j.Procedure); !ok {
		j.by.why = fmt.Sprintf("there is no procedure %q in it", j.Procedure)
	}
	j.against, _ = e.now.Procedure(j.Procedure) // none: its stored result
}

func (e *effect) count(j *job, changes map[groupKey]string) {
	c := &e.attempts
	if j.Kind == "demonstration" {
		c = &e.demonstrations
	}
	c.All++
	if len(changes) == 0 {
		return
	}
	c.Different++
	if j.Signed {
		c.Signed++
	}
	rec := EffectRecord{Kind: j.Kind, ID: j.ID, Signed: j.Signed}
	for k, why := range changes {
		rec.Reasons = append(rec.Reasons, fmt.Sprintf("%d%s, %s: %s", slices.Index(kindOrder, k.kind), k.kind, k.what, why))
	}
	slices.Sort(rec.Reasons)
	for i := range rec.Reasons {
		rec.Reasons[i] = rec.Reasons[i][1:] // what they were ordered by
	}
	e.records = append(e.records, rec)
}
