package main

import (
	"bytes"
	"context"
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillwet/internal/store"
	"stillwet/internal/training"
)

// folder is a data folder with signed records, as an earlier program left it,
// brought up.
func folder(t *testing.T) string {
	dir := filepath.Join(t.TempDir(), "data")
	require.NoError(t, os.CopyFS(dir, os.DirFS(filepath.Join(upgrades, "schema-5"))))
	require.NoError(t, os.Remove(filepath.Join(dir, "head.txt")))
	require.NoError(t, os.Chmod(filepath.Join(dir, store.KeyFile), 0o600))
	f := folderFlags{Data: dir, Clinic: "Invented Clinic", Zone: "America/Chicago"}
	require.NoError(t, f.keep())
	s, err := store.Open(context.Background(), dir)
	require.NoError(t, err)
	require.NoError(t, s.Close())
	return dir
}

// Beside a server a backup is made; the folder is lost; a new one is made of the
// backup, and proved with the head of the old one.
func TestLosingTheMachine(t *testing.T) {
	dir := folder(t)
	running, err := store.Open(context.Background(), dir)
	require.NoError(t, err)
	file := filepath.Join(t.TempDir(), "b.tar")
	code, out, errs := stillwet(t, "backup", "--data", dir, "--out", file)
	require.Equal(t, 0, code, errs)
	require.Contains(t, out, "verified.\n")
	require.Regexp(t, `\d+ people, \d+ practice runs and orders, \d+ demonstrations, \d+ signatures, \d+ sign-offs; the last entry is of 20`, out)
	head, err := running.Ledger(context.Background())
	require.NoError(t, err)
	kept := filepath.Join(t.TempDir(), "head.txt")
	require.NoError(t, os.WriteFile(kept, []byte(head.Note), 0o600))
	require.NoError(t, running.Close())
	require.NoError(t, os.RemoveAll(dir))

	code, back, errs := stillwet(t, "restore", file, "--data", dir, "--head", kept)
	require.Equal(t, 0, code, errs)
	require.Contains(t, back, "restored and verified")
	require.Contains(t, back, head.Note)
	require.Equal(t, strings.Split(out, "\n")[2], strings.Split(back, "\n")[2], "it holds what it held")
	code, out, _ = stillwet(t, "verify", "--data", dir)
	require.Equal(t, 0, code, out)
	require.Contains(t, out, " 0 faults\n")
	require.Contains(t, out, head.Root)
	set, err := (&folderFlags{Data: dir}).settings()
	require.NoError(t, err)
	require.Equal(t, settings{"Invented Clinic", "America/Chicago"}, set)

	code, _, errs = stillwet(t, "backup", "--data", dir, "--out", file)
	require.Equal(t, 2, code)
	require.Contains(t, errs, "is there already")
	code, _, errs = stillwet(t, "restore", file, "--data", dir)
	require.Equal(t, 2, code)
	require.Contains(t, errs, "is not empty")
}

func TestABackupWithoutTheKeySaysHowToGoOn(t *testing.T) {
	dir, file := folder(t), filepath.Join(t.TempDir(), "b.tar")
	code, out, errs := stillwet(t, "backup", "--data", dir, "--out", file, "--without-key")
	require.Equal(t, 0, code, errs)
	require.Contains(t, out, "The key is not in it.")
	to := filepath.Join(t.TempDir(), "new")
	code, out, errs = stillwet(t, "restore", file, "--data", to)
	require.Equal(t, 0, code, errs)
	require.Contains(t, out, "chmod 600 "+filepath.Join(to, store.KeyFile))
}

// A signed record that was changed is named, and no backup is made.
func TestChangedRecordsAreNamedAndNotBackedUp(t *testing.T) {
	dir := folder(t)
	tampered(t, dir)
	out := t.TempDir()
	code, _, errs := stillwet(t, "backup", "--data", dir, "--out", filepath.Join(out, "b.tar"))
	require.Equal(t, 2, code)
	require.Contains(t, errs, "faults in the signed records")
	entries, err := os.ReadDir(out)
	require.NoError(t, err)
	require.Empty(t, entries)
}

// tampered changes one letter that was signed, where it stands in the file.
func tampered(t *testing.T, dir string) {
	name := filepath.Join(dir, store.DataFile)
	text, err := os.ReadFile(name)
	require.NoError(t, err)
	leaf := []byte(`"kind":"sign-off"`)
	at := bytes.Index(text, leaf)
	require.Positive(t, at)
	text[at+10] ^= 1
	require.NoError(t, os.WriteFile(name, text, 0o600))
}

func TestReadingCommandsMakeNoFolder(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "mistyped")
	for _, args := range [][]string{
		{"backup", "--data", dir, "--out", filepath.Join(t.TempDir(), "b.tar")}, {"verify", "--data", dir}, {"recheck", "--data", dir},
		{"export", "annual", "--data", dir, "--out", filepath.Join(t.TempDir(), "a.xlsx")}, {"restore", filepath.Join(dir, "b.tar"), "--data", dir},
	} {
		code, _, errs := stillwet(t, args...)
		require.Equal(t, 2, code, args)
		require.NotEmpty(t, errs)
		require.NoDirExists(t, dir, "%v", args)
	}
}

func TestSettingsAreWrittenOnlyWhenChanged(t *testing.T) {
	f := folderFlags{Data: t.TempDir(), Clinic: "Invented Clinic", Zone: "America/Denver"}
	require.NoError(t, f.keep())
	name := filepath.Join(f.Data, settingsFile)
	long := time.Date(2020, 1, 1, 0, 0, 0, 0, time.UTC)
	require.NoError(t, os.Chtimes(name, long, long))
	require.NoError(t, f.keep())
	info, err := os.Stat(name)
	require.NoError(t, err)
	require.True(t, info.ModTime().Equal(long))
	f.Clinic = "Another"
	require.NoError(t, f.keep())
	info, err = os.Stat(name)
	require.NoError(t, err)
	require.False(t, info.ModTime().Equal(long))
}

// The server makes a backup at its start, says where, and goes on when the
// folder for it is lost.
func TestTheServerMakesBackups(t *testing.T) {
	dir := folder(t)
	var said bytes.Buffer
	log := slog.New(slog.NewTextHandler(&said, nil))
	k := keepFlags{}
	f := folderFlags{Data: dir}
	c, err := f.open(context.Background(), k.opening(log))
	require.NoError(t, err)
	defer func() { require.NoError(t, c.close()) }()
	keeper, err := k.keeper(log, dir, c)
	require.NoError(t, err)
	require.Contains(t, said.String(), "name another disk or share with --backups")
	require.NoError(t, keeper.Make(context.Background(), filepath.Join(keeper.Dir, "b.tar")))
	code, out, errs := stillwet(t, "restore", filepath.Join(keeper.Dir, "b.tar"), "--data", filepath.Join(t.TempDir(), "new"))
	require.Equal(t, 0, code, errs)
	require.Contains(t, out, "restored and verified")
	require.FileExists(t, filepath.Join(dir, store.HeadFile), "its own file of heads")

	require.NoError(t, k.withBackups(context.Background(), log, dir, c, func() error {
		for c.backups().Last == "" {
			require.Empty(t, c.backups().Err)
			time.Sleep(time.Millisecond)
		}
		return nil
	}))
	again, err := k.keeper(log, dir, c)
	require.NoError(t, err)
	require.Equal(t, c.backups().Last[:19], again.State().Last[:19], "to the second")

	k.Backups = filepath.Join(dir, "share")
	_, err = k.keeper(log, dir, c)
	require.ErrorContains(t, err, "connect the disk or share")
	require.NoDirExists(t, k.Backups)
}

func TestAClockBehindIsTold(t *testing.T) {
	c, err := (&folderFlags{Data: folder(t), Zone: "UTC"}).open(t.Context(), store.OpenToRead)
	require.NoError(t, err)
	defer func() { require.NoError(t, c.close()) }()
	h, err := c.store.Holdings(t.Context())
	require.NoError(t, err)
	for behind, told := range map[time.Duration]bool{-time.Hour: false, 0: false, time.Hour: false, time.Hour + time.Second: true, 10000 * time.Hour: true} {
		var said bytes.Buffer
		c.service.Now = func() training.Instant { return training.InstantOf(h.NewestSigned.Time().Add(-behind)) }
		require.NoError(t, c.warnOfClock(t.Context(), slog.New(slog.NewTextHandler(&said, nil))))
		require.Equal(t, told, strings.Contains(said.String(), "Set the clock"), behind)
	}
}
