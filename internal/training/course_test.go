package training_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillwet/internal/assess"
	"stillwet/internal/course"
	"stillwet/internal/training"
)

// way is a module as somebody has it.
func (w *world) way(who training.Actor, module string) training.ModuleWay {
	home, err := w.Home(ctx, who)
	require.NoError(w.T, err)
	for _, x := range home.Ways {
		if x.Module.ID == module {
			return x
		}
	}
	w.T.Fatal("no module " + module)
	return training.ModuleWay{}
}

// nextPart is the id of the part to do next, "" for none.
func nextPart(m training.ModuleWay) string {
	if m.Next < 0 {
		return ""
	}
	return m.Parts[m.Next].Part.ID()
}

// build does a scenario as its model has it, or only its first steps.
func (w *world) build(who training.Actor, scenario string, guided bool, steps []string) training.Attempt {
	d, err := w.OpenDraft(ctx, who, scenario, guided)
	require.NoError(w.T, err)
	d, err = w.SaveSteps(ctx, who, d.ID, d.Revision, steps)
	require.NoError(w.T, err)
	a, err := w.FinishBuild(ctx, who, w.Key(), d.ID, d.Revision)
	require.NoError(w.T, err)
	return a
}

// readAll answers every question of the lesson rightly at once.
func (w *world) readAll(who training.Actor, module string) {
	p, err := w.CoursePart(ctx, who, module, "read-hands")
	require.NoError(w.T, err)
	for _, q := range p.Way.Parts[p.Part].Part.Lesson.Questions {
		for i, o := range q.Options {
			if o.Right {
				right, err := w.Answer(ctx, who, w.Key(), module, "read-hands", q.ID, i+1)
				require.NoError(w.T, err)
				require.True(w.T, right)
				break
			}
		}
		w.Pass(time.Second)
	}
}

func TestTheWayThroughAModule(t *testing.T) {
	w := staffed(t)
	require.Equal(t, "read-hands", nextPart(w.way(w.trainee, "first")))
	require.True(t, w.way(w.trainee, "annual").Later, "nobody has signed her off")
	w.readAll(w.trainee, "first")
	require.Equal(t, "watch-ordinary-turnover", nextPart(w.way(w.trainee, "first")))
	require.NoError(t, w.Seen(ctx, w.trainee, w.Key(), "first", "watch-ordinary-turnover"))
	require.Equal(t, "practise-ordinary-turnover", nextPart(w.way(w.trainee, "first")))
	w.build(w.trainee, "ordinary-turnover", true, w.Steps("ordinary-turnover"))
	first := w.way(w.trainee, "first")
	require.Equal(t, "test-ordinary-turnover", nextPart(first), "guided practice is no test, though nothing was wrong in it")
	require.Equal(t, 30, first.Open())
	w.Modules(w.trainee)
	require.True(t, w.way(w.trainee, "first").Passed)
	require.Empty(t, nextPart(w.way(w.trainee, "first")))
}

func TestATestTwiceOnDifferentDays(t *testing.T) {
	w := staffed(t)
	steps := w.Steps("ordinary-turnover")
	w.build(w.trainee, "ordinary-turnover", false, steps)
	w.build(w.trainee, "ordinary-turnover", false, steps)
	twice := w.way(w.trainee, "twice")
	require.False(t, twice.Passed, "two on one day are one")
	require.True(t, twice.Parts[0].OnceMore)
	w.Pass(24 * time.Hour)
	w.build(w.trainee, "ordinary-turnover", true, steps)
	require.False(t, w.way(w.trainee, "twice").Passed, "guided practice is none")
	w.build(w.trainee, "ordinary-turnover", false, steps)
	require.True(t, w.way(w.trainee, "twice").Passed)
}

// First answers are kept apart; wrong ones are answered again until they are right.
func TestAnswersAndTheMarkOfALesson(t *testing.T) {
	w := staffed(t)
	key := w.Key()
	right, err := w.Answer(ctx, w.trainee, key, "first", "read-hands", "first", 1)
	require.NoError(t, err)
	require.False(t, right)
	_, err = w.Answer(ctx, w.trainee, key, "first", "read-hands", "first", 2)
	require.ErrorIs(t, err, training.ErrKeyReused)
	w.readAll(w.trainee, "first")
	p := w.way(w.trainee, "first").Parts[0]
	require.True(t, p.Done)
	require.Equal(t, 2, p.Mark.RightFirst)
	require.Equal(t, 3, p.Mark.Questions)
	page, err := w.CoursePart(ctx, w.trainee, "first", "read-hands")
	require.NoError(t, err)
	require.Len(t, page.Answers, 4)
	other, err := w.CoursePart(ctx, w.preceptor, "first", "read-hands")
	require.NoError(t, err)
	require.Empty(t, other.Answers, "everyone has their own")

	for name, err := range map[string]error{
		"no such option":   second(w.Answer(ctx, w.trainee, w.Key(), "first", "read-hands", "first", 3)),
		"no option":        second(w.Answer(ctx, w.trainee, w.Key(), "first", "read-hands", "first", 0)),
		"no such question": second(w.Answer(ctx, w.trainee, w.Key(), "first", "read-hands", "last", 1)),
	} {
		require.ErrorIs(t, err, training.ErrInvalid, name)
	}
	require.ErrorIs(t, second(w.Answer(ctx, w.trainee, w.Key(), "first", "watch-ordinary-turnover", "first", 1)), training.ErrNotFound)
	require.ErrorIs(t, w.Seen(ctx, w.trainee, w.Key(), "first", "read-hands"), training.ErrNotFound, "a lesson is read by its questions")
	require.ErrorIs(t, second(w.CoursePart(ctx, w.trainee, "first", "nothing")), training.ErrNotFound)
}

func second[T any](_ T, err error) error { return err }

// The yearly module begins with its test, and only what that missed is read.
func TestTheYearlyModule(t *testing.T) {
	w := staffed(t)
	w.signedOff()
	w.Pass(24 * time.Hour)
	require.True(t, w.way(w.trainee, "annual").Later, "her sign-off holds for long")
	w.Pass(340 * 24 * time.Hour)
	w.trainee = w.In("tess")
	require.True(t, w.way(w.trainee, "first").Behind)
	annual := w.way(w.trainee, "annual")
	require.Equal(t, "test-ordinary-turnover", nextPart(annual), "the passes of before the sign-off are of last time")
	require.True(t, annual.Parts[1].Waits)
	steps := w.Steps("ordinary-turnover")
	w.build(w.trainee, "ordinary-turnover", false, steps[:3])
	require.Equal(t, "read-hands", nextPart(w.way(w.trainee, "annual")), "it missed what the lesson teaches")
	w.Pass(time.Minute)
	w.readAll(w.trainee, "annual")
	require.Equal(t, "test-ordinary-turnover", nextPart(w.way(w.trainee, "annual")))
	w.build(w.trainee, "ordinary-turnover", false, steps)
	annual = w.way(w.trainee, "annual")
	require.True(t, annual.Parts[1].NotNeeded)
	require.True(t, annual.Passed)
}

func TestGuidedPracticeCountsForNothing(t *testing.T) {
	w := staffed(t)
	a := w.build(w.trainee, "ordinary-turnover", true, w.Steps("ordinary-turnover"))
	require.Equal(t, assess.Pass, a.Outcome)
	require.True(t, a.Guided)
	home, err := w.Home(ctx, w.trainee)
	require.NoError(t, err)
	require.Empty(t, home.Standings[0].PassedScenarios)
	require.Equal(t, training.InTraining, home.Standings[0].Word, "and it is a beginning")
	for _, s := range home.Scenarios {
		require.False(t, s.Passed)
		require.Zero(t, s.Tries)
	}
	pass := func(id string, guided bool) training.Attempt {
		return training.Attempt{ID: id, ScenarioID: "ordinary-turnover", Outcome: assess.Pass, FinishedAt: "2026-03-02T09:00:00.000Z", Guided: guided}
	}
	fold := func(all ...training.Attempt) []string {
		return training.Fold(w.trainee.Person, w.Competency, training.History{Attempts: all}, w.Today(), time.UTC).PassedScenarios
	}
	require.Empty(t, fold(pass("a", true)))
	require.Equal(t, []string{"ordinary-turnover"}, fold(pass("a", true), pass("b", false)))
	report, err := w.Verify(ctx)
	require.NoError(t, err)
	require.Empty(t, report.Faults)
}

// One's unfinished practice and one's unfinished test of a scenario are two.
func TestGuidedDraftsAreApart(t *testing.T) {
	w := staffed(t)
	guided, err := w.OpenDraft(ctx, w.trainee, "ordinary-turnover", true)
	require.NoError(t, err)
	test, err := w.OpenDraft(ctx, w.trainee, "ordinary-turnover", false)
	require.NoError(t, err)
	require.NotEqual(t, guided.ID, test.ID)
	same, err := w.OpenDraft(ctx, w.trainee, "ordinary-turnover", true)
	require.NoError(t, err)
	require.Equal(t, guided.ID, same.ID)
	_, err = w.StartRun(ctx, w.trainee, w.Key(), "against-the-clock", 1, true)
	require.NoError(t, err)
	_, err = w.StartRun(ctx, w.trainee, w.Key(), "against-the-clock", 1, false)
	require.NoError(t, err)
	_, err = w.StartRun(ctx, w.trainee, w.Key(), "against-the-clock", 1, true)
	require.ErrorIs(t, err, training.ErrConflict)
}

// Guided practice is seen by oneself, one's primary preceptor and educators.
func TestWhoSeesGuidedPractice(t *testing.T) {
	w := staffed(t)
	a := w.build(w.trainee, "ordinary-turnover", true, []string{"rub-hands"})
	b := w.build(w.trainee, "ordinary-turnover", false, []string{"rub-hands"})
	_, err := w.SetOrientation(ctx, w.educator, w.Key(), training.Orientation{PersonID: w.trainee.Person.ID, PreceptorID: w.other.Person.ID, LastDay: "2026-04-30"})
	require.NoError(t, err)
	stranger := w.hire("Theo Invented", "theo", training.Trainee)
	for _, c := range []struct {
		who  training.Actor
		sees bool
	}{{w.trainee, true}, {w.educator, true}, {w.other, true}, {w.preceptor, false}} {
		rec, err := w.Record(ctx, c.who, w.trainee.Person.ID)
		require.NoError(t, err)
		want := 1
		if c.sees {
			want = 2
		}
		require.Len(t, rec.Attempts, want, c.who.Person.Name)
		require.Equal(t, want, rec.AllAttempts, c.who.Person.Name)
		_, err = w.Attempt(ctx, c.who, a.ID)
		require.Equal(t, c.sees, err == nil, c.who.Person.Name)
		_, err = w.Attempt(ctx, c.who, b.ID)
		require.NoError(t, err)
	}
	_, err = w.Attempt(ctx, stranger, b.ID)
	require.ErrorIs(t, err, training.ErrNotFound)
	_, err = w.Attempt(ctx, w.preceptor, a.ID)
	require.ErrorIs(t, err, training.ErrNotFound)
}

func TestOrientations(t *testing.T) {
	w := staffed(t)
	set := func(who training.Actor, person, preceptor training.Actor, day training.Day) error {
		return second(w.SetOrientation(ctx, who, w.Key(), training.Orientation{PersonID: person.Person.ID, PreceptorID: preceptor.Person.ID, LastDay: day}))
	}
	require.ErrorIs(t, set(w.preceptor, w.trainee, w.preceptor, "2026-04-30"), training.ErrForbidden)
	require.ErrorIs(t, set(w.educator, w.trainee, w.trainee, "2026-04-30"), training.ErrInvalid)
	require.ErrorIs(t, set(w.educator, w.trainee, w.preceptor, "soon"), training.ErrInvalid)
	require.ErrorIs(t, set(w.educator, training.Actor{}, w.preceptor, "2026-04-30"), training.ErrNotFound)
	require.NoError(t, set(w.educator, w.trainee, w.preceptor, "2026-04-30"))
	require.NoError(t, set(w.educator, w.trainee, w.other, "2026-05-31"))
	rec, err := w.Record(ctx, w.educator, w.trainee.Person.ID)
	require.NoError(t, err)
	require.Equal(t, "Otto Invented", rec.Orientation.PreceptorName)
	require.Equal(t, "Edda Invented", rec.Orientation.SetByName)
	require.Equal(t, training.Day("2026-05-31"), rec.Orientation.LastDay)
	require.Equal(t, training.InstantOf(w.Now()), rec.Orientation.SetAt)

	own, err := w.Watching(ctx, w.other)
	require.NoError(t, err)
	require.Len(t, own.Own, 1)
	require.Equal(t, "Tess Invented", own.Own[0].Person.Name)
	m, p, ok := training.GoOn(own.Own[0].Ways)
	require.True(t, ok)
	require.Equal(t, "first", m.Module.ID)
	require.Equal(t, course.Read, m.Parts[p].Part.Kind)
	before, err := w.Watching(ctx, w.preceptor)
	require.NoError(t, err)
	require.Empty(t, before.Own, "the last word counts")
}

// The way on leads through the module one is in, and not to another that is open as well.
func TestTheWayOnStaysInItsModule(t *testing.T) {
	w := staffed(t)
	ways := func() []training.ModuleWay {
		all, err := w.CourseWays(ctx, w.trainee)
		require.NoError(t, err)
		return all
	}
	onward := func(module string, part int) string {
		m, p, ok := training.GoOnFrom(ways(), module, part)
		if !ok {
			return ""
		}
		return m.Module.ID + " " + m.Parts[p].Part.ID()
	}
	require.Equal(t, "first watch-ordinary-turnover", onward("first", 0), "what comes behind it, though it is itself open")
	require.Equal(t, "first read-hands", onward("first", 5), "then what was left out before it")
	require.Equal(t, "first read-hands", onward("no such", 0))
	require.Equal(t, "first read-hands", onward("annual", 0), "which comes later")
	w.Modules(w.trainee)
	require.Equal(t, "first watch-ordinary-turnover", onward("first", 0), "a passed module is gone through again")
	require.Equal(t, "twice test-ordinary-turnover", onward("first", 5), "and then the rest")

	module, part := training.PartOf(ways(), "ordinary-turnover", true)
	require.Equal(t, "first practise-ordinary-turnover", module+" "+ways()[0].Parts[part].Part.ID())
	module, _ = training.PartOf(ways(), "ordinary-turnover", false)
	require.Equal(t, "twice", module, "of two modules the one that is not finished")
	_, part = training.PartOf(ways(), "blood-on-the-machine", true)
	require.Equal(t, -1, part, "nowhere practised")

	_, err := w.CourseModule(ctx, w.trainee, "no-such")
	require.ErrorIs(t, err, training.ErrNotFound)
	one, err := w.CourseModule(ctx, w.trainee, "first")
	require.NoError(t, err)
	require.Equal(t, ways()[0], one)
}
