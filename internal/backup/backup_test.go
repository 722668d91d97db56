package backup

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/store"
	"stillwet/internal/training"
)

func TestAFolderIsMadeOfItsBackup(t *testing.T) {
	w := newWorld(t)
	w.signed()
	file := w.backup()
	info, err := os.Stat(file)
	require.NoError(t, err)
	require.EqualValues(t, 0o600, info.Mode().Perm())
	holds, err := w.Store.Holdings(ctx)
	require.NoError(t, err)
	require.EqualValues(t, 14, holds.Leaves, "nine of people, and a demonstration with its choice, its signatures and its outcome")
	w.Close()

	dir := filepath.Join(t.TempDir(), "a", "b")
	back, err := Restore(ctx, w.restoring(file, dir))
	require.NoError(t, err)
	require.Equal(t, holds, back.Holds)
	require.Contains(t, back.Note, "\n14\n")
	require.True(t, back.HasKey())
	require.ElementsMatch(t, []string{"clinic.json", store.DataFile, store.KeyFile, store.LockFile}, inside(t, dir))
	for _, name := range []string{store.DataFile, store.KeyFile} {
		info, err := os.Stat(filepath.Join(dir, name))
		require.NoError(t, err)
		require.EqualValues(t, 0o600, info.Mode().Perm(), name)
	}
	w.Dir = dir
	require.ErrorContains(t, last(Restore(ctx, w.restoring(file, dir))), "is not empty")

	lost := w.Clinic // the clinic goes on in the new folder
	lost.Store, err = store.Open(ctx, dir)
	require.NoError(t, err)
	lost.Service.Records = lost.Store
	w.signed()
	report, err := w.Verify(ctx)
	require.NoError(t, err)
	require.Empty(t, report.Faults)
	require.EqualValues(t, 19, report.Leaves)
}

func last[T any](_ T, err error) error { return err }

// What a start or a restore that ended at once left is no hindrance; a folder in
// use is.
func TestWhatCountsAsEmpty(t *testing.T) {
	w := newWorld(t)
	file := w.backup()
	dir := t.TempDir()
	lock := filepath.Join(dir, store.LockFile)
	require.NoError(t, os.WriteFile(lock, nil, 0o600))
	require.NoError(t, os.MkdirAll(filepath.Join(dir, restoring, "x"), 0o700))
	require.ErrorContains(t, last(Restore(ctx, w.restoring(file+"x", dir))), "no such file")
	require.FileExists(t, lock, "it was there before")
	held, err := store.LockFolder(dir)
	require.NoError(t, err)
	require.ErrorContains(t, last(Restore(ctx, w.restoring(file, dir))), "another stillwet is using")
	require.NoError(t, held.Close())
	require.NoError(t, last(Restore(ctx, w.restoring(file, dir))))
	full := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(full, "letter.txt"), nil, 0o600))
	require.ErrorContains(t, last(Restore(ctx, w.restoring(file, full))), "there is letter.txt in it")
	require.Equal(t, []string{"letter.txt"}, inside(t, full))
}

func TestABackupReplacesNothing(t *testing.T) {
	w := newWorld(t)
	file := w.backup()
	before, err := os.ReadFile(file)
	require.NoError(t, err)
	require.ErrorContains(t, last(Make(ctx, w.making(file))), "is there already")
	after, err := os.ReadFile(file)
	require.NoError(t, err)
	require.Equal(t, before, after)
	require.NoError(t, os.Mkdir(stageOf(file+"2"), 0o700))
	require.ErrorContains(t, last(Make(ctx, w.making(file+"2"))), "is under way or was cut short")
	require.DirExists(t, stageOf(file+"2"), "it may be another's")
}

func TestABackupWithoutItsKey(t *testing.T) {
	w := newWorld(t)
	w.signed()
	m := w.making(filepath.Join(t.TempDir(), "b.tar"))
	m.WithoutKey = true
	made, err := Make(ctx, m)
	require.NoError(t, err)
	require.False(t, made.HasKey())
	text, err := os.ReadFile(m.Out)
	require.NoError(t, err)
	require.NotContains(t, string(text), "PRIVATE+KEY")
	dir := t.TempDir()
	back, err := Restore(ctx, w.restoring(m.Out, dir))
	require.NoError(t, err)
	require.False(t, back.HasKey())
	_, err = store.Open(ctx, dir)
	require.ErrorContains(t, err, "put it back from the backup")
	key, err := os.ReadFile(filepath.Join(w.Dir, store.KeyFile))
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(filepath.Join(dir, store.KeyFile), key, 0o600))
	s, err := store.Open(ctx, dir)
	require.NoError(t, err)
	require.NoError(t, s.Close())
}

// What does not verify is no backup, and the reason is told.
func TestChangedRecordsAreNotBackedUp(t *testing.T) {
	w := newWorld(t)
	w.signed()
	m := w.making(filepath.Join(t.TempDir(), "b.tar"))
	m.Verify = func(ctx context.Context, dir string) error {
		require.NoError(t, w.verify(ctx, dir))
		return errors.New("sign-off 7, due: it was changed")
	}
	require.ErrorContains(t, last(Make(ctx, m)), "sign-off 7, due")
	require.Empty(t, inside(t, filepath.Dir(m.Out)))
}

// A backup holds at least what was acknowledged before it was begun, and nothing
// that was not tried before it ended, while others write.
func TestBackupsBesideWritersHoldWhatWasAcknowledged(t *testing.T) {
	const rounds = 40
	w := newWorld(t)
	load := &load{w: w, stop: make(chan struct{})}
	var writing sync.WaitGroup
	writing.Go(load.taps)
	writing.Go(load.signs)
	dir := t.TempDir()
	held := 0
	for i := range rounds {
		before, signedBefore := load.acknowledged()
		file := filepath.Join(dir, fmt.Sprintf("%d.tar", i))
		m := w.making(file)
		if i < rounds-1 { // the last is verified record by record
			m.Verify = func(context.Context, string) error { return nil }
		}
		made, err := Make(ctx, m)
		require.NoError(t, err)
		after, signedAfter := load.tried()
		back := filepath.Join(dir, fmt.Sprint(i))
		r := w.restoring(file, back)
		r.Verify = m.Verify
		_, err = Restore(ctx, r)
		require.NoError(t, err)
		s, err := store.OpenToRead(ctx, back)
		require.NoError(t, err)
		stored := tapsIn(t, s)
		require.NoError(t, s.Close())
		require.Subset(t, keysOf(stored), before)
		require.Subset(t, after, keysOf(stored))
		require.GreaterOrEqual(t, made.Holds.Signatures, signedBefore)
		require.LessOrEqual(t, made.Holds.Signatures, signedAfter)
		held++
	}
	close(load.stop)
	writing.Wait()
	require.NoError(t, load.err)
	taps, signatures := load.acknowledged()
	t.Logf("%d of %d backups hold every record acknowledged before they began; %d taps and %d signatures were written meanwhile", held, rounds, len(taps), signatures)
	require.NotEmpty(t, taps)
	require.Positive(t, signatures)
}

func tapsIn(t *testing.T, s *store.Store) map[string]bool {
	stored := map[string]bool{}
	all, err := s.Demonstrations(ctx, training.DemonstrationQuery{})
	require.NoError(t, err)
	for _, d := range all {
		acts, err := s.Watched(ctx, d.ID)
		require.NoError(t, err)
		for _, l := range acts {
			if strings.HasPrefix(l.Key, "tap-") {
				stored[l.Key] = true
			}
		}
	}
	return stored
}

func keysOf(m map[string]bool) (list []string) {
	for k := range m {
		list = append(list, k)
	}
	return list
}

// load writes until it is stopped, and knows what it tried and what came back.
type load struct {
	w    *world
	stop chan struct{}

	mu                      sync.Mutex
	err                     error
	doing, done             []string
	signsDoing, signsDoneNo int64
}

func (l *load) over() bool {
	select {
	case <-l.stop:
		return true
	default:
		l.mu.Lock()
		defer l.mu.Unlock()
		return l.err != nil
	}
}

func (l *load) note(f func()) {
	l.mu.Lock()
	defer l.mu.Unlock()
	f()
}

func (l *load) acknowledged() ([]string, int64) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return append([]string{}, l.done...), l.signsDoneNo
}

func (l *load) tried() ([]string, int64) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return append([]string{}, l.doing...), l.signsDoing
}

// taps records, one demonstration after the other.
func (l *load) taps() {
	demo := ""
	for n := 0; !l.over(); n++ {
		if n%100 == 0 {
			d, err := l.w.StartDemonstration(ctx, l.w.preceptor, l.w.Key(), l.w.learner.Person.ID, l.w.Competency.ID, "station-wipe")
			if err != nil {
				l.note(func() { l.err = err })
				return
			}
			demo = d.ID
		}
		key := fmt.Sprintf("tap-key-%06d", n)
		l.note(func() { l.doing = append(l.doing, key) })
		err := l.w.Send(ctx, l.w.preceptor, demo, training.Watched{Key: key, AtMs: int64(n % 100), Step: "wipe-controls"})
		l.note(func() {
			if err == nil {
				l.done = append(l.done, key)
			} else {
				l.err = err
			}
		})
	}
}

func (l *load) signs() {
	for !l.over() {
		if err := l.sign(); err != nil {
			l.note(func() { l.err = err })
		}
	}
}

func (l *load) sign() error {
	w := l.w
	d, err := w.StartDemonstration(ctx, w.preceptor, w.Key(), w.learner.Person.ID, w.Competency.ID, "station-wipe")
	if err != nil {
		return err
	}
	if err := w.Send(ctx, w.preceptor, d.ID, training.Watched{Key: w.Key(), Step: "wipe-controls"}); err != nil {
		return err
	}
	if _, err = w.EndDemonstration(ctx, w.preceptor, w.Key(), d.ID, 0, ""); err != nil {
		return err
	}
	if _, err = w.Service.Choose(ctx, w.preceptor, w.Key(), d.ID, training.WatchedPractice, "Stopped at once."); err != nil {
		return err
	}
	l.note(func() { l.signsDoing++ })
	if _, err = w.SignAsLearner(ctx, w.preceptor, w.Key(), d.ID, training.Learner{Username: "tess", Password: training.DemoPassword}); err != nil {
		return err
	}
	l.note(func() { l.signsDoneNo++; l.signsDoing++ })
	_, err = w.SignAsPreceptor(ctx, w.preceptor, w.Key(), d.ID, training.WatchedPractice, training.DemoPassword)
	if err == nil {
		l.note(func() { l.signsDoneNo++ })
	}
	return err
}

// With the n-th step of the disk failing, for every n: a try that failed leaves
// nothing behind, and the next one does it.
func TestEveryFailingStepLeavesNothing(t *testing.T) {
	w := newWorld(t)
	w.signed()
	file := w.backup()
	whole := inside(t, w.Dir)
	figures := []string{}
	for name, try := range map[string]func(k Kind, to string) error{
		"backup": func(k Kind, to string) error {
			m := w.making(filepath.Join(to, "b.tar"))
			m.Disk = k.Disk
			return last(Make(ctx, m))
		},
		"restore": func(k Kind, to string) error {
			r := w.restoring(file, filepath.Join(to, "folder"))
			r.Disk = k.Disk
			return last(Restore(ctx, r))
		},
	} {
		to := t.TempDir()
		for n := 1; ; n++ {
			steps := 0
			k := w.kind()
			k.Disk.Fail = func(step, name string) error {
				if steps++; steps == n {
					return fmt.Errorf("%s %s: %w", step, name, errDisk)
				}
				return nil
			}
			err := try(k, to)
			if err == nil {
				require.Less(t, steps, n, "%s went on over a failure of step %d", name, n)
				figures = append(figures, fmt.Sprintf("%s: each of %d steps", name, steps))
				break
			}
			require.ErrorIs(t, err, errDisk)
			require.Empty(t, inside(t, to), "%s, step %d", name, n)
		}
		require.NotEmpty(t, inside(t, to))
	}
	require.Equal(t, whole, inside(t, w.Dir))
	t.Log("failed and left nothing behind: " + strings.Join(figures, ", "))
}

var errDisk = errors.New("no space left on device")
