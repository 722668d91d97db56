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
	_, present, err := s.subject(d.Competency, d.Procedure)
	if err != nil { // it is of another procedure by now, or that station is not offered any more
		_, present, err = s.subject(d.Competency, "")
	}
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

// definitions checks that each kept text is what its hash says.
func (v *verifier) definitions(ctx context.Context, r DefinitionReader) error {
	kept, err := r.Definitions(ctx)
	for _, d := range kept {
		if is := procedure.Digest(d.Text); is != d.Hash {
			v.fault("definition "+d.ID, "hash", "The text kept as %s has the hash %s.", d.Hash, is)
		}
	}
	return err
}
