package training

import (
	"context"
	"fmt"
	"slices"

	"stillwet/internal/ledger"
)

// How many station observations a month a clinic may want, and wants before it says.
const (
	StartingTarget = 10
	MostTarget     = 500
)

// targetRecord is what the leaves of targets are of: a clinic has one.
const targetRecord = "observations-a-month"

// ObservationTarget is how many station observations a month the clinic wants: one version,
// which holds from the month in which it was made.
type ObservationTarget struct {
	Seq               int // from 1; 0 is the starting value, which is nobody's
	Monthly           int // 0: none is wanted
	At                Instant
	ByID, ByName, Why string
	Leaf              int64
}

// newestTarget is the last of the versions, and before the first the starting value.
func newestTarget(versions []ObservationTarget) ObservationTarget {
	if len(versions) == 0 {
		return ObservationTarget{Monthly: StartingTarget}
	}
	return versions[len(versions)-1]
}

// targetAt is the newest target of those that were made before a moment.
func targetAt(versions []ObservationTarget, before Instant) ObservationTarget {
	return newestTarget(slices.DeleteFunc(slices.Clone(versions), func(t ObservationTarget) bool { return t.At >= before }))
}

func targetFields(t ObservationTarget) ledger.Fields {
	return ledger.Fields{"seq": t.Seq, "monthly": t.Monthly, "by_id": t.ByID, "by_name": t.ByName, "why": t.Why}
}

// SetObservationTarget keeps another target, with why; seen is the version that was read, 0
// before the first. Months that are over keep the target that they had. Educators only.
func (s *Service) SetObservationTarget(ctx context.Context, actor Actor, key string, seen, monthly int, why string) error {
	if err := need(actor, Educator); err != nil {
		return err
	}
	a, err := ask(actor.Person.ID, key, "set the target of observations", seen, monthly, why)
	if err != nil {
		return err
	}
	before := func() (err error) {
		if monthly < 0 || monthly > MostTarget {
			return refuse(ErrInvalid, "The target is a whole number from 0 to %d. 0 is none.", MostTarget)
		}
		why, err = s.reason(why, "Say why: it is kept, and whoever asks later reads it.")
		return err
	}
	_, _, err = s.once(ctx, a, before, func(u Unit) (string, error) {
		versions, err := u.ObservationTargets(ctx)
		if err != nil {
			return "", err
		}
		now := newestTarget(versions)
		switch {
		case now.Seq != seen && now.Seq > 0:
			return "", refuse(ErrConflict, "%s changed the target meanwhile. Look at what holds now; nothing was changed.", now.ByName)
		case now.Seq != seen:
			return "", refuse(ErrConflict, "Nobody has changed the target yet. Load the page again.")
		case now.Monthly == monthly:
			return "", refuse(ErrInvalid, "The target is %d already.", monthly)
		}
		is := ObservationTarget{Seq: now.Seq + 1, Monthly: monthly, At: s.Now(), ByID: actor.Person.ID, ByName: actor.Person.Name, Why: why}
		about := LeafAbout{Kind: ObservationTargetLeaf, Record: targetRecord, At: is.At, People: []Named{named(PartBy, actor.Person)}}
		if is.Leaf, err = s.ledgered(ctx, u, about, targetFields(is)); err != nil {
			return "", err
		}
		return fmt.Sprint(is.Seq), u.AddObservationTarget(ctx, is)
	})
	return err
}
