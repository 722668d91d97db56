package training

import (
	"fmt"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillwet/internal/assess"
)

var yearly = Competency{ID: "c", Scenarios: []string{"a", "b"}, Demonstrations: 2, Recheck: 1, IntervalMonths: 12, NoticeDays: 30}

func passed(scenario string, day Day) Attempt {
	return Attempt{ID: scenario + string(day), ScenarioID: scenario, FinishedAt: Instant(day + "T12:00:00.000Z"), Outcome: assess.Pass}
}

// watched is a demonstration with both signatures; change makes it another.
func watched(at Instant, change func(*Demonstration)) Demonstration {
	d := Demonstration{ID: "d" + string(at), Competency: "c", StartedAt: at, State: Ended, Outcome: assess.Pass, Signatures: []Signature{
		{Meaning: LearnerDid, SignedAt: at}, {Meaning: WatchedMet, SignedAt: at}}}
	if change != nil {
		change(&d)
	}
	return d
}

func off(day Day) SignOff {
	return SignOff{ID: "s" + string(day), Competency: "c", On: day, SignedAt: Instant(day + "T12:00:00.000Z"), Due: day.AddMonths(12)}
}

func withdrawnOn(day, ended Day) SignOff {
	o := off(day)
	o.End = End{At: Instant(ended + "T12:00:00.000Z")}
	return o
}

func TestFold(t *testing.T) {
	both := []Attempt{passed("a", "2026-01-10"), passed("b", "2026-01-11")}
	first, second := watched("2026-01-12T15:00:00.000Z", nil), watched("2026-01-13T15:00:00.000Z", nil)
	clean := []Demonstration{second, first}
	with := func(change func(*Demonstration)) []Demonstration {
		return []Demonstration{first, watched("2026-01-13T15:00:00.000Z", change)}
	}
	for _, c := range []struct {
		name  string
		h     History
		today Day
		word  StandingWord
		ready bool
		clean int
	}{
		{"nothing", History{}, "2026-02-01", NotStarted, false, 0},
		{"a draft", History{Working: true}, "2026-02-01", InTraining, false, 0},
		{"a failed try", History{Attempts: []Attempt{{ScenarioID: "a", Outcome: assess.NotPass}}}, "2026-02-01", InTraining, false, 0},
		{"a try at something else", History{Attempts: []Attempt{passed("other", "2026-01-01")}}, "2026-02-01", NotStarted, false, 0},
		{"modules only", History{Attempts: both}, "2026-02-01", InTraining, false, 0},
		{"demonstrations only", History{Demonstrations: clean}, "2026-02-01", InTraining, false, 2},
		{"all of it", History{Attempts: both, Demonstrations: clean}, "2026-02-01", ReadyToSign, true, 2},
		{"all of it, seen a day too early", History{Attempts: both, Demonstrations: clean}, "2026-01-12", InTraining, false, 1},
		{"incomplete module", History{Attempts: []Attempt{both[0], {ScenarioID: "b", Outcome: assess.Incomplete}}, Demonstrations: clean}, "2026-02-01", InTraining, false, 2},
		{"one prompted", History{Attempts: both, Demonstrations: with(func(d *Demonstration) { d.Prompted = true })}, "2026-02-01", InTraining, false, 1},
		{"one not passing", History{Attempts: both, Demonstrations: with(func(d *Demonstration) { d.Outcome = assess.NotPass })}, "2026-02-01", InTraining, false, 1},
		{"one without the learner", History{Attempts: both, Demonstrations: with(func(d *Demonstration) { d.Signatures = d.Signatures[1:] })}, "2026-02-01", InTraining, false, 1},
		{"one signed as practice", History{Attempts: both, Demonstrations: with(func(d *Demonstration) { d.Signatures[1].Meaning = WatchedPractice })}, "2026-02-01", InTraining, false, 1},
		{"one unsigned", History{Attempts: both, Demonstrations: with(func(d *Demonstration) { d.Signatures = nil })}, "2026-02-01", InTraining, false, 1},
		{"one signed the day after", History{Attempts: both, Demonstrations: with(func(d *Demonstration) { d.Signatures[1].SignedAt = "2026-02-02T12:00:00.000Z" })}, "2026-02-01", InTraining, false, 1},
		{"both on one clinic day, two days in UTC", History{Attempts: both, Demonstrations: []Demonstration{
			watched("2026-01-12T15:00:00.000Z", nil), watched("2026-01-13T05:30:00.000Z", nil)}}, "2026-02-01", InTraining, false, 1},
		{"two clinic days, one day in UTC", History{Attempts: both, Demonstrations: []Demonstration{
			watched("2026-01-13T05:30:00.000Z", nil), watched("2026-01-13T15:00:00.000Z", nil)}}, "2026-02-01", ReadyToSign, true, 2},
		{"signed off", History{Attempts: both, Demonstrations: clean, SignOffs: []SignOff{off("2026-01-14")}}, "2026-01-14", Current, false, 0},
		{"the day before the notice", History{SignOffs: []SignOff{off("2026-01-14")}}, "2026-12-14", Current, false, 0},
		{"the first day of notice", History{SignOffs: []SignOff{off("2026-01-14")}}, "2026-12-15", DueSoon, false, 0},
		{"the due day", History{SignOffs: []SignOff{off("2026-01-14")}}, "2027-01-14", DueSoon, false, 0},
		{"the day after", History{SignOffs: []SignOff{off("2026-01-14")}}, "2027-01-15", Lapsed, false, 0},
		{"a recheck needs one", History{Attempts: both, SignOffs: []SignOff{off("2026-01-14")}, Demonstrations: append(clean,
			watched("2026-12-20T15:00:00.000Z", nil))}, "2026-12-21", DueSoon, true, 1},
		{"signed again", History{SignOffs: []SignOff{off("2027-01-02"), off("2026-01-14")}}, "2027-01-20", Current, false, 0},
		{"withdrawn", History{Attempts: both, Demonstrations: clean, SignOffs: []SignOff{withdrawnOn("2026-01-14", "2026-01-20")}}, "2026-01-20", ReadyToSign, true, 2},
		{"the day before it was withdrawn", History{SignOffs: []SignOff{withdrawnOn("2026-01-14", "2026-01-20")}}, "2026-01-19", Current, false, 0},
		{"the second withdrawn", History{SignOffs: []SignOff{withdrawnOn("2027-01-02", "2027-01-19"), off("2026-01-14")}}, "2027-01-20", Lapsed, false, 0},
		{"another competency's sign-off", History{SignOffs: []SignOff{{Competency: "x", On: "2026-01-14", Due: "2027-01-14"}}}, "2026-02-01", NotStarted, false, 0},
		{"as of a day before the sign-off", History{SignOffs: []SignOff{off("2026-01-14")}}, "2026-01-13", NotStarted, false, 0},
	} {
		t.Run(c.name, func(t *testing.T) {
			st := Fold(Person{}, yearly, c.h, c.today, chicago(t))
			require.Equal(t, c.word, st.Word)
			require.Equal(t, c.ready, st.Ready)
			require.Len(t, st.Clean, c.clean)
		})
	}
}

func chicago(t *testing.T) *time.Location {
	zone, err := time.LoadLocation("America/Chicago")
	require.NoError(t, err)
	return zone
}

// Two gaps from a published citation of a laboratory's competency records: 13
// March 2018 to 3 September 2019 and on to 2 March 2021 were both cited as
// overdue under a yearly assessment.
func TestPublishedGapsAreOverdue(t *testing.T) {
	days := []Day{"2018-03-13", "2019-09-03", "2021-03-02"}
	for i, next := range days[1:] {
		h := History{SignOffs: []SignOff{off(days[i])}}
		require.Equal(t, Lapsed, Fold(Person{}, yearly, h, next, time.UTC).Word, "until %s", next)
		due := days[i].AddMonths(12)
		require.Equal(t, []Day{"2019-03-13", "2020-09-03"}[i], due)
		require.Equal(t, DueSoon, Fold(Person{}, yearly, h, due, time.UTC).Word)
		require.Equal(t, Lapsed, Fold(Person{}, yearly, h, due.AddDays(1), time.UTC).Word)
	}
}

func TestFoldDoesNotDependOnOrder(t *testing.T) {
	h := History{Attempts: []Attempt{passed("a", "2026-01-10"), passed("b", "2026-01-11"), passed("a", "2026-01-09")},
		SignOffs: []SignOff{off("2025-01-14"), off("2026-01-14"), off("2024-01-14")}}
	for i := range 4 {
		h.Demonstrations = append(h.Demonstrations, watched(Instant(fmt.Sprintf("2026-02-%02dT15:00:00.000Z", 10+i)), nil))
	}
	want := Fold(Person{}, yearly, h, "2026-03-01", time.UTC)
	require.Equal(t, []string{"a2026-01-09", "b2026-01-11"}, want.passing, "the first pass is the evidence")
	back := History{Attempts: reversed(h.Attempts), Demonstrations: reversed(h.Demonstrations), SignOffs: reversed(h.SignOffs)}
	got := Fold(Person{}, yearly, back, "2026-03-01", time.UTC)
	require.Equal(t, want, got)
}

// reversed is a copy: a standing points into the list it was folded from.
func reversed[T any](s []T) []T {
	s = slices.Clone(s)
	slices.Reverse(s)
	return s
}

// Where each kind of station is to be shown, what is asked for is asked at each, on days of
// their own there; more of one counts for no other.
func TestEachVariantIsShown(t *testing.T) {
	both := []Attempt{passed("a", "2026-01-10"), passed("b", "2026-01-11")}
	at := func(day Day, station string) Demonstration {
		return watched(Instant(day+"T15:00:00.000Z"), func(d *Demonstration) { d.Procedure, d.ID = station, d.ID+station })
	}
	c := yearly
	c.Procedure, c.Variants = "chair", []string{"bed"}
	each := c
	each.EachVariant = true
	for _, x := range []struct {
		name           string
		shown          []Demonstration
		one, each      int
		readyO, readyE bool
	}{
		{"two at the chair", []Demonstration{at("2026-01-12", "chair"), at("2026-01-13", "chair")}, 2, 2, true, false},
		{"four at the chair", []Demonstration{at("2026-01-12", "chair"), at("2026-01-13", "chair"), at("2026-01-14", "chair"), at("2026-01-15", "chair")}, 4, 2, true, false},
		{"one at each", []Demonstration{at("2026-01-12", "chair"), at("2026-01-13", "bed")}, 2, 2, true, false},
		{"two at each, of which two on a day", []Demonstration{at("2026-01-12", "chair"), at("2026-01-12", "bed"), at("2026-01-13", "chair"), at("2026-01-14", "bed")}, 3, 4, true, true},
		{"twice on a day at the bed", []Demonstration{at("2026-01-12", "chair"), at("2026-01-13", "chair"), at("2026-01-14", "bed"), watched("2026-01-14T18:00:00.000Z", func(d *Demonstration) { d.Procedure = "bed" })}, 3, 3, true, false},
		{"at a station that is not offered any more", []Demonstration{at("2026-01-12", "chair"), at("2026-01-13", "chair"), at("2026-01-14", "sofa"), at("2026-01-15", "sofa")}, 4, 2, true, false},
	} {
		h := History{Attempts: both, Demonstrations: x.shown}
		st := Fold(Person{}, c, h, "2026-02-01", time.UTC)
		require.Equal(t, x.readyO, st.Ready, x.name)
		require.Len(t, st.Clean, x.one, x.name)
		require.Equal(t, 2, st.Needed)
		st = Fold(Person{}, each, h, "2026-02-01", time.UTC)
		require.Equal(t, x.readyE, st.Ready, x.name)
		require.Len(t, st.Clean, x.each, x.name)
		require.Equal(t, 4, st.Needed)
	}
	h := History{Attempts: both, Demonstrations: []Demonstration{at("2026-03-12", "chair")}, SignOffs: []SignOff{off("2026-02-01")}}
	require.Equal(t, 2, Fold(Person{}, each, h, "2026-04-01", time.UTC).Needed, "one for each later one, at each")
}
