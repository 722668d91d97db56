package backup

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillwet/internal/clinictest"
	"stillwet/internal/store"
	"stillwet/internal/training"
)

var ctx = context.Background()

const testVersion = "of the test"

// world is a clinic whose backups are made and restored.
type world struct {
	*clinictest.Clinic
	preceptor, learner training.Actor
}

func newWorld(t testing.TB) *world { return worldIn(t, t.TempDir()) }

// newWorldWithKey is a clinic that signs with a given key.
func newWorldWithKey(t testing.TB, key []byte) *world {
	dir := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(dir, store.KeyFile), key, 0o600))
	return worldIn(t, dir)
}

func worldIn(t testing.TB, dir string) *world {
	w := &world{Clinic: clinictest.New(t, clinictest.Options{Dir: dir})}
	educator := w.FirstEducator("Edda Invented", "edda")
	w.preceptor = w.Hire(educator, "Pia Invented", "pia", training.Preceptor)
	w.learner = w.Hire(educator, "Tess Invented", "tess", training.Trainee)
	w.EntitleTo(educator, w.preceptor)
	require.NoError(t, os.WriteFile(filepath.Join(w.Dir, "clinic.json"), []byte("{}\n"), 0o600))
	return w
}

// signed adds a demonstration with its two signatures.
func (w *world) signed() {
	w.Pass(time.Hour)
	w.SignBoth(w.preceptor, w.Watch(w.preceptor, w.learner, w.GoodWork()), "Tess", training.WatchedMet)
}

func (w *world) kind() Kind {
	return Kind{Beside: []string{"clinic.json"}, Verify: w.verify}
}

func (w *world) verify(ctx context.Context, dir string) error { return verifyBy(w.Library)(ctx, dir) }

// verifyBy checks a folder by the services.
func verifyBy(lib training.Library) func(context.Context, string) error {
	return func(ctx context.Context, dir string) (err error) {
		s, err := store.OpenToRead(ctx, dir)
		if err != nil {
			return err
		}
		report, err := training.New(training.Config{Records: s, Library: lib, Zone: time.UTC}).Verify(ctx)
		if len(report.Faults) > 0 {
			err = fmt.Errorf("%v", report.Faults)
		}
		return errors.Join(err, s.Close())
	}
}

func (w *world) making(out string) Making {
	return Making{Kind: w.kind(), Store: w.Store, Data: w.Dir, Out: out, Version: testVersion, Now: training.InstantOf(w.Clinic.Now())}
}

// backup makes one in a folder of its own.
func (w *world) backup() string {
	w.T.Helper()
	out := filepath.Join(w.T.TempDir(), "b.tar")
	_, err := Make(ctx, w.making(out))
	require.NoError(w.T, err)
	return out
}

func (w *world) restoring(file, dir string) Restoring {
	return Restoring{Kind: w.kind(), File: file, Data: dir, HeadsOf: store.HeadsOf}
}

// inside lists everything in a folder; nil when it is not there.
func inside(t testing.TB, dir string) (list []string) {
	err := filepath.WalkDir(dir, func(name string, _ fs.DirEntry, err error) error {
		if err == nil && name != dir {
			rel, _ := filepath.Rel(dir, name)
			list = append(list, rel)
		}
		if os.IsNotExist(err) {
			return nil
		}
		return err
	})
	require.NoError(t, err)
	return list
}
