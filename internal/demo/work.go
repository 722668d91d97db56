package demo

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"stillwet/internal/action"
	"stillwet/internal/procedure"
	"stillwet/internal/simulate"
	"stillwet/internal/training"
)

// slip is a kind of step whose last use somebody leaves out.
type slip func(*action.Act) bool

// The slips. A scenario that has no such step loses a wipe instead.
var (
	noSlip       slip
	forgetsHands slip = func(a *action.Act) bool { return a.Verb == action.RubHands || a.Verb == action.WashHands }
	forgetsGlove slip = func(a *action.Act) bool { return a.Verb == action.PutOn && a.Object == action.Gloves }
	forgetsWait  slip = func(a *action.Act) bool { return a.Verb == action.Wait }
	forgetsClean slip = func(a *action.Act) bool { return a.Verb == action.Clean }
	forgetsWipe  slip = func(a *action.Act) bool { return a.Verb == action.Wipe }
)

// module is the nth scenario of the competency with the taps of its model.
func (f *filler) module(n int) (*simulate.Scenario, []simulate.Tap, *action.Log) {
	id := f.competency.Scenarios[n]
	s, ok := f.Library.Scenario(id)
	if !ok {
		f.ok(fmt.Errorf("scenario %q is missing", id))
		return nil, nil, nil
	}
	log, err := action.Parse(id+".model.log", s.Model, f.procedure.Words)
	if !f.ok(err) {
		return nil, nil, nil
	}
	taps, err := simulate.Script(f.procedure, s, log)
	f.ok(err)
	return s, taps, log
}

// practise does the nth module as its model has it, or with a slip.
func practise(number string, n int, leave slip) func(*filler) { return does(number, n, leave, false) }

// guided is the same as guided practice.
func guided(number string, n int, leave slip) func(*filler) { return does(number, n, leave, true) }

func does(number string, n int, leave slip, guided bool) func(*filler) {
	return func(f *filler) {
		s, taps, log := f.module(n)
		if f.err != nil {
			return
		}
		if leave != nil {
			taps = f.without(taps, leave)
		}
		if s.Kind == simulate.TimedRun {
			f.run(number, s, taps, log.Acts[len(log.Acts)-1].At+1000, guided)
			return
		}
		f.build(number, s, func(*simulate.Scenario) []string { return stepsOf(taps) }, guided)
	}
}

// further is the nth scenario that no sign-off asks for, done right; nothing where
// there is none.
func further(number string, n int) func(*filler) {
	return func(f *filler) {
		var more []*simulate.Scenario
		for _, s := range f.Library.Scenarios() {
			if s.Procedure == f.procedure.ID && s.Kind == simulate.BuildOrder && !slices.Contains(f.competency.Scenarios, s.ID) {
				more = append(more, s)
			}
		}
		if n < len(more) {
			f.build(number, more[n], (*simulate.Scenario).Answer, false)
		}
	}
}

func stepsOf(taps []simulate.Tap) []string {
	steps := make([]string, len(taps))
	for i, t := range taps {
		steps[i] = t.Step
	}
	return steps
}

// without is the taps less the last one that slips.
func (f *filler) without(taps []simulate.Tap, leave slip) []simulate.Tap {
	last := func(is slip) int {
		for i := len(taps) - 1; i >= 0; i-- {
			acts := f.procedure.Steps[f.procedure.StepIndex(taps[i].Step)].Acts
			if slices.ContainsFunc(acts, func(a action.Act) bool { return is(&a) }) {
				return i
			}
		}
		return -1
	}
	i := last(leave)
	if i < 0 {
		i = last(forgetsWipe)
	}
	return slices.Delete(slices.Clone(taps), i, i+1)
}

// build makes an order of the scenario as its seed has made it.
func (f *filler) build(number string, s *simulate.Scenario, steps func(*simulate.Scenario) []string, guided bool) {
	who := f.as(number)
	d, err := f.service.OpenDraft(f.ctx, who, s.ID, guided)
	if !f.ok(err) {
		return
	}
	f.pass(4 * time.Minute)
	d, err = f.service.SaveSteps(f.ctx, who, d.ID, d.Revision, steps(s.Variant(d.Seed)))
	if f.ok(err) {
		_, err = f.service.FinishBuild(f.ctx, who, f.key(), d.ID, d.Revision)
		f.ok(err)
	}
}

func (f *filler) run(number string, s *simulate.Scenario, taps []simulate.Tap, end action.Millis, guided bool) {
	who := f.as(number)
	d, err := f.service.StartRun(f.ctx, who, f.key(), s.ID, s.Pace, guided)
	if !f.ok(err) {
		return
	}
	start := f.now
	at := func(t action.Millis) { f.now = start.Add(time.Duration(t) * time.Millisecond / time.Duration(s.Pace)) }
	for _, t := range taps {
		at(t.At)
		if _, err := f.service.Tap(f.ctx, who, d.ID, f.key(), t.Step, t.At); !f.ok(err) {
			return
		}
	}
	at(end)
	_, err = f.service.FinishRun(f.ctx, who, f.key(), d.ID, end)
	f.ok(err)
}

// watch is what differs from a clean demonstration.
type watch struct {
	routine   *observation // a routine observation, towards nothing
	chosen    bool         // the outcome is chosen and nobody has signed it yet
	said      string       // the learner's own sentence
	refused   string       // why the learner would not sign
	forgotten int          // so many of the last surfaces are not wiped
	prompt    string       // the preceptor prompts before the last such line
	meaning   training.Meaning
	comment   string // %s is what was forgotten
}

// watched records a demonstration and, when there is a meaning, lets both sign.
func watched(number, preceptor string, w watch) func(*filler) {
	return func(f *filler) {
		who := f.as(preceptor)
		lines, forgotten, product := f.seen(w)
		if f.err != nil {
			return
		}
		start := training.Start{TraineeID: f.actors[number].Person.ID, Competency: f.competency.ID, Product: product, Setting: training.Setting{Purpose: training.ForReturn, Announced: "yes"}}
		if w.routine != nil {
			start.Setting = w.routine.setting()
			if w.routine.discipline != "" {
				start.TraineeID = ""
			}
		}
		d, err := f.service.StartWatching(f.ctx, who, f.key(), start)
		if !f.ok(err) {
			return
		}
		end := f.noted(who, d.ID, lines)
		if f.err != nil {
			return
		}
		f.pass(time.Minute)
		comment := strings.ReplaceAll(w.comment, "%s", strings.Join(forgotten, ", "))
		if _, err = f.service.EndDemonstration(f.ctx, who, f.key(), d.ID, int64(end), comment); f.ok(err) {
			f.pass(5 * time.Minute)
			f.decide(who, number, d.ID, w)
		}
	}
}

// decide lets the outcome of a demonstration be chosen and signed, as far as it comes.
func (f *filler) decide(who training.Actor, number, id string, w watch) {
	if w.routine != nil {
		if !w.routine.unread {
			_, err := f.service.Keep(f.ctx, who, f.key(), id)
			f.ok(err)
		}
		return
	}
	d, err := f.service.Demonstration(f.ctx, who, id)
	if !f.ok(err) || w.meaning == "" {
		return
	}
	why := ""
	if d.NeedsWhy(w.meaning) {
		why = "We stopped at the first mistake and went through it together."
	}
	if _, err = f.service.Choose(f.ctx, who, f.key(), id, w.meaning, why); !f.ok(err) || w.chosen {
		return
	}
	if w.refused != "" {
		_, err = f.service.Refuse(f.ctx, who, f.key(), id, w.refused)
	} else {
		by := training.Learner{Username: f.usernames[number], Password: training.DemoPassword, Said: w.said}
		_, err = f.service.SignAsLearner(f.ctx, who, f.key(), id, by)
	}
	if f.ok(err) {
		_, err = f.service.SignAsPreceptor(f.ctx, who, f.key(), id, w.meaning, training.DemoPassword)
		f.ok(err)
	}
}

// answersPlan lets the educator open the newest plan that waits for a word.
func answersPlan(why string, days int) func(*filler) {
	return func(f *filler) {
		edda := f.as(educatorNo)
		w, err := f.service.Watching(f.ctx, edda)
		if f.ok(err) && len(w.Plans) > 0 {
			_, err = f.service.AnswerPlan(f.ctx, edda, f.key(), w.Plans[0].ID, training.PlanOpened, f.service.Today().AddDays(days), why)
			f.ok(err)
		}
	}
}

// noted sends each line when it is seen, and says when the last one was.
func (f *filler) noted(who training.Actor, demonstration string, lines []action.Act) (end action.Millis) {
	start, tablet := f.now, f.key()
	for i, line := range lines {
		end = line.At
		f.now = start.Add(time.Duration(line.At) * time.Millisecond)
		act := training.Watched{Key: f.key(), N: i + 1, AtMs: int64(line.At), Wall: training.InstantOf(f.now), Text: line.Text()}
		if _, _, err := f.service.Batch(f.ctx, who, demonstration, tablet, []training.Watched{act}); !f.ok(err) {
			return end
		}
	}
	return end
}

// seen is the model of the competency's run as a preceptor notes it, with what
// was forgotten and the product on the shelf.
func (f *filler) seen(w watch) (lines []action.Act, forgotten []string, product string) {
	n := slices.IndexFunc(f.competency.Scenarios, func(id string) bool {
		s, ok := f.Library.Scenario(id)
		return ok && s.Kind == simulate.TimedRun
	})
	if n < 0 {
		f.ok(fmt.Errorf("competency %q has no run to take the times of a demonstration from", f.competency.ID))
		return nil, nil, ""
	}
	s, _, log := f.module(n)
	if f.err != nil {
		return nil, nil, ""
	}
	left := f.lastWiped(log, w.forgotten)
	for _, a := range simulate.Watched(f.procedure, log) {
		if !slices.Contains(left, a.Object) {
			lines = append(lines, a)
		}
	}
	if i := lastLine(lines, w.prompt); i >= 0 {
		lines = slices.Insert(lines, i, action.Act{Verb: action.Prompted, At: lines[i].At})
	}
	for _, id := range left {
		forgotten = append(forgotten, procedure.Within(f.procedure.Title(id)))
	}
	return lines, forgotten, s.Product
}

// lastWiped are the last n surfaces that a log wipes once.
func (f *filler) lastWiped(log *action.Log, n int) (ids []string) {
	times := map[string]int{}
	for _, a := range log.Acts {
		if a.Verb == action.Wipe {
			times[a.Object]++
		}
	}
	for _, a := range slices.Backward(log.Acts) {
		if a.Verb == action.Wipe && times[a.Object] == 1 && len(ids) < n {
			ids = append(ids, a.Object)
		}
	}
	return ids
}

func lastLine(lines []action.Act, text string) int {
	for i := len(lines) - 1; i >= 0; i-- {
		if lines[i].Text() == text {
			return i
		}
	}
	return -1
}
