package web

import (
	"crypto/rand"
	"fmt"
	"html"
	"io"
	"log/slog"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillwet/exports"
	"stillwet/internal/action"
	"stillwet/internal/assess/rules"
	"stillwet/internal/procedure"
	"stillwet/internal/simulate"
	"stillwet/internal/training"
	"stillwet/scenarios"
)

// amended is a library in which the procedure and its scenarios have changed.
type amended struct {
	*scenarios.Library
	change func(*procedure.Definition)
}

func (l amended) Procedure(id string) (*procedure.Procedure, bool) {
	p, ok := l.Library.Procedure(id)
	if !ok {
		return nil, false
	}
	d := p.Definition
	d.Surfaces = append([]procedure.Surface{}, d.Surfaces...)
	l.change(&d)
	changed, faults := procedure.New(d, rules.Names())
	if len(faults) > 0 {
		panic(faults[0])
	}
	return changed, true
}

func (l amended) Scenario(id string) (*simulate.Scenario, bool) {
	sc, ok := l.Library.Scenario(id)
	if !ok {
		return nil, false
	}
	other := *sc
	other.Title = "Renamed since"
	if err := other.Seal(); err != nil {
		panic(err)
	}
	return &other, true
}

// amend serves the same records by a changed library.
func (c *clinic) amend(t *testing.T, library *scenarios.Library, change func(*procedure.Definition)) {
	lib := amended{library, change}
	config := c.Config
	config.Library = lib
	var err error
	c.Service = training.New(config)
	c.app, err = New(Config{Service: c.Service, Library: lib, Log: slog.New(slog.DiscardHandler),
		WriteAnnual: func(w io.Writer, a training.Annual) error { return exports.Annual(w, a) }})
	require.NoError(t, err)
}

// A record is shown with the procedure and the scenario of its own time,
// whatever the clinic has changed since; only a sentence says so.
func TestARecordIsShownAsItWasJudged(t *testing.T) {
	w := withRecords(t)
	run := w.runAttempt(w.trainee)
	pages := []string{"/attempts/" + w.attempt, "/attempts/" + run, "/demonstrations/" + w.demo}
	before := map[string]string{}
	for _, at := range pages {
		before[at] = w.trainee.get(at).body
		require.NotContains(t, before[at], "Judged by version")
	}
	require.Contains(t, before[pages[1]], "<svg", "a run has its wet timeline")
	p, ok := w.Library.Procedure("between-patients")
	require.True(t, ok)
	library := w.Library.(*scenarios.Library)
	for version, now := range map[string]string{"99": "the clinic's procedure is now version 99", p.Version: "the clinic has changed the procedure since"} {
		w.amend(t, library, func(d *procedure.Definition) {
			d.Version, d.Title = version, "Another title"
			for i := range d.Surfaces {
				d.Surfaces[i].Title = "Renamed surface"
			}
		})
		note := fmt.Sprintf(`<div class="note">%s</div>`, html.EscapeString("Judged by version "+p.Version+" of “"+p.Definition.Title+"”; "+now+". The result stays as it was judged then."))
		for _, at := range pages {
			after := w.trainee.get(at).body
			require.Contains(t, after, note, at)
			require.Equal(t, plain(before[at]), plain(cut(after, note)), at)
		}
	}
}

func TestWhatIsKeptParsedIsBounded(t *testing.T) {
	var l lately[int]
	made := 0
	get := func(i int) int {
		n, err := l.get(fmt.Sprint(i), func() (int, error) { made++; return 10 * i, nil })
		require.NoError(t, err)
		return n
	}
	for i := range mostKept + 5 {
		require.Equal(t, 10*i, get(i))
		require.Equal(t, 10*i, get(i))
	}
	require.Equal(t, mostKept+5, made)
	require.Len(t, l.by, mostKept)
	require.Len(t, l.order, mostKept)
	require.Zero(t, get(0))
	require.Equal(t, mostKept+6, made, "the oldest went first")
	_, err := l.get("bad", func() (int, error) { return 0, io.EOF })
	require.ErrorIs(t, err, io.EOF)
	require.NotContains(t, l.by, "bad")
}

// plain is a page without what differs each time it is asked for.
func plain(page string) string { return changing.ReplaceAllString(page, "") }

var changing = regexp.MustCompile(`name="(key|token)" value="[^"]*"`)

func cut(page, part string) string { return strings.Replace(page, part, "", 1) }

// runAttempt makes a short run in which a surface is wiped.
func (c *clinic) runAttempt(b *browser) string {
	ctx := c.T.Context()
	d, err := c.StartRun(ctx, b.actor, rand.Text(), "against-the-clock", 1, false)
	require.NoError(c.T, err)
	start := c.Now()
	for i, step := range []string{"rub-hands", "gloves-on", "fresh-wipe", "wipe-controls"} {
		at := action.Millis(60_000 * (i + 1))
		c.Set(start.Add(time.Duration(at) * time.Millisecond))
		_, err := c.Tap(ctx, b.actor, d.ID, rand.Text(), step, at)
		require.NoError(c.T, err)
	}
	c.Set(start.Add(10 * time.Minute))
	a, err := c.FinishRun(ctx, b.actor, rand.Text(), d.ID, 600_000)
	require.NoError(c.T, err)
	return a.ID
}
