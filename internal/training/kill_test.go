package training_test

import (
	"bufio"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"strconv"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillwet/internal/clinictest"
	"stillwet/internal/training"
)

const childDir = "STILLWET_TEST_CHILD_DIR"

func TestMain(m *testing.M) {
	if os.Getenv(childDir) != "" {
		if err := recordForEver(os.Getenv(childDir), os.Getenv("STILLWET_TEST_ROUND")); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
	}
	os.Exit(m.Run())
}

// act is one thing the child does, under a key that says how to do it again.
type act struct{ kind, demo, key string }

func (a act) String() string { return a.kind + " " + a.demo + " " + a.key }

func (w *world) do(a act) (string, error) {
	switch a.kind {
	case "start":
		d, err := w.StartDemonstration(ctx, w.preceptor, a.key, w.trainee.Person.ID, turnover, "station-wipe")
		return d.ID, err
	case "observe":
		n, err := strconv.Atoi(a.key[strings.LastIndex(a.key, "-")+1:])
		if err != nil {
			return "", err
		}
		kept, _, err := w.Batch(ctx, w.preceptor, a.demo, "the-tablet", []training.Watched{{Key: a.key, N: n, Wall: "2026-03-02T09:00:00.000Z", Step: "wipe-controls"}})
		if err == nil && kept[0].As == training.KeptRefused {
			err = errors.New(kept[0].Why)
		}
		return a.demo, err
	case "end":
		_, err := w.EndDemonstration(ctx, w.preceptor, a.key, a.demo, 0, "")
		return a.demo, err
	case "choose":
		_, err := w.Service.Choose(ctx, w.preceptor, a.key, a.demo, training.WatchedPractice, "Stopped.")
		return a.demo, err
	case "learner":
		_, err := w.SignAsLearner(ctx, w.preceptor, a.key, a.demo, training.Learner{Username: "tess", Password: training.DemoPassword})
		return a.demo, err
	}
	_, err := w.SignAsPreceptor(ctx, w.preceptor, a.key, a.demo, training.WatchedPractice, training.DemoPassword)
	return a.demo, err
}

// recordForEver is the child: it says what it will do, does it, and says that
// it is done, until it is killed.
func recordForEver(dir, round string) error {
	ids, prefix := 0, ""
	w := openWorld(stern{}, clinictest.Options{Dir: dir, IDs: func() string { ids++; return fmt.Sprintf("%sid%06d", prefix, ids) }})
	w.Set(time.Date(2026, 3, 2, 9, 0, 0, 0, time.UTC))
	w.known()
	for n := 0; ; n++ {
		demo := ""
		for i, kind := range strings.Fields("start observe observe observe end choose learner preceptor") {
			a := act{kind, demo, fmt.Sprintf("round-%s-%d-%d", round, n, i)}
			fmt.Println("try", a)
			ids = 1_000_000*(n+1) + 1000*i
			prefix = "r" + round
			id, err := w.do(a)
			if err != nil {
				return err
			}
			demo = id
			fmt.Println("done", a)
		}
	}
}

// known finds the staff of a file that was staffed before.
func (w *world) known() {
	people, err := w.Store.People(ctx)
	require.NoError(w.T, err)
	for _, p := range people {
		switch p.Name {
		case "Pia Invented":
			w.preceptor.Person = p
		case "Tess Invented":
			w.trainee.Person = p
		}
	}
}

// stern lets the child use the world's helpers: what would fail a test ends it.
type stern struct{ testing.TB }

func (stern) Errorf(format string, args ...any) { fmt.Fprintf(os.Stderr, format, args...) }
func (stern) FailNow()                          { os.Exit(1) }
func (stern) Helper()                           {}
func (stern) Cleanup(func())                    {}

func TestKilledBetweenActsNothingIsLostOrTwice(t *testing.T) {
	w := staffed(t)
	w.Close()
	luck := rand.Uint64()
	t.Logf("luck %d", luck)
	dice := rand.New(rand.NewPCG(luck, 0))
	var done, open []act
	for round := range 10 {
		d, o := killedRound(t, w.Dir, round, time.Duration(dice.IntN(400))*time.Millisecond)
		done, open = append(done, d...), append(open, o...)
	}
	w.Set(time.Date(2026, 3, 2, 9, 0, 0, 0, time.UTC))
	w.Open()
	w.known()
	require.NotEmpty(t, done)
	t.Logf("%d acknowledged, %d in doubt", len(done), len(open))
	for _, a := range append(done, open...) { // sent again, each is answered or done now
		id, err := w.do(a)
		require.NoError(t, err, a)
		require.True(t, a.demo == "" || a.demo == id)
	}
	lines, late := map[string]int{}, map[string]bool{}
	signatures := int64(0)
	all, err := w.Store.Demonstrations(ctx, training.DemonstrationQuery{})
	require.NoError(t, err)
	for _, d := range all {
		signatures += int64(len(d.Signatures))
		recorded, err := w.Recorded(ctx, w.preceptor, d.ID)
		require.NoError(t, err)
		for i, o := range recorded.Lines {
			require.Equal(t, i+1, o.Seq)
			lines[o.Key]++
		}
		for _, a := range recorded.Acts {
			require.False(t, late[a.Key], "%s is stored twice", a.Key)
			late[a.Key] = a.Late
		}
	}
	starts := 0
	for _, a := range append(done, open...) {
		switch a.kind {
		case "start":
			starts++
		case "observe":
			want := 3
			if late[a.key] { // it was cut off, and came when the demonstration had ended
				want = 0
			}
			require.Equal(t, want, lines[a.key], "the three lines of one tap, once: %s", a)
			delete(lines, a.key)
		}
	}
	require.Empty(t, lines, "nothing was stored that nobody sent")
	require.Len(t, all, starts)
	require.Equal(t, w.leaves(), signatures)
	report, err := w.Verify(ctx)
	require.NoError(t, err)
	require.Empty(t, report.Faults)
}

// killedRound runs a child and kills it some time after its first act.
func killedRound(t *testing.T, dir string, round int, after time.Duration) (done, open []act) {
	child := exec.Command(os.Args[0])
	child.Env = append(os.Environ(), childDir+"="+dir, fmt.Sprintf("STILLWET_TEST_ROUND=%d", round))
	child.Stderr = os.Stderr
	out, err := child.StdoutPipe()
	require.NoError(t, err)
	require.NoError(t, child.Start())
	tried := map[string]act{}
	var order []act
	scan := bufio.NewScanner(out)
	first := true
	for scan.Scan() {
		word, rest, _ := strings.Cut(scan.Text(), " ")
		parts := strings.Split(rest, " ")
		require.Len(t, parts, 3)
		a := act{parts[0], parts[1], parts[2]}
		if word == "try" {
			tried[a.key] = a
			order = append(order, a)
		} else {
			delete(tried, a.key)
			done = append(done, a)
		}
		if first && word == "done" {
			first = false
			time.AfterFunc(after, func() { _ = child.Process.Signal(syscall.SIGKILL) })
		}
	}
	require.Error(t, child.Wait(), "it was killed")
	for _, a := range order {
		if _, ok := tried[a.key]; ok {
			open = append(open, a)
		}
	}
	return done, open
}
