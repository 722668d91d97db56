package training_test

import (
	"context"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillwet/internal/clinictest"
	"stillwet/internal/training"
)

var ctx = context.Background()

const turnover = "turnover-between-patients"

// world is the one clinic of all tests with the people these tests speak of.
type world struct {
	*clinictest.Clinic
	educator, preceptor, other, trainee training.Actor
}

func newWorld(t testing.TB) *world { return openWorld(t, clinictest.Options{}) }

func openWorld(t testing.TB, o clinictest.Options) *world {
	o.Start = time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC)
	return &world{Clinic: clinictest.New(t, o)}
}

// staffed adds an educator, two entitled preceptors and a new hire.
func staffed(t testing.TB) *world { return newWorld(t).staff() }

func (w *world) staff() *world {
	w.educator = w.FirstEducator("Edda Invented", "edda")
	w.preceptor = w.hire("Pia Invented", "pia", training.Preceptor)
	w.other = w.hire("Otto Invented", "otto", training.Preceptor)
	w.trainee = w.hire("Tess Invented", "tess", training.Trainee)
	w.EntitleTo(w.educator, w.preceptor)
	w.EntitleTo(w.educator, w.other)
	return w
}

func (w *world) hire(name, username string, role training.Role) training.Actor {
	return w.Hire(w.educator, name, username, role)
}

// watch records a demonstration of the trainee.
func (w *world) watch(preceptor training.Actor, lines []clinictest.Seen) training.Demonstration {
	return w.Watch(preceptor, w.trainee, lines)
}

// watched is the good work with something before it.
func (w *world) watched(before ...string) (lines []clinictest.Seen) {
	for _, text := range before {
		lines = append(lines, clinictest.Seen{Text: text})
	}
	return slices.Concat(lines, w.GoodWork())
}

func (w *world) signBoth(preceptor training.Actor, d training.Demonstration, m training.Meaning) training.Demonstration {
	return w.SignBoth(preceptor, d, "Tess", m)
}

// signedOff takes the trainee through the whole chain.
func (w *world) signedOff() training.SignOff {
	w.Modules(w.trainee)
	w.signBoth(w.preceptor, w.watch(w.preceptor, w.GoodWork()), training.WatchedMet)
	w.Pass(24 * time.Hour)
	w.signBoth(w.other, w.watch(w.other, w.GoodWork()), training.WatchedMet)
	o, err := w.SignOff(ctx, w.preceptor, w.Key(), w.trainee.Person.ID, turnover, clinictest.Password)
	require.NoError(w.T, err)
	return o
}

// firstLink asks whether a one-time link is good.
func (w *world) firstLink(token string) error {
	_, err := w.LinkHolder(ctx, token)
	return err
}

// entitlement is a founding preceptor's, approved on paper.
func (w *world) entitlement(who training.Actor, from, until training.Day) training.Entitlement {
	return training.Entitlement{PersonID: who.Person.ID, Competency: turnover, From: from, Until: until, Watch: true, SignOff: true,
		Credential: "RN", Founding: "The clinic begins.", Approval: clinictest.OnPaper}
}
