package training_test

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillwet/internal/roster"
	"stillwet/internal/training"
)

func (w *world) roster(text string) *roster.File {
	w.T.Helper()
	f, err := roster.Read(strings.NewReader(text), int64(len(text)), roster.Options{Today: time.Date(2026, 3, 2, 0, 0, 0, 0, time.UTC)})
	require.NoError(w.T, err)
	return f
}

func (w *world) preview(text string) training.RosterPlan {
	w.T.Helper()
	plan, err := w.PreviewRoster(ctx, w.educator, w.roster(text))
	require.NoError(w.T, err)
	return plan
}

// imported brings a roster in and answers who came by it.
func (w *world) imported(text string) (added []training.Person) {
	w.T.Helper()
	plan := w.preview(text)
	done, err := w.ConfirmRoster(ctx, w.educator, w.Key(), w.roster(text), plan.Seen, nil)
	require.NoError(w.T, err)
	require.Equal(w.T, training.RosterDone{New: len(plan.New), Changed: len(plan.Changed), Same: plan.Same}, done)
	people, err := w.Store.People(ctx)
	require.NoError(w.T, err)
	for _, x := range plan.New {
		for _, p := range people {
			if p.Name == x.Is.Name {
				added = append(added, p)
			}
		}
	}
	return added
}

// state is everybody in short.
func (w *world) state() (out []string) {
	w.T.Helper()
	people, err := w.Store.People(ctx)
	require.NoError(w.T, err)
	for _, p := range people {
		out = append(out, fmt.Sprintf("%s|%s|%s|%s", p.Name, p.StaffNo, p.Role, p.Hired)+strings.TrimRight(fmt.Sprintf("|%s|%s|%s|%s|%s", p.Also, p.Job, p.Team, p.Email, p.Left), "|"))
	}
	return out
}

const listed = "Staff number,Name,Role,Hired\n0042,Ann Lee,staff,2024-03-15\n7,Bo Ek,preceptor,2023-01-02\n,Tess Invented,staff,2025-01-02\n"

func TestARosterAddsAndChangesPeople(t *testing.T) {
	w := staffed(t)
	plan := w.preview(listed)
	require.Empty(t, plan.Faults)
	require.Len(t, plan.New, 2)
	require.Len(t, plan.Changed, 1)
	require.Equal(t, training.Day("2025-01-02"), plan.Changed[0].Is.Hired)
	var absent []string
	for _, p := range plan.Absent {
		absent = append(absent, p.Name)
	}
	require.Contains(t, absent, "Edda Invented")
	require.NotContains(t, absent, "Tess Invented")

	before := w.state()
	added := w.imported(listed)
	require.Len(t, w.state(), len(before)+2, "nobody is removed by absence")
	require.Equal(t, "0042", added[0].StaffNo)
	_, err := w.Store.AccountOf(ctx, added[0].ID)
	require.ErrorIs(t, err, training.ErrNotFound, "nobody gets an account by it")
	rec, err := w.Record(ctx, w.educator, added[0].ID)
	require.NoError(t, err)
	require.True(t, rec.NoAccount)
	about, err := w.Store.LeavesOf(ctx, training.PersonLeaf, added[1].ID, 5)
	require.NoError(t, err)
	require.Len(t, about, 1)
	require.Equal(t, "Edda Invented", about[0].Named(training.PartBy).Name)
	require.Contains(t, string(about[0].Bytes), `"through":"roster"`)
	w.verifies()

	again := w.preview(listed)
	require.Equal(t, 3, again.Same)
	size, err := w.Store.Ledger(ctx)
	require.NoError(t, err)
	w.imported(listed)
	now, err := w.Store.Ledger(ctx)
	require.NoError(t, err)
	require.Equal(t, size.Size, now.Size, "the same file twice changes nothing")

	w.imported(strings.ReplaceAll(listed, "Ann Lee,staff", "Ann Lee-Berg,preceptor"))
	require.Contains(t, w.state(), "Ann Lee-Berg|0042|preceptor|2024-03-15")
	w.verifies()
}

// Who was typed without a number gets the one of the list, by a name that is unique.
func TestARosterGivesNumbers(t *testing.T) {
	w := staffed(t)
	w.imported("Name,Role\nAnn Lee,staff\n")
	w.imported("Staff number,Name,Role\n0042,Ann Lee,staff\n")
	require.Contains(t, w.state(), "Ann Lee|0042|trainee|")
	require.NotContains(t, w.state(), "Ann Lee||trainee|")
	plan := w.preview("Staff number,Name,Role\n,Tess Invented,staff\n8,Tess Invented,staff\n")
	require.Len(t, plan.Faults, 1)
	require.Equal(t, "Row 3 has the same name and a staff number. Give this row its staff number, or delete it.", plan.Faults[0].Do)
}

// A list says further roles, job, team, e-mail and the last day as well. A last day that is
// over closes the account.
func TestARosterSaysMoreOfPeople(t *testing.T) {
	w := staffed(t)
	text := "Name,Role,Job,Shift,Email,Last day\nTess Invented,\"manager, staff\",\"RN ,  lead\",early,t@example.org,\nOtto Invented,,,late,,2026-03-01\nNora,student,,,,\n"
	require.Len(t, w.preview(text).Faults, 1)
	text = strings.Replace(text, "student", "staff", 1)
	w.imported(text)
	require.Contains(t, w.state(), "Tess Invented||trainee|2026-01-05|manager|RN, lead|early|t@example.org")
	require.Contains(t, w.state(), "Otto Invented||preceptor|2026-01-05|||late||2026-03-01")
	_, _, err := w.SignIn(ctx, "otto", training.DemoPassword)
	require.ErrorIs(t, err, training.ErrPassword)
	account, err := w.Store.AccountOf(ctx, w.other.Person.ID)
	require.NoError(t, err)
	require.True(t, account.Disabled)
	require.Equal(t, 3, w.preview(text).Same, "the same file twice changes nothing")
	w.verifies()
}

// Nobody leaves by not being in the list; the educator ticks who has, all or nothing.
func TestWhoIsNotInTheListIsTicked(t *testing.T) {
	w := staffed(t)
	edda, otto, tess := w.educator.Person.ID, w.other.Person.ID, w.trainee.Person.ID
	plan := w.preview(listed)
	require.Len(t, plan.Absent, 3)
	confirm := func(left map[string]training.Day) (training.RosterDone, error) {
		return w.ConfirmRoster(ctx, w.In("edda"), w.Key(), w.roster(listed), plan.Seen, left)
	}
	before := w.state()
	for want, left := range map[string]map[string]training.Day{
		"Give the last day.":                     {otto: ""},
		"The last day is no day.":                {otto: "soon"},
		"The last day is before the first.":      {otto: "2020-01-01"},
		"There would be no educator any more":    {otto: "2026-03-01", edda: "2026-03-01"},
		"is in the list, or has left already":    {otto: "2026-03-01", tess: "2026-03-01"},
		"Somebody who was ticked as having left": {"nobody": "2026-03-01"},
	} {
		_, err := confirm(left)
		require.ErrorContains(t, err, want)
		require.Equal(t, before, w.state(), "all or nothing")
	}
	done, err := confirm(map[string]training.Day{otto: "2026-03-01"})
	require.NoError(t, err)
	require.Equal(t, training.RosterDone{New: 2, Changed: 1, Left: 1}, done)
	require.Equal(t, training.Day("2026-03-01"), w.person(otto).Left)
	log, err := w.Changes(ctx, w.educator, training.ChangeQuery{Group: training.ChangesOfPeople, PersonID: otto})
	require.NoError(t, err)
	require.Equal(t, "last day", log.All[0].Said)
	require.Equal(t, "roster", log.All[0].Is["through"])
	w.verifies()
}

func TestWhatARosterMayNotDo(t *testing.T) {
	w := staffed(t)
	w.imported("Staff number,Name,Role\n0042,Ann Lee,staff\n0043,Ann Lee,staff\n")
	w.imported("Staff number,Name,Role,Hired,Last day\n9,Gil Invented,staff,2025-01-01,2026-02-01\n")
	for text, do := range map[string]string{
		"Name,Role\nAnn Lee,staff\n":                           "2 people here have this name. Give the row a staff number.",
		"Staff number,Name,Role\n42,Ann Lee,staff\n":           "There is 0042 already, which differs in the noughts before it only; spreadsheets drop them. Write the number as it is on the other.",
		"Staff number,Name,Role\n05,Bo,staff\n5,Cy,staff\n":    "There is 05 already, which differs in the noughts before it only; spreadsheets drop them. Write the number as it is on the other.",
		"Staff number,Name,Role\n=1,Bo,staff\n":                "A staff number has up to 20 letters, digits, dots, strokes and hyphens. Correct it.",
		"Name,Role\nBo,\n":                                     "This person is new here. Write a role: new hire, staff, preceptor, educator or manager.",
		"Name,Role\nEdda Invented,staff\n":                     "No educator would be left who can sign in and has no last day. Leave this person as they are, or make another educator first.",
		"Name,Last day\nEdda Invented,2026-05-01\n":            "No educator would be left who can sign in and has no last day. Leave this person as they are, or make another educator first.",
		"Name,Last day\nTess Invented,2026-01-04\n":            "The last day here, 4 Jan 2026, is before the first, 5 Jan 2026. Correct one of them.",
		"Name,E-mail\nTess Invented,tess\n":                    "This is no e-mail address: it needs an @ with something before and behind it. Correct it, or leave the cell empty.",
		"Staff number,Name,Hired\n9,Gil Invented,2026-03-01\n": "This person left on 1 Feb 2026. If they came back, say so on their page first; else correct the day.",

		"Staff number,Name,Role\n0042,Tess Invented,staff\n,Ann Lee,staff\n": "2 people here have this name. Give the row a staff number.",
	} {
		before := w.state()
		plan := w.preview(text)
		require.Len(t, plan.Faults, 1, text)
		require.Equal(t, do, plan.Faults[0].Do)
		require.Contains(t, text, plan.Faults[0].Value, "the value is the file's")
		_, err := w.ConfirmRoster(ctx, w.educator, w.Key(), w.roster(text), plan.Seen, nil)
		require.ErrorIs(t, err, training.ErrInvalid)
		_, err = w.ImportRoster(ctx, w.roster(text))
		require.NoError(t, err)
		require.Equal(t, before, w.state())
	}
	for _, actor := range []training.Actor{w.trainee, w.preceptor, {}} {
		_, err := w.PreviewRoster(ctx, actor, w.roster(listed))
		require.ErrorIs(t, err, training.ErrForbidden)
		_, err = w.ConfirmRoster(ctx, actor, w.Key(), w.roster(listed), w.preview(listed).Seen, nil)
		require.ErrorIs(t, err, training.ErrForbidden)
	}
	_, err := w.ConfirmRoster(ctx, w.educator, w.Key(), w.roster(listed), w.preview("Name,Role\nBo,staff\n").Seen, nil)
	require.ErrorIs(t, err, training.ErrConflict, "another plan was seen")
	w.Pass(16 * time.Minute)
	_, err = w.ConfirmRoster(ctx, w.educator, w.Key(), w.roster(listed), w.preview(listed).Seen, nil)
	require.ErrorIs(t, err, training.ErrProve)
}

// The owner of the folder needs no account; while nobody has one, the first educator comes
// first, whose link is for a clinic without people.
func TestTheOwnerImports(t *testing.T) {
	w := newWorld(t)
	_, err := w.ImportRoster(ctx, w.roster(listed))
	require.ErrorIs(t, err, training.ErrConflict)
	require.Empty(t, w.state())

	w = staffed(t)
	plan, err := w.ImportRoster(ctx, w.roster(listed))
	require.NoError(t, err)
	require.Len(t, plan.New, 2)
	require.Contains(t, w.state(), "Ann Lee|0042|trainee|2024-03-15")
	w.verifies()
}

// One person with two staff numbers would be on record twice, and two people of one name may
// be right: it is told, and comes in.
func TestTheSameNameIsDoubted(t *testing.T) {
	w := staffed(t)
	w.imported("Staff number,Name,Role\n42,Ann Lee,staff\n43,Bo Ek,staff\n")
	plan := w.preview("Staff number,Name,Role\n42,Ann Lee,staff\n99,ann  LEE,staff\n50,Cy Ott,staff\n51,Cy Ott,staff\n")
	require.Empty(t, plan.Faults)
	require.Len(t, plan.New, 3)
	said := map[int]string{}
	for _, d := range plan.Doubts {
		said[d.Row] = d.Do
	}
	then := ". If this is the same person, leave one of them out of the list, or give both the same number."
	require.Equal(t, map[int]string{3: "This name is here already, with the staff number 42" + then, 4: "Row 5 has the same name, with the staff number 51" + then,
		5: "Row 4 has the same name, with the staff number 50" + then}, said)
	require.Empty(t, w.preview("Staff number,Name,Role\n42,Ann Lee,preceptor\n60,Eve Poe,staff\n").Doubts)
}

// The order of its rows makes no difference to what a roster does.
func TestAnyOrderOfARosterGivesTheSame(t *testing.T) {
	random := rand.New(rand.NewPCG(1, 2))
	for range 30 {
		lines := []string{`,Tess Invented,"manager, staff",2024-03-15,early,2026-02-28`, "9,Pia Invented,preceptor,,,2027-01-31", "42,Ann Lee,staff,2024-03-15,late,", `43,Ann Lee,"staff/educator",,,`, ",Bo Ek,staff,,early,",
			",=1+1,new hire,2023-05-06,,2024-01-01", `44,Edda Invented,"educator;preceptor",,,`}
		random.Shuffle(len(lines), func(i, j int) { lines[i], lines[j] = lines[j], lines[i] })
		n := 3 + random.IntN(len(lines)-2)
		var first []string
		for order := range 3 {
			some := append([]string{}, lines[:n]...)
			if order > 0 {
				random.Shuffle(n, func(i, j int) { some[i], some[j] = some[j], some[i] })
			}
			w := staffed(t)
			w.imported("Staff number,Name,Role,Hired,Team,Last day\n" + strings.Join(some, "\n") + "\n")
			if first == nil {
				first = w.state()
			}
			require.ElementsMatch(t, first, w.state(), strings.Join(some, "\n"))
			again := w.preview("Staff number,Name,Role,Hired,Team,Last day\n" + strings.Join(some, "\n") + "\n")
			require.Empty(t, again.Faults)
			require.Equal(t, n, again.Same)
		}
	}
}

func TestAnAccountForWhoCameByARoster(t *testing.T) {
	w := staffed(t)
	p := w.imported("Name,Role\nNora,staff\n")[0]
	_, err := w.NewFirstPassword(ctx, w.educator, w.Key(), p.ID)
	require.ErrorContains(t, err, "Nora has no account yet.")
	_, err = w.OpenAccount(ctx, w.educator, w.Key(), p.ID, "tess")
	require.ErrorIs(t, err, training.ErrConflict)
	_, err = w.OpenAccount(ctx, w.preceptor, w.Key(), p.ID, "nora")
	require.ErrorIs(t, err, training.ErrForbidden)
	_, err = w.OpenAccount(ctx, w.educator, w.Key(), p.ID, "n")
	require.ErrorIs(t, err, training.ErrInvalid)
	first, err := w.OpenAccount(ctx, w.educator, w.Key(), p.ID, "nora")
	require.NoError(t, err)
	_, err = w.OpenAccount(ctx, w.educator, w.Key(), p.ID, "nora2")
	require.ErrorIs(t, err, training.ErrConflict)
	a, _, err := w.SignIn(ctx, "nora", first)
	require.NoError(t, err)
	require.True(t, a.MustChange)
	w.verifies()
}

// 20,000 rows compared with 20,000 people, and brought in.
func BenchmarkRoster(b *testing.B) {
	var text strings.Builder
	text.WriteString("Staff number,Name,Role,Hired\n")
	for i := range 20_000 {
		fmt.Fprintf(&text, "N%05d,Invented Person %d,staff,2024-03-15\n", i, i)
	}
	w := staffed(b)
	f := w.roster(text.String())
	start := time.Now()
	_, err := w.ImportRoster(ctx, f)
	require.NoError(b, err)
	b.Run("preview", func(b *testing.B) {
		b.ReportMetric(time.Since(start).Seconds(), "s/first-import")
		for b.Loop() {
			require.Equal(b, 20_000, w.preview(text.String()).Same)
		}
	})
}
