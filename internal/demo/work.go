package demo

import (
	"fmt"
	"slices"
	"time"

	"stillwet/internal/action"
	"stillwet/internal/simulate"
	"stillwet/internal/training"
)

const clockScenario = "against-the-clock"

// taps is the script of a scenario's model log.
func (f *filler) taps(id string) (*simulate.Scenario, []simulate.Tap, *action.Log) {
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

// practise builds the order of a scenario; with a step to leave out, its last
// use is missing.
func practise(number, scenario, leave string) func(*filler) {
	return func(f *filler) {
		_, taps, _ := f.taps(scenario)
		if f.err != nil {
			return
		}
		var steps []string
		for _, t := range taps {
			steps = append(steps, t.Step)
		}
		if i := lastIndex(steps, leave); i >= 0 {
			steps = slices.Delete(steps, i, i+1)
		}
		who := f.as(number)
		d, err := f.service.OpenDraft(f.ctx, who, scenario)
		if !f.ok(err) {
			return
		}
		f.pass(4 * time.Minute)
		d, err = f.service.SaveSteps(f.ctx, who, d.ID, d.Revision, steps)
		if f.ok(err) {
			_, err = f.service.FinishBuild(f.ctx, who, f.key(), d.ID, d.Revision)
			f.ok(err)
		}
	}
}

func lastIndex(list []string, s string) int {
	for i := len(list) - 1; i >= 0; i-- {
		if list[i] == s {
			return i
		}
	}
	return -1
}

// playRun makes a run against the clock; a hasty one forgets to wet the pole
// again.
func playRun(number string, hasty bool) func(*filler) {
	return func(f *filler) {
		s, taps, log := f.taps(clockScenario)
		if f.err != nil {
			return
		}
		if hasty {
			taps = slices.Delete(taps, lastTap(taps, "wipe-pole"), lastTap(taps, "wipe-pole")+1)
		}
		who := f.as(number)
		d, err := f.service.StartRun(f.ctx, who, f.key(), s.ID, s.Pace)
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
		end := log.Acts[len(log.Acts)-1].At + 1000
		at(end)
		_, err = f.service.FinishRun(f.ctx, who, f.key(), d.ID, end)
		f.ok(err)
	}
}

func lastTap(taps []simulate.Tap, step string) int {
	for i := len(taps) - 1; i >= 0; i-- {
		if taps[i].Step == step {
			return i
		}
	}
	return 0
}

// watch is what differs from a clean demonstration.
type watch struct {
	leave   []string // lines that do not happen
	prompt  string   // the preceptor prompts before the last such line
	meaning training.Meaning
	comment string
}

// watched records a demonstration and, when there is a meaning, lets both sign.
func watched(number, preceptor string, w watch) func(*filler) {
	return func(f *filler) {
		who := f.as(preceptor)
		d, err := f.service.StartDemonstration(f.ctx, who, f.key(), f.actors[number].Person.ID, f.competency.ID, f.procedure.Products[0].ID)
		if !f.ok(err) {
			return
		}
		start, end := f.now, action.Millis(0)
		for _, line := range f.seen(w) {
			end = line.At
			f.now = start.Add(time.Duration(line.At) * time.Millisecond)
			_, err := f.service.Observe(f.ctx, who, d.ID, training.Observed{Key: f.key(), AtMs: int64(line.At), Text: line.Text()})
			if !f.ok(err) {
				return
			}
		}
		f.pass(time.Minute)
		if _, err = f.service.EndDemonstration(f.ctx, who, f.key(), d.ID, int64(end), w.comment); !f.ok(err) || w.meaning == "" {
			return
		}
		f.pass(5 * time.Minute)
		if _, err = f.service.SignAsLearner(f.ctx, who, f.key(), d.ID, f.usernames[number], training.DemoPassword); f.ok(err) {
			_, err = f.service.SignAsPreceptor(f.ctx, who, f.key(), d.ID, w.meaning, training.DemoPassword)
			f.ok(err)
		}
	}
}

// seen is the model of the timed scenario as a preceptor notes it: the dry-outs
// of the bucket only, and "still wet" when a surface reaches its label time.
func (f *filler) seen(w watch) []action.Act {
	_, _, log := f.taps(clockScenario)
	if f.err != nil {
		return nil
	}
	label := action.Millis(f.procedure.Products[0].LabelS) * 1000
	first := map[string]action.Millis{}
	var lines []action.Act
	for _, a := range log.Acts {
		bucket := a.Verb == action.Dry && f.isBucket(a.Object)
		if slices.Contains(w.leave, a.Verb.String()) || slices.Contains(w.leave, a.Text()) || a.Verb == action.Dry && !bucket {
			continue
		}
		if _, again := first[a.Object]; a.Verb == action.Wipe && !again {
			first[a.Object] = a.At
			lines = append(lines, action.Act{Verb: action.StillWet, Object: a.Object, At: a.At + label})
		}
		lines = append(lines, a)
	}
	slices.SortStableFunc(lines, func(a, b action.Act) int { return int(a.At - b.At) })
	if i := lastLine(lines, w.prompt); i >= 0 {
		lines = slices.Insert(lines, i, action.Act{Verb: action.Prompted, At: lines[i].At})
	}
	return lines
}

func lastLine(lines []action.Act, text string) int {
	for i := len(lines) - 1; i >= 0; i-- {
		if lines[i].Text() == text {
			return i
		}
	}
	return -1
}

func (f *filler) isBucket(surface string) bool {
	i := f.procedure.SurfaceIndex(surface)
	return i >= 0 && f.procedure.Surfaces[i].Role == "bucket"
}
