package store

import (
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/training"
)

// A child process signs, and says of each act that it will do it, and then that
// it is done or failed. What happens to its disk is its parent's to arrange.
const (
	signDir    = "STILLWET_TEST_SIGN_DIR"
	signRounds = "STILLWET_TEST_SIGN_ROUNDS"
	signSync   = "STILLWET_TEST_SIGN_SYNC"
)

// headsOf is the other disk of a folder.
func headsOf(dir string) string { return filepath.Join(dir, "other-disk") }

func actKey(n int) string { return fmt.Sprintf("act-%06d", n) }

// leavesOf are what an act signs: one record or several, small or large.
func leavesOf(n int) (leaves []string) {
	for j := range n%3 + 1 {
		leaves = append(leaves, fmt.Sprintf("%s/%d %s", actKey(n), j, strings.Repeat("x", n%5*700)))
	}
	return leaves
}

func signing(dir string) error {
	ctx := context.Background()
	rounds, err := strconv.Atoi(os.Getenv(signRounds))
	if err != nil {
		return err
	}
	s, err := OpenWith(ctx, dir, Options{Heads: headsOf(dir)})
	if err != nil {
		return err
	}
	if sync := os.Getenv(signSync); sync != "" {
		if err := s.w.Exec("PRAGMA synchronous = " + sync).Error; err != nil {
			return err
		}
	}
	if err := s.w.Exec("PRAGMA wal_autocheckpoint = 60").Error; err != nil { // so that a short run has some
		return err
	}
	for n := range rounds {
		fmt.Println("try", actKey(n))
		if err := s.Write(ctx, func(u training.Unit) error { return sign(ctx, u, n) }); err != nil {
			fmt.Println("failed", actKey(n))
			continue
		}
		fmt.Println("done", actKey(n))
	}
	return s.Close()
}

func sign(ctx context.Context, u training.Unit, n int) error {
	err := u.AddActKey(ctx, training.ActKey{PersonID: "p", Key: actKey(n), Act: "sign", BodyHash: strings.Repeat("0", 64), At: at})
	if err != nil {
		return err
	}
	for _, leaf := range leavesOf(n) {
		if _, err := u.AppendLeaf(ctx, []byte(leaf), of(0)); err != nil {
			return err
		}
	}
	return nil
}

// signingFolder is a folder in which nothing is signed yet.
func signingFolder(t testing.TB) string {
	dir := filepath.Join(t.TempDir(), "data")
	require.NoError(t, os.MkdirAll(headsOf(dir), 0o700))
	s, err := Open(context.Background(), dir)
	require.NoError(t, err)
	require.NoError(t, s.Close())
	return dir
}

// child is this program under strace, signing.
func child(dir string, rounds int, sync string, strace ...string) *exec.Cmd {
	c := exec.Command("strace", append(append([]string{"-f", "-q"}, strace...), os.Args[0])...)
	c.Env = append(os.Environ(), signDir+"="+dir, signRounds+"="+strconv.Itoa(rounds), signSync+"="+sync, "GODEBUG=asyncpreemptoff=1")
	return c
}

// told are the acts that a child said it tried, did, and failed to do.
type told struct{ tried, done map[string]bool }

func (w *told) line(text string) {
	word, key, _ := strings.Cut(text, " ")
	switch word {
	case "try":
		w.tried[key] = true
	case "done":
		w.done[key] = true
	}
}

// storedActs are the acts in a data file, each checked to be there once and whole:
// its key, and its records one after the other in the ledger, whose tree and
// newest head hold. kept is the last head written down elsewhere, "" for none, and
// follows says whether the ledger does from it.
func storedActs(path, public, kept string) (acts map[string]bool, follows bool, err error) {
	ctx := context.Background()
	db, err := connect(path, "", 1)
	if err != nil {
		return nil, false, err
	}
	pool, err := db.DB()
	if err != nil {
		return nil, false, err
	}
	defer func() {
		if closing := pool.Close(); err == nil {
			err = closing
		}
	}()
	whole, err := (reads{db: db}).ids(ctx, "PRAGMA integrity_check")
	if err != nil || len(whole) != 1 || whole[0] != "ok" {
		return nil, false, fmt.Errorf("integrity: %v %w", whole, err)
	}
	keys, err := (reads{db: db}).ids(ctx, "SELECT key FROM act_keys")
	if err != nil {
		return nil, false, err
	}
	leaves, err := (reads{db: db}).ids(ctx, "SELECT CAST(leaf AS TEXT) FROM ledger_leaves ORDER BY i")
	if err != nil {
		return nil, false, err
	}
	if err := eachOnce(keys, leaves); err != nil {
		return nil, false, err
	}
	r := reads{db, public}
	h, err := r.Ledger(ctx)
	if err != nil || h.Size != int64(len(leaves)) {
		return nil, false, fmt.Errorf("the newest head is of %d records, %d are there: %w", h.Size, len(leaves), err)
	}
	if h.Note != "" {
		if err := r.Follows(ctx, h.Note); err != nil {
			return nil, false, err
		}
	}
	acts = map[string]bool{}
	for _, k := range keys {
		acts[k] = true
	}
	return acts, kept == "" || r.Follows(ctx, kept) == nil, nil
}

func eachOnce(keys, leaves []string) error {
	there := map[string]int{}
	for _, l := range leaves {
		there[l]++
	}
	expected := 0
	for _, k := range keys {
		n, err := strconv.Atoi(strings.TrimPrefix(k, "act-"))
		if err != nil {
			return err
		}
		for _, l := range leavesOf(n) {
			expected++
			if there[l] != 1 {
				return fmt.Errorf("%s signed one record %d times", k, there[l])
			}
		}
	}
	if expected != len(leaves) {
		return fmt.Errorf("%d acts signed %d records and %d are there", len(keys), expected, len(leaves))
	}
	return nil
}

// lost are the acts that were acknowledged and are not stored.
func (w *told) lost(stored map[string]bool) (n int) {
	for k := range w.done {
		if !stored[k] {
			n++
		}
	}
	return n
}

// invented are the acts that are stored and were not tried.
func (w *told) invented(stored map[string]bool) (n int) {
	for k := range stored {
		if !w.tried[k] {
			n++
		}
	}
	return n
}
