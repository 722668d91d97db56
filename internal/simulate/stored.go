package simulate

import (
	"bytes"
	"encoding/json"
	"fmt"

	"stillwet/internal/action"
	"stillwet/internal/procedure"
)

// scenarioText is a scenario as it is kept. Fields that come later are left out
// while they are zero, so that an unchanged scenario keeps its hash.
type scenarioText struct {
	ID, Title, Version, Kind, Procedure string
	Level                               int
	Story, Product                      string
	Start                               []string
	Steps                               []string
	Pace                                int
	Events                              []eventText `json:",omitempty"`
	Teaches                             string      `json:",omitempty"`
	Spoils                              string      `json:",omitempty"`
	Timed                               bool        `json:",omitempty"`
	Cues                                []string    `json:",omitempty"`
}

type eventText struct {
	AtMs  action.Millis `json:",omitzero"`
	After string        `json:",omitzero"`
	Act   string
}

// Seal gives the scenario its text and hash.
func (s *Scenario) Seal() error {
	t := scenarioText{ID: s.ID, Title: s.Title, Version: s.Version, Kind: string(s.Kind), Procedure: s.Procedure, Level: s.Level,
		Story: s.Story, Product: s.Product, Start: []string{}, Steps: s.Steps, Pace: s.Pace, Teaches: s.Teaches,
		Spoils: s.Spoils, Timed: s.Timed, Cues: s.Cues}
	for _, a := range s.Start {
		t.Start = append(t.Start, a.Text())
	}
	for _, e := range s.Events {
		t.Events = append(t.Events, eventText{max(0, e.At), e.After, e.Act.Text()})
	}
	var err error
	if s.Text, err = json.Marshal(t); err != nil {
		return fmt.Errorf("scenario %s: %w", s.ID, err)
	}
	s.Hash = procedure.Digest(s.Text)
	return nil
}

const maxText = 1 << 20

// StoredScenario reads a scenario as it is kept. It has no model. The hash is
// that of the text as given.
func StoredScenario(text []byte) (*Scenario, error) {
	if len(text) > maxText {
		return nil, fmt.Errorf("the stored scenario is larger than %d bytes", maxText)
	}
	if !json.Valid(text) {
		return nil, fmt.Errorf("the stored scenario is no JSON, or more than one thing")
	}
	var t scenarioText
	dec := json.NewDecoder(bytes.NewReader(text))
	dec.DisallowUnknownFields()
	if err := dec.Decode(&t); err != nil {
		return nil, fmt.Errorf("the stored scenario cannot be read: %w", err)
	}
	s := &Scenario{ID: t.ID, Title: t.Title, Version: t.Version, Kind: Kind(t.Kind), Procedure: t.Procedure, Level: t.Level,
		Story: t.Story, Product: t.Product, Steps: t.Steps, Pace: t.Pace, Teaches: t.Teaches, Text: bytes.Clone(text), Hash: procedure.Digest(text),
		Spoils: t.Spoils, Timed: t.Timed, Cues: t.Cues}
	for _, line := range t.Start {
		a, err := action.ParseAct(line, nil)
		if err != nil {
			return nil, fmt.Errorf("the stored scenario %q: %w", t.ID, err)
		}
		s.Start = append(s.Start, a)
	}
	for _, e := range t.Events {
		a, err := action.ParseAct(e.Act, nil)
		if err != nil {
			return nil, fmt.Errorf("the stored scenario %q: %w", t.ID, err)
		}
		event := Event{At: action.Untimed, After: e.After, Act: a}
		if e.After == "" {
			event.At = e.AtMs
		}
		s.Events = append(s.Events, event)
	}
	return s, nil
}
