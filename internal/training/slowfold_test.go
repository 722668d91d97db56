package training

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"sort"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillwet/internal/assess"
)

// slow works standing out from its definition, sentence by sentence and day by day, and
// shares with Fold only the types and what the calendar says. What it knows of the history it
// keeps as plain sets.
type slow struct {
	c     Competency
	h     History
	today Day
	zone  *time.Location
}

// monthsLater counts calendar months; of days that a month does not have it takes its last.
func monthsLater(d Day, n int) Day {
	t := d.Time()
	for day := t.Day(); ; day-- {
		x := time.Date(t.Year(), t.Month()+time.Month(n), day, 12, 0, 0, 0, time.UTC)
		if x.Day() == day {
			return Day(x.Format(time.DateOnly))
		}
	}
}

// holding is what holds on a day: the newest version that has begun.
func (s slow) holding(day Day) Requirements {
	best := Requirements{}
	for _, r := range s.c.kept {
		if (r.From == "" || r.From <= day) && r.Version > best.Version {
			best = r
		}
	}
	if best.Version == 0 {
		best.Terms = s.c.startingTerms()
	}
	return best
}

func (s slow) upTo(at Instant) bool { return at.Day(s.zone) <= s.today }

func (s slow) last() (o SignOff, ok bool) {
	all := slices.Clone(s.h.SignOffs)
	sort.Slice(all, func(i, j int) bool { return all[i].SignedAt > all[j].SignedAt })
	for _, o := range all {
		known := o.EnteredAt == "" || s.upTo(o.EnteredAt) // one from paper counts once it is confirmed
		if o.Competency == s.c.ID && o.On <= s.today && known {
			return o, true
		}
	}
	return SignOff{}, false
}

// due goes from the sign-off to today, a day at a time, and looks whether what holds changed.
func (s slow) due(o SignOff) Day {
	due, months, seen := o.Due, 0, max(o.Requirements, 1)
	if months = s.c.IntervalMonths; len(s.c.kept) > 0 {
		months = s.c.kept[seen-1].Terms.IntervalMonths
	}
	for day := o.On; day <= s.today; day = day.AddDays(1) {
		now := s.holding(day)
		if now.Version <= seen {
			continue
		}
		seen = now.Version
		if now.Terms.Recount && now.Terms.IntervalMonths != months {
			due = monthsLater(o.On, now.Terms.IntervalMonths)
		}
		months = now.Terms.IntervalMonths
	}
	return due
}

// clean are the demonstrations that met the standard by the end of today, since a moment.
func (s slow) clean(since Instant) (all []Demonstration) {
	for _, d := range s.h.Demonstrations {
		signed := map[Meaning]Instant{}
		for _, n := range d.Signatures {
			signed[n.Meaning] = n.SignedAt
		}
		met := d.State == Ended && d.Stage != Withdrawn && d.Setting.Purpose != ForRoutine && d.Outcome == assess.Pass && !d.Prompted &&
			signed[LearnerDid] != "" && signed[WatchedMet] != "" && s.upTo(signed[WatchedMet])
		if met && d.Competency == s.c.ID && s.upTo(d.StartedAt) && d.StartedAt > since {
			all = append(all, d)
		}
	}
	return all
}

// enough asks a set of demonstrations three questions: how many there are, on how many days,
// by how many people.
func (s slow) enough(all []Demonstration, t Takes) bool {
	days, people := map[Day]bool{}, map[string]bool{}
	for _, d := range all {
		days[d.StartedAt.Day(s.zone)], people[d.PreceptorID] = true, true
	}
	return len(all) >= t.Clean && len(days) >= t.Days && len(people) >= t.Preceptors
}

func (s slow) begun() bool {
	for _, d := range s.h.Demonstrations {
		if d.Competency == s.c.ID && s.upTo(d.StartedAt) && d.State != Abandoned && d.Stage != Withdrawn && d.Setting.Purpose != ForRoutine {
			return true
		}
	}
	for _, a := range s.h.Attempts {
		if slices.Contains(s.c.Scenarios, a.ScenarioID) && s.upTo(a.FinishedAt) {
			return true
		}
	}
	return s.h.Working
}

// passed reports whether a test was passed, not in guided practice, after a moment.
func (s slow) passed(id string, after Instant) bool {
	return slices.ContainsFunc(s.h.Attempts, func(a Attempt) bool {
		return a.ScenarioID == id && a.Outcome == assess.Pass && !a.Guided && s.upTo(a.FinishedAt) && a.FinishedAt > after
	})
}

// missing are the tests to pass.
func (s slow) missing(t Takes, since Instant, signedOff bool) (ids []string) {
	for _, id := range s.c.Scenarios {
		ok := s.passed(id, "")
		if signedOff && t.Again == AgainAll {
			ok = s.passed(id, since)
		}
		for _, p := range s.h.Plans {
			if signedOff && t.Again == AgainMissed && p.Competency == s.c.ID && s.upTo(p.Proposed) && p.Began > since && slices.Contains(p.Scenarios, id) {
				ok = ok && s.passed(id, p.Began)
			}
		}
		if !ok {
			ids = append(ids, id)
		}
	}
	return ids
}

func (s slow) onPlan(since Instant) bool {
	return slices.ContainsFunc(s.h.Plans, func(p PlanSpan) bool {
		opened := p.Opened != "" && s.upTo(p.Opened) && p.Opened > since
		closed := p.Closed != "" && s.upTo(p.Closed)
		return p.Competency == s.c.ID && opened && !closed && len(s.clean(p.Opened)) == 0
	})
}

func (s slow) away(day Day) bool {
	return slices.ContainsFunc(s.h.Absences, func(a Absence) bool {
		return !a.Cancelled && s.upTo(a.At) && a.From <= day && (a.Until == "" || day <= a.Until)
	})
}

// unchecked looks at each leave that is over.
func (s slow) unchecked(o SignOff, notice Day) bool {
	return slices.ContainsFunc(s.h.Absences, func(a Absence) bool {
		over := !a.Cancelled && s.upTo(a.At) && a.Until != "" && a.Until < s.today
		if !over || a.Until < notice || o.On >= a.Until {
			return false
		}
		for _, d := range s.clean(o.SignedAt) {
			if d.StartedAt.Day(s.zone) > a.Until {
				return false
			}
		}
		return true
	})
}

// told is what a standing says.
type toldBySlow struct {
	word             StandingWord
	due              Day
	ready, unchecked bool
	enough, plan     bool
	missing          string
	alone            bool
}

func (s slow) told(p Person) (t toldBySlow) {
	terms := s.holding(s.today).Terms
	o, signedOff := s.last()
	takes, lapsed, due := terms.First, false, false
	if signedOff {
		t.due = s.due(o)
		notice := t.due.AddDays(-terms.NoticeDays)
		lapsed, due, takes = s.today > t.due, s.today >= notice, terms.Annual
		if lapsed {
			takes = terms.Lapsed
		}
		t.unchecked = s.unchecked(o, notice)
	}
	missing := s.missing(takes, o.SignedAt, signedOff)
	t.missing, t.plan, t.enough = fmt.Sprint(missing), s.onPlan(o.SignedAt), s.enough(s.clean(o.SignedAt), takes)
	old := signedOff || p.Hired == "" || terms.HireDays == 0 || s.today >= p.Hired.AddDays(terms.HireDays)
	t.ready = t.enough && len(missing) == 0 && old && !t.plan
	leave := s.away(s.today)
	switch { // the precedence, with a leave in place of two of them
	case lapsed:
		t.word = Lapsed
	case t.plan:
		t.word = OnPlan
	case due:
		t.word = DueSoon
	case signedOff:
		t.word = Current
	case t.ready:
		t.word = ReadyToSign
	case s.begun():
		t.word = InTraining
	default:
		t.word = NotStarted
	}
	may := map[StandingWord]bool{Current: true, DueSoon: terms.Alone.Due, Lapsed: terms.Alone.Lapsed, OnPlan: terms.Alone.OnPlan}[t.word]
	t.alone = may && signedOff && !leave && !t.unchecked && (!o.Elsewhere || terms.Alone.Elsewhere)
	if lapsed && t.plan && !terms.Alone.Lapsed {
		t.alone = false
	}
	if leave && (t.word == Lapsed || t.word == DueSoon) {
		t.word = OnLeave
	}
	return t
}

// lives makes random histories. Nothing in them is more likely to agree than not: days are
// few, so that things meet.
type lives struct{ *rand.Rand }

const lifeStart = Day("2024-02-20")

func (l lives) day() Day { return lifeStart.AddDays(l.IntN(720)) }

func (l lives) at() Instant {
	return InstantOf(l.day().Time().Add(time.Duration(l.IntN(24*60)) * time.Minute))
}

func (l lives) pick(words ...string) string { return words[l.IntN(len(words))] }

func (l lives) takes() Takes {
	t := Takes{Clean: 1 + l.IntN(3), Days: 1, Preceptors: 1, Again: Again(l.pick("none", "none", "missed", "all"))}
	t.Days, t.Preceptors = 1+l.IntN(t.Clean), 1+l.IntN(t.Clean)
	return t
}

func (l lives) terms() Terms {
	return Terms{First: l.takes(), Annual: l.takes(), Lapsed: l.takes(), Change: l.takes(), HireDays: l.IntN(2) * l.IntN(200), IntervalMonths: 1 + l.IntN(14),
		EarlyDays: l.IntN(20), NoticeDays: l.IntN(60), Recount: l.IntN(2) == 0, Alone: Alone{l.IntN(2) == 0, l.IntN(2) == 0, l.IntN(2) == 0, l.IntN(2) == 0}}
}

func (l lives) competency() Competency {
	c := Competency{ID: "c", Scenarios: []string{"a", "b"}, Demonstrations: 1 + l.IntN(2), Recheck: 1, IntervalMonths: 6 + l.IntN(7), NoticeDays: l.IntN(40)}
	if l.IntN(3) == 0 {
		return c
	}
	c.kept = []Requirements{{Competency: "c", Version: 1, Terms: c.startingTerms()}}
	for range 1 + l.IntN(3) {
		c.kept = append(c.kept, Requirements{Competency: "c", Version: len(c.kept) + 1, From: l.day(), Terms: l.terms()})
	}
	return c
}

func (l lives) demonstration(i int) Demonstration {
	at := l.at()
	d := Demonstration{ID: fmt.Sprint(i), Competency: l.pick("c", "c", "c", "c", "x"), PreceptorID: l.pick("p", "q"), StartedAt: at, State: Ended, Outcome: assess.Pass,
		Setting: Setting{Purpose: ForReturn}, Prompted: l.IntN(8) == 0}
	switch l.IntN(12) {
	case 0:
		d.Stage = Withdrawn
	case 1:
		d.Setting.Purpose = ForRoutine
	case 2:
		d.State = Abandoned
	case 3:
		d.Outcome = assess.NotPass
	}
	if l.IntN(8) > 0 {
		d.Signatures = append(d.Signatures, Signature{Meaning: LearnerDid, SignedAt: at})
	}
	if l.IntN(8) > 0 {
		d.Signatures = append(d.Signatures, Signature{Meaning: WatchedMet, SignedAt: at.Add(time.Duration(l.IntN(60)) * time.Hour)})
	}
	return d
}

func (l lives) plan() PlanSpan {
	p := PlanSpan{Competency: "c", Began: l.at(), Scenarios: [][]string{{"a"}, {"b"}, {"a", "b"}}[l.IntN(3)]}
	p.Proposed = p.Began.Add(time.Duration(1+l.IntN(50)) * time.Hour)
	if l.IntN(4) > 0 {
		p.Opened = p.Proposed.Add(time.Duration(1+l.IntN(100)) * time.Hour)
		if l.IntN(3) == 0 {
			p.Closed = p.Opened.Add(time.Duration(1+l.IntN(2000)) * time.Hour)
		}
	}
	return p
}

func (l lives) absence() Absence {
	a := Absence{From: l.day(), Cancelled: l.IntN(6) == 0}
	if l.IntN(4) > 0 {
		a.Until = a.From.AddDays(l.IntN(150))
	}
	a.At = Instant(a.From.AddDays(l.IntN(20)-10) + "T09:00:00.000Z")
	return a
}

func (l lives) history(c Competency, zone *time.Location) (h History) {
	for i := range l.IntN(7) {
		h.Attempts = append(h.Attempts, Attempt{ID: fmt.Sprint(i), ScenarioID: l.pick("a", "b", "x"), FinishedAt: l.at(), Outcome: assess.Outcome(l.pick("pass", "pass", "not pass")), Guided: l.IntN(6) == 0})
	}
	for i := range l.IntN(7) {
		h.Demonstrations = append(h.Demonstrations, l.demonstration(i))
	}
	for i := range l.IntN(4) {
		at := l.at()
		on := at.Day(zone)
		o := SignOff{ID: fmt.Sprint(i), Competency: l.pick("c", "c", "c", "x"), SignedAt: at, On: on, Requirements: slow{c: c}.holding(on).Version}
		o.Due = on.AddDays(10 + l.IntN(500))
		if l.IntN(3) == 0 { // from paper
			o.SignedAt, o.EnteredAt, o.Elsewhere = on.End(zone).Add(-time.Millisecond), l.at(), l.IntN(3) == 0
		}
		h.SignOffs = append(h.SignOffs, o)
	}
	for range l.IntN(3) {
		h.Plans = append(h.Plans, l.plan())
	}
	for range l.IntN(3) {
		h.Absences = append(h.Absences, l.absence())
	}
	h.Working = l.IntN(5) == 0
	return h
}

// The fold agrees with the definition on ten thousand random histories, and every standing
// comes about many times.
func TestFoldSaysWhatTheDefinitionSays(t *testing.T) {
	luck := rand.Uint64()
	t.Logf("luck %d", luck)
	l, zone := lives{rand.New(rand.NewPCG(luck, 1))}, chicago(t)
	words := map[StandingWord]int{}
	flags := map[string]int{}
	for range 10_000 {
		c := l.competency()
		h, p, today := l.history(c, zone), Person{ID: "p", Hired: Day(l.pick("", string(l.day())))}, l.day().AddDays(30)
		want := slow{c, h, today, zone}.told(p)
		st := Fold(p, c, h, today, zone)
		alone, why := st.MayWorkAlone()
		require.NotEmpty(t, why)
		is := toldBySlow{st.Word, st.Due, st.Ready, st.Unchecked != "", st.Watched(), st.Plan != nil, fmt.Sprint(st.MissingScenarios), alone}
		require.Equal(t, want, is, "%s of %+v\nby %+v", today, h, c)
		words[st.Word]++
		for flag, is := range map[string]bool{"unchecked": want.unchecked, "plan": want.plan, "alone": want.alone, "recounted": st.LastSignOff != nil && st.LastSignOff.Due != st.Due, "ready while it holds": st.ReadyAgain(),
			"from paper": st.LastSignOff != nil && st.LastSignOff.FromPaper(), "elsewhere": st.LastSignOff != nil && st.LastSignOff.Elsewhere && !alone} {
			if is {
				flags[flag]++
			}
		}
	}
	for _, w := range StandingWords {
		require.Greater(t, words[w], 20, w)
	}
	for _, flag := range []string{"unchecked", "plan", "alone", "recounted", "ready while it holds", "from paper", "elsewhere"} {
		require.Greater(t, flags[flag], 20, flag)
	}
}
