package training

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"slices"
	"time"

	"stillwet/internal/ledger"
	"stillwet/internal/procedure"
)

// baselineRecord is what the baseline leaf is of.
const baselineRecord = "people"

// beginTime bounds the one time that everything of an earlier version gets its leaves.
const beginTime = 6 * time.Hour

// Begin ledgers what came about without anybody's act, before a server takes
// requests: what an earlier version had kept without leaves, the set that the clinic
// starts from, and requirements that are others than before.
func (s *Service) Begin(ctx context.Context) error {
	ctx, stop := context.WithTimeout(ctx, beginTime)
	defer stop()
	err := s.Records.Write(ctx, func(u Unit) error {
		people, err := u.People(ctx)
		if err != nil {
			return err
		}
		if len(people) > 0 {
			err = s.baseline(ctx, u, people)
		}
		if err == nil {
			err = s.startingPoint(ctx, u)
		}
		if err != nil || len(people) == 0 {
			return err
		}
		return s.ledgerRequirements(ctx, u)
	})
	if err != nil {
		return err
	}
	return s.Stock(ctx)
}

func (s *Service) ledgerRequirements(ctx context.Context, u Unit) error {
	r := s.requirements()
	latest, err := u.LatestLeaf(ctx, RequirementsLeaf)
	if err == nil && latest.Record == r.hash {
		return nil
	}
	if err != nil && !errors.Is(err, ErrNotFound) {
		return err
	}
	_, err = s.ledgered(ctx, u, LeafAbout{Kind: RequirementsLeaf, Record: r.hash, At: s.Now()}, ledger.Fields{"competencies": r.text})
	return err
}

type requirements struct{ text, hash string }

// requirements is what each competency takes, as one text.
func (s *Service) requirements() requirements {
	text, err := json.Marshal(s.Library.Competencies())
	if err != nil {
		return requirements{} // strings and numbers can always be written
	}
	return requirements{string(text), procedure.Digest(text)}
}

// baseline lists people, accounts and entitlements as they were found, once, and gives
// what was finished before a leaf each. A clinic that began with this version has
// leaves of its people already.
func (s *Service) baseline(ctx context.Context, u Unit, people []Person) error {
	_, err := u.LatestLeaf(ctx, PersonLeaf)
	if errors.Is(err, ErrNotFound) {
		_, err = u.LatestLeaf(ctx, BaselineLeaf)
	}
	if !errors.Is(err, ErrNotFound) {
		return err
	}
	f, err := foundFields(ctx, u, people)
	if err != nil {
		return err
	}
	if _, err := s.ledgered(ctx, u, LeafAbout{Kind: BaselineLeaf, Record: baselineRecord, At: s.Now()}, f); err != nil {
		return err
	}
	by := make(map[string]Person, len(people))
	for _, p := range people {
		by[p.ID] = p
	}
	of := earlier{u, by}
	if err := inBatches(ctx, u.UnledgeredAttempts, of.attempts); err != nil {
		return err
	}
	return inBatches(ctx, u.UnledgeredDemonstrations, of.demonstrations)
}

// foundFields lists what is there, each with its id.
func foundFields(ctx context.Context, r Reader, people []Person) (ledger.Fields, error) {
	rows, err := standingRows(ctx, r, people)
	list := func(of map[string]ledger.Fields) (all []ledger.Fields) {
		for _, id := range slices.Sorted(maps.Keys(of)) {
			of[id]["id"] = id
			all = append(all, of[id])
		}
		return all
	}
	return ledger.Fields{"found_people": list(rows.people), "found_accounts": list(rows.accounts), "found_entitlements": list(rows.entitlements)}, err
}

const foundBatch = 200

// earlier gives attempts and demonstrations of before their leaves. They are older than
// what was ledgered already, so the clock has no part in it.
type earlier struct {
	u      Unit
	people map[string]Person
}

func (f earlier) attempts(ctx context.Context, ids []string) error {
	attempts, err := f.u.WholeAttempts(ctx, ids)
	if err != nil {
		return err
	}
	for _, a := range attempts {
		if _, err := appendLeaf(ctx, f.u, aboutAttempt(a.Attempt, f.people[a.PersonID]), finishedFields(a)); err != nil {
			return err
		}
	}
	return nil
}

func (f earlier) demonstrations(ctx context.Context, ids []string) error {
	demonstrations, err := f.u.WholeDemonstrations(ctx, ids)
	if err != nil {
		return err
	}
	for _, d := range demonstrations {
		fields, err := demonstrationFields(d.Demonstration, d.Lines)
		if err != nil {
			return err
		}
		people := []Named{named(PartLearner, f.people[d.TraineeID]), named(PartPreceptor, f.people[d.PreceptorID])}
		if _, err := appendLeaf(ctx, f.u, LeafAbout{Kind: DemonstrationLeaf, Record: d.ID, At: d.EndedAt, People: people}, fields); err != nil {
			return err
		}
	}
	return nil
}

// inBatches goes through what has no leaf yet until nothing is left.
func inBatches(ctx context.Context, next func(context.Context, string, int) ([]string, error), do func(context.Context, []string) error) error {
	after := ""
	for {
		ids, err := next(ctx, after, foundBatch)
		if err != nil || len(ids) == 0 {
			return err
		}
		if err := do(ctx, ids); err != nil {
			return fmt.Errorf("give what was found its leaf: %w", err)
		}
		after = ids[len(ids)-1]
	}
}
