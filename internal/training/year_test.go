package training_test

import (
	"os"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillwet/internal/clinictest"
	"stillwet/internal/training"
)

// year is a clinic over which a year goes by.
type year struct {
	*world
	people map[string]training.Person
}

func (y *year) as(username string) training.Actor { return y.In(username) }

func (y *year) hires(name string) {
	y.people[name] = y.Hire(y.as("edda"), name+" Invented", strings.ToLower(name), training.Trainee).Person
}

// shows is a demonstration that both sign as met, or as not met.
func (y *year) shows(name, by string, m training.Meaning) training.Demonstration {
	d := y.Watch(y.as(by), y.as(strings.ToLower(name)), y.GoodWork())
	return y.SignBoth(y.as(by), d, strings.ToLower(name), m)
}

func (y *year) signsOff(name, by string) training.SignOff {
	o, err := y.SignOff(ctx, y.as(by), y.Key(), y.people[name].ID, turnover, clinictest.Password)
	require.NoError(y.T, err)
	return o
}

func (y *year) requires(from training.Day, change func(*training.Terms)) {
	edda := y.as("edda")
	of, err := y.RequirementsFor(ctx, edda, turnover)
	require.NoError(y.T, err)
	terms := of.Now.Terms
	change(&terms)
	_, err = y.ChangeRequirements(ctx, edda, y.Key(), of.Newest, training.Requirements{Competency: turnover, From: from, Terms: terms, Why: "The policy."})
	require.NoError(y.T, err)
}

// is what one row of the table says.
func (y *year) is(row []string) {
	name, want := row[1], row[2:5]
	rec, err := y.Record(ctx, y.as("edda"), y.people[name].ID)
	require.NoError(y.T, err)
	require.Len(y.T, rec.Standings, 1, name)
	st := rec.Standings[0]
	may, _ := st.MayWorkAlone()
	require.Equal(y.T, want, []string{string(st.Word), string(st.Due), map[bool]string{true: "yes", false: "no"}[may]}, "%s on %s: %s", name, row[0], row[5])
}

// table is the standings by hand, by day.
func table(t *testing.T) map[training.Day][][]string {
	text, err := os.ReadFile("testdata/year.txt")
	require.NoError(t, err)
	of := map[training.Day][][]string{}
	for line := range strings.Lines(string(text)) {
		if strings.HasPrefix(line, "#") {
			continue
		}
		row := strings.Split(line, "|")
		require.Len(t, row, 6, line)
		for i := range row {
			row[i] = strings.TrimSpace(row[i])
		}
		of[training.Day(row[0])] = append(of[training.Day(row[0])], row)
	}
	require.NotEmpty(t, of)
	return of
}

// A year of hires, a plan, leaves, lapses, changed requirements, a changed label and a
// withdrawn sign-off ends, on each day that was looked at, with what a hand calculation gives.
func TestAYear(t *testing.T) {
	w := withSets(t)
	y := &year{world: w, people: map[string]training.Person{"Tess": w.trainee.Person}}
	var plan training.Plan
	var leave training.Absence
	var error1 training.SignOff
	days := map[training.Day]func(){
		"2026-03-03": func() { y.Modules(y.as("tess")); y.shows("Tess", "pia", training.WatchedMet) },
		"2026-03-04": func() { y.shows("Tess", "otto", training.WatchedMet); y.signsOff("Tess", "pia") },
		"2026-03-10": func() { y.hires("Uma"); y.Modules(y.as("uma")) },
		"2026-04-01": func() { y.shows("Uma", "pia", training.WatchedMet) },
		"2026-04-02": func() { y.shows("Uma", "otto", training.WatchedMet); y.signsOff("Uma", "otto") },
		"2026-06-01": func() {
			y.requires("2026-07-01", func(x *training.Terms) { x.IntervalMonths, x.NoticeDays, x.EarlyDays = 6, 45, 30 })
		},
		"2026-07-15": func() { y.hires("Vera"); y.hires("Xan"); y.Modules(y.as("vera")); y.Modules(y.as("xan")) },
		"2026-07-20": func() { y.shows("Vera", "pia", training.WatchedMet) },
		"2026-07-21": func() { y.shows("Vera", "otto", training.WatchedMet); error1 = y.signsOff("Vera", "otto") },
		"2026-08-10": func() {
			d := y.shows("Tess", "pia", training.WatchedNotMet)
			plans, err := y.Store.Plans(ctx, training.PlanQuery{DemonstrationID: d.ID})
			require.NoError(t, err)
			plan = plans[0]
		},
		"2026-08-11": func() {
			_, err := y.AnswerPlan(ctx, y.as("edda"), y.Key(), plan.ID, training.PlanOpened, y.Today().AddDays(14), "Hands.")
			require.NoError(t, err)
		},
		"2026-08-20": func() { y.shows("Tess", "otto", training.WatchedMet) },
		"2026-08-30": func() { y.shows("Xan", "pia", training.WatchedMet) },
		"2026-08-31": func() {
			y.shows("Xan", "otto", training.WatchedMet)
			y.signsOff("Xan", "otto")
			a, err := y.EnterAbsence(ctx, y.as("edda"), y.Key(), training.Absence{PersonID: y.people["Uma"].ID, From: "2026-09-01"})
			require.NoError(t, err)
			leave = a
		},
		"2026-10-01": func() {
			y.educator = y.as("edda")
			v := y.approved(y.proposed("Other wipe"), y.Today())
			y.confirmed(v, y.asked(training.Trainee, training.DemonstrationDuty, turnover))
		},
		"2026-10-06": func() {
			y.shows("Vera", "pia", training.WatchedMet)
			duties, err := y.DutiesOf(ctx, y.as("edda"), y.people["Vera"].ID)
			require.NoError(t, err)
			require.Len(t, duties, 1)
			require.False(t, duties[0].Open(), "shown anew")
		},
		"2026-11-02": func() {
			_, err := y.WithdrawSignOff(ctx, y.as("edda"), y.Key(), error1.ID, "Signed for the wrong person.", clinictest.Password)
			require.NoError(t, err)
		},
		"2026-11-03": func() { y.signsOff("Vera", "pia") },
		"2026-12-20": func() {
			y.requires("2027-01-15", func(x *training.Terms) { x.IntervalMonths, x.Recount = 10, true })
		},
		"2027-01-20": func() { y.signsOff("Tess", "pia") }, // on the clean demonstration of August
		"2027-02-15": func() {
			_, err := y.EnterAbsence(ctx, y.as("edda"), y.Key(), training.Absence{ID: leave.ID, PersonID: leave.PersonID, From: leave.From, Until: "2027-02-20"})
			require.NoError(t, err)
		},
		"2027-02-24": func() { y.shows("Uma", "pia", training.WatchedMet) },
		"2027-02-25": func() { y.signsOff("Uma", "pia") },
	}
	rows := table(t)
	for day := y.Today(); day <= "2027-02-27"; day = day.AddDays(1) {
		do, look := days[day], rows[day]
		if do == nil && look == nil {
			continue
		}
		y.Set(day.Time().Add(16 * time.Hour)) // ten or eleven in Chicago
		if do != nil {
			do()
		}
		for _, row := range look {
			y.is(row)
		}
		delete(rows, day)
	}
	require.Empty(t, rows, "every row was looked at")
	report, err := y.Verify(ctx)
	require.NoError(t, err)
	require.Empty(t, report.Faults)
}
