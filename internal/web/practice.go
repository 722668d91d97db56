package web

import (
	"fmt"
	"strings"

	"stillwet/internal/action"
	"stillwet/internal/assess"
	"stillwet/internal/procedure"
	"stillwet/internal/simulate"
	"stillwet/internal/training"
	"stillwet/views"
)

func (s *server) scenarioTitle(id string) string {
	if sc, ok := s.Library.Scenario(id); ok {
		return sc.Title
	}
	return id
}

func practice(v *visit) error {
	home, err := v.Service.Home(v.ctx, v.actor)
	if err != nil {
		return err
	}
	duties, err := v.ownDuties()
	if err != nil {
		return err
	}
	plans, err := v.Service.PlansOf(v.ctx, v.actor, v.actor.Person.ID)
	if err != nil {
		return err
	}
	return v.page(200, views.PracticePage(v.frame("Practice", views.AtPractice), views.Practice{Home: home, Title: v.scenarioTitle, Duties: duties, Plans: plans}))
}

// onScenario finds the scenario of the address with its procedure.
func (v *visit) onScenario() (*simulate.Scenario, *procedure.Procedure, error) {
	sc, ok := v.Library.Scenario(v.Params("scenario"))
	if !ok {
		return nil, nil, problem{404, "There is no such scenario. Choose one on the practice page."}
	}
	p, err := v.procedureOf(sc.Procedure)
	return sc, p, err
}

// unfinished is the actor's unfinished work on a scenario, as guided practice or not as
// the address says; without such a word in it the one that there is.
func (v *visit) unfinished(id string) (open *training.Draft, guided bool, other bool, err error) {
	test, err := v.Service.Unfinished(v.ctx, v.actor, id, false)
	if err != nil {
		return nil, false, false, err
	}
	practised, err := v.Service.Unfinished(v.ctx, v.actor, id, true)
	if err != nil {
		return nil, false, false, err
	}
	guided = v.Query("guided") == "yes" || v.Query("guided") == "" && test == nil && practised != nil
	if guided {
		return practised, true, test != nil, nil
	}
	return test, false, practised != nil, nil
}

// scenario shows unfinished work where it was left, or the story before it.
func scenario(v *visit) error {
	sc, p, err := v.onScenario()
	if err != nil {
		return err
	}
	open, guided, other, err := v.unfinished(sc.ID)
	if err != nil {
		return err
	}
	if open == nil {
		return v.intro(sc, p, guided, other)
	}
	sc = sc.Variant(open.Seed)
	if sc.Kind == simulate.FindWrong {
		return v.find(sc, p, *open)
	}
	f := v.frame(sc.Title, views.AtPractice)
	if sc.Kind == simulate.TimedRun {
		f.Script = "run.js"
		return v.page(200, views.RunPage(f, views.Run{Scenario: sc, Procedure: p, Draft: *open, ElapsedMs: v.since(open.StartedAt)}))
	}
	f.Script = "build.js"
	b := views.Build{Scenario: sc, Procedure: p, Draft: *open, After: v.QueryInt("after", -1), Area: v.Query("area"),
		Was: v.Query("was"), WasAfter: v.QueryInt("was_after", -1), Said: said[v.Query("did")], AtEnd: v.Query("hints") == hintsAtEnd, Kept: v.Query("kept") == "yes"}
	if b.Hints, err = v.hints(p, *open); err != nil {
		return err
	}
	return v.page(200, views.BuildPage(f, b))
}

// hintsAtEnd is the choice of one who wants none before the end.
const hintsAtEnd = "end"

// hints are what the engine says of an order that is being practised, nil of a test.
func (v *visit) hints(p *procedure.Procedure, d training.Draft) ([]views.Hint, error) {
	found, err := v.Service.Hints(d)
	return views.Hints(p, found), err
}

// intro tells the story as the next try will have it.
func (v *visit) intro(sc *simulate.Scenario, p *procedure.Procedure, guided, other bool) error {
	next, err := v.Service.NextTry(v.ctx, v.actor, sc.ID, guided)
	if err != nil {
		return err
	}
	return v.page(200, views.IntroPage(v.frame(sc.Title, views.AtPractice), views.Intro{Scenario: next.Scenario, Procedure: p, Passed: next.Passed, Guided: guided, Other: other}))
}

// since is the milliseconds from a moment to now.
func (s *server) since(i training.Instant) int64 {
	return s.Service.Now().Time().Sub(i.Time()).Milliseconds()
}

func startScenario(v *visit) error {
	sc, _, err := v.onScenario()
	if err != nil {
		return err
	}
	in, err := v.form("key")
	if err != nil {
		return err
	}
	guided := in["guided"] == "yes"
	if sc.Kind == simulate.TimedRun {
		pace, err := number(in["pace"])
		if in["pace"] == "" {
			pace, err = 1, nil
		}
		if err != nil {
			return err
		}
		_, err = v.Service.StartRun(v.ctx, v.actor, in["key"], sc.ID, pace, guided)
		if err != nil {
			return err
		}
	} else if _, err := v.Service.OpenDraft(v.ctx, v.actor, sc.ID, guided); err != nil {
		return err
	}
	return v.goTo(views.AsURL(sc.ID, guided))
}

// savedSteps is the answer to a script that saved a build, or the rows that are marked.
type savedSteps struct {
	Revision int          `json:"revision"`
	Hints    []views.Hint `json:"hints,omitempty"`
	Told     []views.Told `json:"told,omitempty"`
}

// saveSteps saves a build: the whole list from a script, one change from a
// plain form; of a search all that is marked.
func saveSteps(v *visit) error {
	sc, p, err := v.onScenario()
	if err != nil {
		return err
	}
	switch find := sc.Kind == simulate.FindWrong; {
	case find && !wantsJSON(v.Ctx):
		return saveMarks(v, sc)
	case !wantsJSON(v.Ctx):
		return saveByForm(v, sc)
	}
	var in struct {
		Draft    string   `json:"draft"`
		Revision int      `json:"revision"`
		Steps    []string `json:"steps"`
	}
	if err := v.body(&in); err != nil {
		return err
	}
	d, err := v.Service.SaveSteps(v.ctx, v.actor, in.Draft, in.Revision, in.Steps)
	if err != nil {
		return err
	}
	hints, err := v.hints(p, d)
	if err != nil {
		return err
	}
	told, err := v.Service.Told(d)
	if err != nil {
		return err
	}
	saved := savedSteps{Revision: d.Revision, Hints: hints}
	if d.Guided && d.Kind == simulate.FindWrong {
		saved.Told = views.ToldOf(told)
	}
	return v.JSON(saved)
}

func saveByForm(v *visit, sc *simulate.Scenario) error {
	in, err := v.form("draft", "revision")
	if err != nil {
		return err
	}
	revision, err := number(in["revision"])
	if err != nil {
		return err
	}
	d, err := v.Service.Draft(v.ctx, v.actor, in["draft"])
	if err != nil {
		return err
	}
	change, err := readChange(in)
	if err != nil {
		return err
	}
	steps, after := change.apply(d.Steps)
	if _, err := v.Service.SaveSteps(v.ctx, v.actor, d.ID, revision, steps); err != nil {
		return err
	}
	was := strings.Join(d.Steps, " ")
	if len(was) > 1500 {
		was = "" // a longer address would be cut; the list itself is saved
	}
	return v.goTo(fmt.Sprintf("%s&did=%s&after=%d&was_after=%d&was=%s&hints=%s&area=%s#order", views.AsURL(sc.ID, d.Guided), change.verb, after, change.after,
		queryText(was), queryText(in["hints"]), queryText(in["area"])))
}

// finishIn is what a finished attempt comes with, from a form or a script.
type finishIn struct {
	Draft string        `json:"draft"`
	Key   string        `json:"key"`
	At    action.Millis `json:"at_ms"`
}

// wayOn tells a script which page comes next.
type wayOn struct {
	Way string `json:"way"`
}

func finish(v *visit) error {
	sc, _, err := v.onScenario()
	if err != nil {
		return err
	}
	if sc.Kind == simulate.FindWrong {
		return finishFind(v)
	}
	if sc.Kind == simulate.TimedRun {
		var in finishIn
		if err := v.body(&in); err != nil {
			return err
		}
		a, err := v.Service.FinishRun(v.ctx, v.actor, in.Key, in.Draft, in.At)
		if err != nil {
			return err
		}
		return v.JSON(wayOn{"/attempts/" + a.ID})
	}
	in, err := v.form("draft", "revision", "key")
	if err != nil {
		return err
	}
	revision, err := number(in["revision"])
	if err != nil {
		return err
	}
	a, err := v.Service.FinishBuild(v.ctx, v.actor, in["key"], in["draft"], revision)
	if err != nil {
		return err
	}
	return v.goTo("/attempts/" + a.ID)
}

// tapped answers a tap with how many the server has.
type tapped struct {
	Taps int `json:"taps"`
}

func tapRun(v *visit) error {
	var in struct {
		finishIn
		Step string `json:"step"`
	}
	if err := v.body(&in); err != nil {
		return err
	}
	n, err := v.Service.Tap(v.ctx, v.actor, in.Draft, in.Key, in.Step, in.At)
	if err != nil {
		return err
	}
	return v.JSON(tapped{n})
}

func discard(v *visit) error {
	var in struct {
		Draft string `json:"draft"`
	}
	if err := v.body(&in); err != nil {
		return err
	}
	key := "discard-" + in.Draft // there is but one draft of that name, and it is discarded once
	if err := v.Service.DiscardDraft(v.ctx, v.actor, key, in.Draft); err != nil {
		return err
	}
	return v.JSON(wayOn{"/practice"})
}

// beside is the model beside an own order that passed, as long as the clinic's scenario
// is the one that was tried.
func (v *visit) beside(a training.Attempt, p *procedure.Procedure) *views.Beside {
	sc, ok := v.Library.Scenario(a.ScenarioID)
	if !ok || a.Kind != simulate.BuildOrder || a.Outcome != assess.Pass || a.PersonID != v.actor.Person.ID {
		return nil
	}
	if sc = sc.Variant(a.Seed); sc.Hash != a.ScenarioHash {
		return nil
	}
	return views.NewBeside(p, a.Steps, sc.Answer())
}

// takeUp goes on from an order that did not pass, with hints.
func takeUp(v *visit) error {
	in, err := v.form("key")
	if err != nil {
		return err
	}
	d, kept, err := v.Service.TakeUp(v.ctx, v.actor, in["key"], v.Params("id"))
	if err != nil {
		return err
	}
	way := views.AsURL(d.ScenarioID, true)
	if kept {
		way += "&kept=yes"
	}
	return v.goTo(way + "#order")
}

func attempt(v *visit) error {
	a, err := v.Service.Attempt(v.ctx, v.actor, v.Params("id"))
	if err != nil {
		return err
	}
	result, err := v.result(a.Procedure, a.ProcedureHash, a.Log, a.ResultJSON, a.StartedAt)
	if err != nil {
		return err
	}
	result.Steps = stepsFrom(a.Lines)
	title, err := v.titleThen(a)
	if err != nil {
		return err
	}
	page := views.Attempt{
		Result: result, Title: title, Pace: a.Pace,
		Again: views.AsURL(a.ScenarioID, a.Guided), Own: a.PersonID == v.actor.Person.ID, Guided: a.Guided,
	}
	page.Result.Sought = a.Kind == simulate.FindWrong
	if page.Own && a.CanTakeUp() {
		page.TakeUp = "/attempts/" + a.ID + "/take-up"
	}
	page.Beside = v.beside(a, result.Procedure)
	if page.Own {
		page.Teach = views.Teaching(v.Library.Modules(), a.ScenarioID, result.Result.Findings)
		if page.Onward, page.ModulePassed, err = v.onward(a); err != nil {
			return err
		}
	}
	f := v.frame(page.Title, views.AtPractice)
	page.When = f.Moment(a.FinishedAt)
	if !page.Own {
		who, err := v.Service.Person(v.ctx, v.actor, a.PersonID)
		if err != nil {
			return err
		}
		page.Who, f.At = who.Name, views.AtPeople
	}
	if a.Kind == simulate.FindWrong {
		return v.sought(f, a, page)
	}
	return v.page(200, views.AttemptPage(f, page))
}
