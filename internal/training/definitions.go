package training

import (
	"context"
	"errors"
	"fmt"

	"stillwet/internal/procedure"
	"stillwet/internal/simulate"
)

// DefinitionKind is what a kept text defines.
type DefinitionKind string

// The kinds.
const (
	ProcedureText DefinitionKind = "procedure"
	ScenarioText  DefinitionKind = "scenario"
)

// Definition is the text of a procedure or scenario that a record cites, kept
// under its SHA-256 from the moment of the first record that did.
type Definition struct {
	Hash    string
	Kind    DefinitionKind
	ID      string
	CitedAt Instant
	Text    []byte
}

// Citation says that a record cites a definition. NotKept: it did so before
// texts were kept.
type Citation struct {
	Record   string // kind and id
	Kind     DefinitionKind
	ID, Hash string
	At       Instant
	NotKept  bool
}

// keepProcedure keeps what a record cites; at is the record's own moment.
func keepProcedure(ctx context.Context, u DefinitionWriter, p *procedure.Procedure, at Instant) error {
	return u.KeepDefinition(ctx, Definition{Hash: p.Hash, Kind: ProcedureText, ID: p.ID, CitedAt: at, Text: p.Text})
}

func keepScenario(ctx context.Context, u DefinitionWriter, sc *simulate.Scenario, at Instant) error {
	return u.KeepDefinition(ctx, Definition{Hash: sc.Hash, Kind: ScenarioText, ID: sc.ID, CitedAt: at, Text: sc.Text})
}

// CitedProcedure is the procedure that a record cites by its hash, as it was
// then: ErrNotFound when it was cited before texts were kept. Whoever may read
// the record may read it.
func (s *Service) CitedProcedure(ctx context.Context, hash string) (*procedure.Procedure, error) {
	return citedProcedure(ctx, s.Records, hash)
}

func citedProcedure(ctx context.Context, r DefinitionReader, hash string) (*procedure.Procedure, error) {
	text, err := cited(ctx, r, ProcedureText, hash)
	if err != nil {
		return nil, err
	}
	p, faults := procedure.Stored(text)
	if len(faults) > 0 {
		return nil, fmt.Errorf("the kept procedure %s: %w", hash, faults[0])
	}
	return p, nil
}

// CitedScenario is the scenario that an attempt cites by its hash.
func (s *Service) CitedScenario(ctx context.Context, hash string) (*simulate.Scenario, error) {
	text, err := cited(ctx, s.Records, ScenarioText, hash)
	if err != nil {
		return nil, err
	}
	return simulate.StoredScenario(text)
}

// begunUnder is the procedure that a demonstration was begun under: it is recorded
// and judged by that one, whatever has changed meanwhile. Where its text was not
// kept, the present one has to do.
func (s *Service) begunUnder(ctx context.Context, r DefinitionReader, d Demonstration) (*procedure.Procedure, error) {
	_, present, err := s.subject(d.Competency)
	if err == nil && present.Hash == d.ProcedureHash {
		return present, nil
	}
	p, then := citedProcedure(ctx, r, d.ProcedureHash)
	if errors.Is(then, ErrNotFound) {
		return present, err
	}
	return p, then
}

func cited(ctx context.Context, r DefinitionReader, kind DefinitionKind, hash string) ([]byte, error) {
	d, err := r.Definition(ctx, hash)
	if err == nil && d.Kind != kind {
		err = ErrNotFound
	}
	return d.Text, said(err, ErrNotFound, "The %s that this record was made with was not kept.", kind)
}

// definitions checks that each kept text is what its hash says, and that each
// text a record cites is kept.
func (v *verifier) definitions(ctx context.Context, r DefinitionReader) error {
	kept, err := r.Definitions(ctx)
	if err != nil {
		return err
	}
	citations, err := r.Citations(ctx)
	if err != nil {
		return err
	}
	by := map[string]Definition{}
	firsts := map[string]bool{}
	for _, c := range citations {
		firsts[c.Hash+" "+string(c.At)] = true
	}
	for _, d := range kept {
		by[d.Hash] = d
		record := "definition " + d.ID
		if is := procedure.Digest(d.Text); is != d.Hash {
			v.fault(record, "hash", "The text kept as %s has the hash %s.", d.Hash, is)
		}
		if !firsts[d.Hash+" "+string(d.CitedAt)] {
			v.fault(record, "cited_at", "It is said to be cited first at %s, and no record of that moment cites it.", d.CitedAt)
		}
	}
	told := map[string]bool{}
	for _, c := range citations {
		field := string(c.Kind)
		d, ok := by[c.Hash]
		if ok && d.Kind == c.Kind && d.ID == c.ID || c.NotKept {
			continue
		}
		if !ok {
			field += "_hash"
		}
		if text := fmt.Sprintf("The %s %s of hash %s, which it cites, is not kept.", c.Kind, c.ID, c.Hash); !told[text] {
			told[text] = true
			v.fault(c.Record, field, "%s", text)
		}
	}
	return nil
}
