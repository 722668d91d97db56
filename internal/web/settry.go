package web

import (
	"crypto/rand"
	"strings"

	"stillwet/internal/action"
	"stillwet/internal/procedure"
	"stillwet/internal/simulate"
	"stillwet/internal/training"
	"stillwet/scenarios"
	"stillwet/views"
)

// A scenario is tried as somebody works on it, before anybody approves it: the order goes
// from page to page with the form, and nothing of it is kept.

// trial is a scenario of an order as it is worked on, also one that is hidden.
func (b *bench) trial(id string) (*simulate.Scenario, *procedure.Procedure, error) {
	shown, err := b.set.With(scenarios.Edit{Do: "show", List: "scenarios", Row: id})
	if err != nil {
		return nil, nil, problem{404, "There is no such scenario in the clinic's procedure."}
	}
	lib, err := shown.Load()
	if err != nil {
		return nil, nil, problem{409, "The draft has faults, so nothing of it can be tried yet. The page of the procedure says which."}
	}
	sc, ok := lib.Scenario(id)
	if !ok || sc.Kind != simulate.BuildOrder {
		return nil, nil, problem{404, "This scenario cannot be tried here: it rests, or it is not one in which an order is built."}
	}
	p, _ := lib.Procedure(sc.Procedure)
	return sc, p, nil
}

// onTrial finds the scenario of the address on the bench.
func (v *visit) onTrial(seed string) (*simulate.Scenario, *procedure.Procedure, *bench, error) {
	b, none, err := v.bench(outlined)
	if err != nil {
		return nil, nil, nil, err
	}
	if none {
		return nil, nil, nil, problem{404, "The clinic's set lies in no data file here, so nothing of it can be tried."}
	}
	sc, p, err := b.trial(v.Params("scenario"))
	if err != nil {
		return nil, nil, nil, err
	}
	return sc.Variant(seed), p, b, nil
}

// showTrial begins a trial: what varies is as in some try of a learner's.
func showTrial(v *visit) error {
	seed := strings.ToLower(rand.Text()[:16])
	sc, p, _, err := v.onTrial(seed)
	if err != nil {
		return err
	}
	return v.trialPage(views.Build{Scenario: sc, Procedure: p, Draft: training.Draft{Seed: seed}, After: -1})
}

func (v *visit) trialPage(b views.Build) error {
	b.Trial = views.TryURL(b.Scenario.ID)
	return v.page(200, views.BuildPage(v.frame(b.Scenario.Title, views.AtSet), b))
}

// tryScenario changes the order of a trial, or has it judged.
func tryScenario(v *visit) error {
	in, err := v.form("seed", "steps")
	if err != nil {
		return err
	}
	sc, p, b, err := v.onTrial(in["seed"])
	if err != nil {
		return err
	}
	steps := strings.Fields(in["steps"])
	if in["judge"] != "" {
		t := views.Trial{Scenario: sc.ID, Seed: in["seed"], Steps: steps, Read: views.ProcedureURL(p.ID, "")}
		if b.draft.Open {
			t.Read = views.ProcedureIn(p.ID, views.InDraft)
		}
		return v.judgeTrial(sc, p, t)
	}
	return v.changeTrial(in, views.Build{Scenario: sc, Procedure: p, Draft: training.Draft{Seed: in["seed"], Steps: steps}, After: -1, Area: in["area"]})
}

// changeTrial makes the change of a plain form.
func (v *visit) changeTrial(in map[string]string, b views.Build) error {
	if in["again"] == "" {
		change, err := readChange(in)
		if err != nil {
			return err
		}
		b.Was, b.WasAfter, b.Said = in["steps"], change.after, said[change.verb]
		b.Draft.Steps, b.After = change.apply(b.Draft.Steps)
	}
	if err := training.FitsOrder(b.Scenario, b.Draft.Steps); err != nil {
		return err
	}
	return v.trialPage(b)
}

func (v *visit) judgeTrial(sc *simulate.Scenario, p *procedure.Procedure, t views.Trial) error {
	tried, err := training.TryOrder(p, sc, t.Steps)
	if err != nil {
		return err
	}
	result := views.Result{Procedure: p, Result: tried.Result, Log: tried.Log, Steps: stepsFrom(tried.Lines)}
	if result.Log, err = action.Parse("trial", action.Format(tried.Log), p.Words); err != nil {
		return err
	}
	page := views.Attempt{Result: result, Title: sc.Title, Own: true, Trial: &t}
	return v.page(200, views.AttemptPage(v.frame("Trial: "+sc.Title, views.AtSet), page))
}
