package training_test

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillwet/internal/clinictest"
	"stillwet/internal/training"
)

// observe is a routine observation that was watched to its end, and kept.
func (w *world) observe(at training.Setting, trainee string, lines []clinictest.Seen) string {
	id := w.ObserveUnread(w.preceptor, at, trainee, lines)
	_, err := w.Keep(ctx, w.preceptor, w.Key(), id)
	require.NoError(w.T, err)
	return id
}

// leavesOut is the good work without the wiping of one surface.
func (w *world) leavesOut(surface string) (lines []clinictest.Seen) {
	for _, l := range w.GoodWork() {
		if !strings.HasSuffix(l.Text, " "+surface) {
			lines = append(lines, l)
		}
	}
	require.Less(w.T, len(lines), len(w.GoodWork()), "nothing is done to %q", surface)
	return lines
}

// stoppedEarly is the beginning of the good work, stopped.
func (w *world) stoppedEarly() []clinictest.Seen {
	lines := w.GoodWork()[:20]
	return append(lines, clinictest.Seen{At: lines[19].At, Text: "stopped called-away"})
}

func (w *world) setObservationTarget(key string) (any, error) {
	return nil, w.SetObservationTarget(ctx, w.educator, key, 0, 14, "Two a week and shift.")
}

// A month is counted by hand: what counts, by shift, what was right as a whole and step by
// step, each with its own denominator, and what stands beside.
func TestAMonthOfObservationsIsCounted(t *testing.T) {
	w := staffed(t)
	in := func(shift, announced string) training.Setting {
		return training.Setting{Announced: announced, Discipline: "nurse", Shift: shift}
	}
	w.goTo("2026-03-31")
	w.Set(w.Today().End(w.Zone()).Time().Add(-time.Hour)) // the last hour of March here, April in UTC
	march := w.observe(in("late", "no"), "", w.GoodWork())
	w.goTo("2026-04-02")
	w.observe(in("Early", "no"), "", w.GoodWork())
	w.observe(in("  early ", "no"), "", w.leavesOut("counter"))
	w.observe(in("EARLY", "yes"), "", w.GoodWork())
	w.goTo("2026-04-20")
	w.observe(in("", "yes"), "", w.watched("prompted"))
	named := w.observe(training.Setting{Announced: "no", Shift: "Late"}, w.trainee.Person.ID, w.leavesOut("counter"))
	w.observe(in("late", "no"), "", w.stoppedEarly())
	w.ObserveUnread(w.preceptor, in("late", "no"), "", w.GoodWork())
	_, err := w.Withdraw(ctx, w.educator, w.Key(), w.observe(in("late", "no"), "", w.GoodWork()), "It was the isolation room.", training.DemoPassword)
	require.NoError(t, err)
	_, err = w.StartWatching(ctx, w.preceptor, w.Key(), training.Start{Competency: turnover, Product: "station-wipe", Setting: training.Setting{Purpose: training.ForRoutine, Announced: "no", Discipline: "nurse"}})
	require.NoError(t, err)
	w.Pass(time.Hour)
	w.met(w.other) // a return demonstration
	may := func() {
		w.goTo("2026-05-01")
		w.observe(in("late", "no"), "", w.GoodWork())
	}
	may()

	page, err := w.ObservedIn(ctx, w.educator, "2026-04")
	require.NoError(t, err)
	require.Equal(t, training.Month("2026-03"), page.First)
	require.Equal(t, training.Month("2026-05"), page.This)
	require.Equal(t, []int{2, 2, 1}, []int{page.All.Right, page.All.Missed, page.All.Unknown}, "of the one with a prompt nobody knows")
	require.Equal(t, training.Rate{K: 2, N: 4}, page.All.Whole())
	require.Equal(t, training.NotCounted{Open: 1, Waiting: 1, Stopped: 1, Withdrawn: 1}, page.Beside)
	require.Equal(t, 1, page.Returns)

	var shifts []string
	for _, s := range page.Shifts {
		shifts = append(shifts, s.Shift)
	}
	require.Equal(t, []string{"Early", "Late", ""}, shifts, "one word for each, whatever its capitals, and what nobody said last")
	require.Equal(t, training.Rate{K: 2, N: 3}, page.Shifts[0].Whole())
	require.Equal(t, training.Rate{K: 0, N: 1}, page.Shifts[1].Whole())
	require.Equal(t, training.Rate{K: 0, N: 0}, page.Shifts[2].Whole())
	require.Equal(t, []int{2, 3, 0}, []int{page.Told.N(), page.Untold.N(), page.Unsaid.N()})

	all, sum := training.Rate{}, 0
	for _, r := range page.Rows {
		all.K, all.N = all.K+r.Marks.K, all.N+r.Marks.N
	}
	for _, s := range page.Shifts {
		sum += s.Marks.N
	}
	require.Equal(t, all, page.All.Marks)
	require.Equal(t, all.N, sum)
	require.Equal(t, 2, all.N-all.K, "two missed marks in all, one of each that missed something")
	require.Equal(t, []training.MissedMark{{Title: "Every listed surface disinfected", Rate: training.Rate{K: 2, N: 5}}}, page.Missed)
	require.Equal(t, []training.MissedSurface{{Title: "Counter", N: 2}}, page.Places)
	require.LessOrEqual(t, page.All.Whole().Share(), 1-page.Missed[0].Share(), "the whole is never above its worst step")

	require.Len(t, page.Rows, 5)
	require.Equal(t, named, page.Rows[0].ID, "newest first")
	require.Equal(t, "Tess Invented", page.Names[page.Rows[0].TraineeID])
	require.Equal(t, []string{"Not wiped with disinfectant: the counter."}, page.Rows[0].Told)

	before, err := w.ObservedIn(ctx, w.educator, "2026-03")
	require.NoError(t, err)
	require.Len(t, before.Rows, 1, "months are those of the clinic's zone")
	require.Equal(t, march, before.Rows[0].ID)
	year, err := w.AnnualFor(ctx, 2026)
	require.NoError(t, err)
	require.Len(t, year.Observed[1].Gone, 1, "that one was withdrawn stays to be seen")
	require.Len(t, year.Observed, 3, "from the first month of all to this one")
	for i, month := range []training.Month{"2026-03", "2026-04", "2026-05"} {
		shown, err := w.ObservedIn(ctx, w.educator, string(month))
		require.NoError(t, err)
		require.Equal(t, month, year.Observed[i].Month)
		require.Equal(t, shown.All, year.Observed[i].All, "the workbook counts what the page counts")
		require.Equal(t, shown.Shifts, year.Observed[i].Shifts)
		require.Equal(t, shown.Target, year.Observed[i].Target)
	}
	now, err := w.ObservedNow(ctx, w.educator)
	require.NoError(t, err)
	require.Equal(t, training.ObservedCount{Month: "2026-05", N: 1, Target: 10}, now)
}

// Who is not named is named nowhere, and who reads numbers only gets no single observation.
func TestObservationsOfNobodyStayNobodys(t *testing.T) {
	w := staffed(t)
	w.observe(training.Setting{Announced: "no", Discipline: "technician", Shift: "night"}, "", w.GoodWork())
	page, err := w.ObservedIn(ctx, w.educator, "")
	require.NoError(t, err)
	require.Equal(t, map[string]string{w.preceptor.Person.ID: "Pia Invented"}, page.Names)
	require.Empty(t, page.Rows[0].TraineeID)
	page, err = w.ObservedIn(ctx, w.hire("Mona Invented", "mona", training.Manager), "")
	require.NoError(t, err)
	require.Equal(t, 1, page.All.N())
	require.Empty(t, page.Rows)
	require.Empty(t, page.Names)
}

func TestAMonthThatCannotBeShownIsRefused(t *testing.T) {
	w := staffed(t)
	for month, told := range map[string]string{
		"2026-04": "2026-04 has not begun. Choose a month up to 2026-03.",
		"2026-13": `"2026-13" is no month. Write it as 2026-03.`,
		"2026-3":  `"2026-3" is no month. Write it as 2026-03.`,
		"March":   `"March" is no month. Write it as 2026-03.`,
	} {
		_, err := w.ObservedIn(ctx, w.educator, month)
		require.ErrorIs(t, err, training.ErrInvalid)
		require.ErrorContains(t, err, told)
	}
	_, err := w.ObservedIn(ctx, w.preceptor, "")
	require.ErrorIs(t, err, training.ErrForbidden)
	page, err := w.ObservedIn(ctx, w.educator, "2024-02")
	require.NoError(t, err)
	require.Empty(t, page.First)
	require.Zero(t, page.All.N())
	require.Equal(t, training.Day("2024-02-29"), training.Month("2024-02").Last())
	require.Equal(t, training.Month("2025-12"), training.Month("2026-01").Add(-1))
}

// A target is a version with who, when and why; months that are over keep theirs.
func TestTheTargetOfAMonthIsKeptInVersions(t *testing.T) {
	w := staffed(t)
	monthly := func(month string) int {
		page, err := w.ObservedIn(ctx, w.educator, month)
		require.NoError(t, err)
		return page.Target.Monthly
	}
	require.Equal(t, training.StartingTarget, monthly(""))
	require.NoError(t, w.SetObservationTarget(ctx, w.educator, w.Key(), 0, 14, "Two a week and shift."))
	require.Equal(t, 14, monthly(""))
	require.Equal(t, 10, monthly("2026-02"), "it was not there yet")
	w.goTo("2026-05-05")
	require.NoError(t, w.SetObservationTarget(ctx, w.educator, w.Key(), 1, 0, "We stop for now."))
	require.Equal(t, []int{14, 14, 0}, []int{monthly("2026-03"), monthly("2026-04"), monthly("2026-05")})

	for told, try := range map[string]func() error{
		"The target is a whole number from 0 to 500":       func() error { return w.SetObservationTarget(ctx, w.educator, w.Key(), 2, 501, "More.") },
		"whole number from 0 to 500. 0 is none.":           func() error { return w.SetObservationTarget(ctx, w.educator, w.Key(), 2, -1, "Fewer.") },
		"Say why":                                          func() error { return w.SetObservationTarget(ctx, w.educator, w.Key(), 2, 5, " ") },
		"The target is 0 already.":                         func() error { return w.SetObservationTarget(ctx, w.educator, w.Key(), 2, 0, "Once more.") },
		"Edda Invented changed the target meanwhile. Look": func() error { return w.SetObservationTarget(ctx, w.educator, w.Key(), 1, 5, "Five.") },
		"Your role does not allow this.":                   func() error { return w.SetObservationTarget(ctx, w.preceptor, w.Key(), 2, 5, "Five.") },
	} {
		require.ErrorContains(t, try(), told)
	}
	log, err := w.Changes(ctx, w.educator, training.ChangeQuery{Group: training.ChangesOfRequirements})
	require.NoError(t, err)
	require.Equal(t, []string{"0", "14"}, []string{log.All[0].Is["monthly"], log.All[0].Was["monthly"]})
	require.Equal(t, "We stop for now.", log.All[0].Is["why"])
	w.verifies()
}
