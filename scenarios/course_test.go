package scenarios_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/assess"
	"stillwet/internal/assess/rules"
	"stillwet/internal/course"
	"stillwet/internal/procedure"
	"stillwet/internal/simulate"
	"stillwet/scenarios"
)

const courseFile = "course.yaml"

func TestTheCourseIsWhole(t *testing.T) {
	lib, err := scenarios.Load()
	require.NoError(t, err)
	var ids []string
	lessons := map[string]*course.Lesson{}
	for _, m := range lib.Modules() {
		ids = append(ids, m.ID)
		for i := range m.Parts {
			if n := m.Parts[i].Lesson; n != nil {
				lessons[n.ID] = n
			}
		}
	}
	require.Equal(t, []string{"orientation-1", "orientation-2", "orientation-3", "orientation-4", "annual"}, ids)
	require.Len(t, lessons, 8)
	for _, c := range lib.Competencies() {
		for _, s := range c.Scenarios {
			require.True(t, c.OnlyWatched || slices.ContainsFunc(lib.Modules(), func(m course.Module) bool {
				return m.CountsFor == c.ID && !m.StartsWithTest && slices.Contains(m.Tests(), s)
			}), "%s of %s", s, c.ID)
		}
	}
}

// The key of every question, found once more by another way: what a log with the option
// has that the same log without it does not.
func TestTheEngineKeysEveryQuestion(t *testing.T) {
	lib, err := scenarios.Load()
	require.NoError(t, err)
	for name, lib := range map[string]*scenarios.Library{"as it comes": lib, "confirmed": lib.Confirmed("Mara Voss", "2026-09-01")} {
		asked := 0
		for _, m := range lib.Modules() {
			for i := range m.Parts {
				if n := m.Parts[i].Lesson; n != nil {
					p, ok := lib.Procedure(n.Scenario.Procedure)
					require.True(t, ok)
					require.Same(t, p, n.Procedure, name)
					for _, q := range n.Questions {
						t.Run(name+"/"+m.ID+"/"+n.ID+"/"+q.ID, func(t *testing.T) { keyed(t, p, n.Scenario, q) })
						asked++
					}
				}
			}
		}
		require.Greater(t, asked, 24)
	}
}

func keyed(t *testing.T, p *procedure.Procedure, s *simulate.Scenario, q course.Question) {
	before := found(t, p, s, q.Before)
	if q.Ask == course.Wrong {
		var steps []string
		for _, o := range q.Options {
			steps = append(steps, o.Step)
		}
		for n := range steps { // the first row that brings something new is the one
			more := beyond(found(t, p, s, slices.Concat(q.Before, steps[:n+1])), before)
			if len(more) > 0 {
				require.True(t, q.Options[n].Right, "%s: %v", steps[n], more)
				require.Contains(t, messages(more), q.Options[n].Breaks.Message)
				return
			}
			require.False(t, q.Options[n].Right, steps[n])
		}
		t.Fatal("nothing is wrong")
	}
	right := 0
	for _, o := range q.Options {
		more := beyond(found(t, p, s, slices.Concat(q.Before, []string{o.Step})), before)
		require.Equal(t, o.Right, len(more) == 0, "%s: %v", o.Step, more)
		if o.Right {
			right++
			require.Nil(t, o.Breaks)
			continue
		}
		require.Contains(t, messages(more), o.Breaks.Message)
		require.NotEmpty(t, o.Breaks.Why)
		require.NotEmpty(t, o.Breaks.Source)
	}
	require.Positive(t, right)
	require.Less(t, right, len(q.Options))
}

// found is what the engine finds at some act, by what tells one finding from another.
func found(t *testing.T, p *procedure.Procedure, s *simulate.Scenario, steps []string) map[string]assess.Finding {
	played, err := simulate.Build(p, s, steps)
	require.NoError(t, err)
	result, err := rules.Engine.Assess(p, played.Log, "check")
	require.NoError(t, err)
	all := map[string]assess.Finding{}
	for _, f := range result.Findings {
		if f.Act > 0 {
			all[fmt.Sprint(f.Rule, f.Act, f.Surface, f.Worn, f.Count)] = f
		}
	}
	return all
}

func beyond(after, before map[string]assess.Finding) (more []assess.Finding) {
	for k, f := range after {
		if _, was := before[k]; !was {
			more = append(more, f)
		}
	}
	return more
}

func messages(all []assess.Finding) (texts []string) {
	for _, f := range all {
		texts = append(texts, f.Message)
	}
	return texts
}

func TestFaultsOfTheCourseNameFileAndLine(t *testing.T) {
	for name, c := range map[string]struct {
		change      func(string) string
		place, want string
	}{
		"unknown field":        {replace("counts_for: end-of-day", "counts: end-of-day"), "counts_for: end-of-day", `unknown field "counts"`},
		"unknown scenario":     {replace("scenario: isolation-turnover", "scenario: isolation-turnovr"), "scenario: isolation-turnover", "nearest: isolation-turnover"},
		"unknown step":         {replace("steps: [rub-hands, gloves-on, gloves-off]", "steps: [rub-hand, gloves-on, gloves-off]"), "steps: [rub-hands, gloves-on, gloves-off]", "nearest: rub-hands"},
		"unknown rule":         {replace("rules: [isolation,", "rules: [isolatoin,"), "rules: [isolation,", "nearest: isolation"},
		"no pair":              {replace("[[wipe-staging, bring-supplies]]", "[[bring-supplies, wipe-staging]]"), "[[wipe-staging, bring-supplies]]", "is no pair"},
		"lesson twice":         {replace("id: wet-time", "id: order-of-work"), "id: wet-time", "there twice"},
		"option of no step":    {replace("[check-stable, rub-hands, gloves-on]", "[check-stable, rub-hands, gloves-onn]"), "[check-stable, rub-hands, gloves-on]", `"gloves-onn" is not offered`},
		"nothing right":        {replace("[check-stable, rub-hands, gloves-on]", "[check-stable, gloves-on]"), "[check-stable, rub-hands, gloves-on]", "none of the options"},
		"nothing wrong":        {replace("[check-stable, rub-hands, gloves-on]", "[wash-hands, rub-hands]"), "[check-stable, rub-hands, gloves-on]", "every option"},
		"two faulty rows":      {replace("steps: [wipe-controls, wipe-front, dry-screen, wipe-latches]", "steps: [wipe-controls, wipe-front, dry-screen, touch-phone, wipe-latches]"), "steps: [wipe-controls, wipe-front, dry-screen, wipe-latches]", "2 rows"},
		"no faulty row":        {replace("wipe-front, dry-screen, wipe-latches]", "wipe-front, wipe-latches]"), "wipe-front, dry-screen, wipe-latches]", "0 rows"},
		"wrong before":         {replace("{after: [rub-hands], options: [help-out", "{after: [gloves-on], options: [help-out"), "{after: [rub-hands], options: [help-out", "what was done before is not right"},
		"never done":           {replace("{until: hand-over-floor,", "{until: tag-out,"), "{until: hand-over-floor,", `never does "tag-out"`},
		"two ways":             {replace("{id: first, next:", "{id: first, wrong: {steps: [rub-hands, gloves-on]}, next:"), "{id: first, next:", "asks in one way"},
		"unknown lesson":       {replace("{read: isolation,", "{read: isolatoin,"), "{read: isolation,", `unknown lesson "isolatoin"`},
		"two kinds":            {replace("{watch: against-the-clock, minutes", "{watch: against-the-clock, test: against-the-clock, minutes"), "{watch: against-the-clock, minutes", "one of read, watch, practise, test"},
		"watched wrong":        {replace("{watch: against-the-clock, minutes: 8}", "{watch: a-colleagues-hands, minutes: 5}"), "{watch: against-the-clock, minutes", "there is nothing to watch in scenario"},
		"no minutes":           {replace("{watch: against-the-clock, minutes: 8}", "{watch: against-the-clock, minutes: 0}"), "{watch: against-the-clock, minutes: 8}", "0 minutes"},
		"pass rule":            {replace("pass: each test once", "pass: once"), "pass: each test once", `"once" is none of`},
		"unknown competency":   {replace("counts_for: end-of-day", "counts_for: end-of-days"), "counts_for: end-of-day", `unknown competency "end-of-days"`},
		"starts with no test":  {replace("      - {test: blood-on-the-machine, minutes: 15}\n      - {test: against-the-clock, minutes: 10}\n      - {read: hands-and-gloves, minutes: 4}\n      - {read: order", "      - {read: hands-and-gloves, minutes: 4}\n      - {test: against-the-clock, minutes: 10}\n      - {read: order"), "      - {test: blood-on-the-machine, minutes: 15}\n      - {test: against-the-clock, minutes: 10}\n      - {read: hands", "starts with its test"},
		"needed, not a test":   {replace("      - {test: against-the-clock, minutes: 10}\n\n  - id: orientation-3", "      - {test: ordinary-turnover, minutes: 10}\n\n  - id: orientation-3"), "modules:", `takes scenario "against-the-clock"`},
		"word twice":           {replace("{word: wipe, forms", "{word: turnover, forms"), "{word: wipe, forms", "explained twice"},
		"word of nothing":      {replace("{word: single-use, means: Made to be used once and thrown away.}", "{word: single-use, means: \" \"}"), "{word: single-use,", "needs what it means"},
		"word nobody uses":     {replace("{word: single-use, means", "{word: singleuse, means"), "{word: single-use, means", "no lesson uses"},
		"a lesson left unread": {replace("      - {read: isolation, minutes: 3}\n", ""), "id: isolation\n", "no module reads"},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := scenarios.LoadFS(files(t, map[string]func(string) string{courseFile: c.change}))
			require.ErrorContains(t, err, lineOf(t, courseFile, c.place))
			require.ErrorContains(t, err, c.want)
		})
	}
}

// Whatever word of the trade a lesson uses is explained on its page, and no other.
func TestALessonExplainsItsWords(t *testing.T) {
	lib, err := scenarios.Load()
	require.NoError(t, err)
	explained := map[string][]string{}
	for _, m := range lib.Modules() {
		for i := range m.Parts {
			if n := m.Parts[i].Lesson; n != nil {
				explained[n.ID] = nil
				for _, w := range n.Words {
					explained[n.ID] = append(explained[n.ID], w.Word)
				}
			}
		}
	}
	require.Contains(t, explained["order-of-work"], "dialyzer")
	require.Contains(t, explained["order-of-work"], "prime bucket", "the steps name it “bucket”")
	require.Contains(t, explained["hands-and-gloves"], "hand rub", "a step names it")
	require.NotContains(t, explained["wet-time"], "gown")
	require.NotContains(t, explained["dries-early"], "isolation room")
}

func TestALessonAsksEnough(t *testing.T) {
	_, err := scenarios.LoadFS(files(t, map[string]func(string) string{courseFile: func(s string) string {
		before, rest, _ := strings.Cut(s, "      - {id: gloves, next: {until: look")
		_, rest, _ = strings.Cut(rest, "\n")
		return before + rest
	}}))
	require.ErrorContains(t, err, "asks 2 questions; 3 are the least")
}

// A set without a course is whole.
func TestACourseIsNotNeeded(t *testing.T) {
	set := files(t, nil)
	delete(set, courseFile)
	lib, err := scenarios.LoadFS(set)
	require.NoError(t, err)
	require.Empty(t, lib.Modules())
}

// What a clinic does without goes from a question, or the question from its lesson; the
// lesson goes on with the others.
func TestALessonGoesOnWithoutWhatIsGone(t *testing.T) {
	asks := func(lib *scenarios.Library, id string) (ids []string) {
		for _, m := range lib.Modules() {
			for _, p := range m.Parts {
				if p.Lesson != nil && p.Lesson.ID == id && len(ids) == 0 {
					for _, q := range p.Lesson.Questions {
						ids = append(ids, q.ID)
						require.NotEmpty(t, q.Options)
					}
				}
			}
		}
		return ids
	}
	hide := func(list, row string) scenarios.Edit { return scenarios.Edit{Do: "hide", List: list, Row: row} }

	_, lib := edited(t, hide("surfaces", "latches"))
	require.Empty(t, resting(t, lib, "lesson"))
	require.Equal(t, []string{"towel", "screen", "one-wipe"}, asks(lib, "dries-early"), "none of them is about the line holders")

	_, lib = edited(t, hide("items", "supplies"), hide("items", "next-set"), hide("surfaces", "staging"))
	require.Empty(t, resting(t, lib, "lesson"))
	require.Equal(t, []string{"ready"}, asks(lib, "wet-time"))
	require.Subset(t, resting(t, lib, "question"), []string{"wet-time/staging", "wet-time/not-dry"})
	require.Empty(t, resting(t, lib, "module"))

	_, lib = edited(t, hide("scenarios", "against-the-clock"))
	require.Equal(t, []string{"orientation-2"}, resting(t, lib, "module"))
	for _, r := range lib.Resting() {
		if r.Of == "module" {
			require.Contains(t, r.Why, "“Wet for its whole time” to read", "what nobody reads any more is told")
		}
	}
}
