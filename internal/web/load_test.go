package web

import (
	"crypto/rand"
	"errors"
	"fmt"
	"io"
	"net/http"
	"net/url"
	"os"
	"runtime"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillwet/internal/clinictest"
	"stillwet/internal/training"
)

// load is how many people do what at once. With $ROUNDS, as make soak gives it, it
// is a full clinic for a minute with passwords as dear as in earnest; without, a
// few people with a few requests each, and no clock.
type load struct {
	browsing, recording, signing int
	requests                     int // each, when there is no time
	during                       time.Duration
	cost                         training.HashCost
}

func loadOf() load {
	if os.Getenv("ROUNDS") == "" {
		return load{browsing: 6, recording: 3, signing: 6, requests: 4, cost: training.HashCost{MemoryKiB: 8, Passes: 1}}
	}
	return load{browsing: 200, recording: 20, signing: 60, during: time.Minute, cost: training.ProductionCost}
}

// pause is how long a person looks before the next request.
func (l load) pause(d time.Duration) {
	if l.during > 0 {
		time.Sleep(d)
	}
}

// timings are how long requests took, and the most memory there was after one.
type timings struct {
	mu   sync.Mutex
	took []time.Duration
	most uint64
}

func (m *timings) add(d time.Duration) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.took, m.most = append(m.took, d), max(m.most, memory())
}

func (m *timings) String() string {
	slices.Sort(m.took)
	n := len(m.took)
	if n == 0 {
		return "none"
	}
	return fmt.Sprintf("%d requests, p50 %s, p99 %s, longest %s, at most %d MB", n, m.took[n/2].Round(time.Millisecond/10), m.took[n*99/100].Round(time.Millisecond/10), m.took[n-1].Round(time.Millisecond), m.most>>20)
}

// crew are the people of a load test, over a real port.
type crew struct {
	*clinic
	load
	address            string
	client             *http.Client
	learners, watchers []*browser
}

func newCrew(t *testing.T) *crew {
	c := &crew{clinic: openWith(t, clinictest.Options{Zone: "UTC", Running: true}, Config{}), load: loadOf()}
	c.Service.HashCost = c.cost
	educator := c.FirstEducator("Edda Invented", "edda")
	c.educator = c.signIn("edda", clinictest.Password)
	for i := range c.signing {
		name := fmt.Sprintf("learner%02d", i)
		c.Hire(educator, "Learner Invented "+fmt.Sprint(i), name, training.Trainee)
		c.learners = append(c.learners, c.signIn(name, clinictest.Password))
	}
	for i := range c.recording {
		name := fmt.Sprintf("watcher%02d", i)
		c.EntitleTo(c.In("edda"), c.Hire(educator, "Watcher Invented "+fmt.Sprint(i), name, training.Preceptor))
		c.watchers = append(c.watchers, c.signIn(name, clinictest.Password))
	}
	c.preceptor = c.watchers[0]
	for _, l := range c.learners[:min(3, len(c.learners))] {
		c.buildAttempt(l)
	}
	c.address = c.listening()
	c.client = &http.Client{Transport: &http.Transport{MaxIdleConnsPerHost: 400}, CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	t.Cleanup(c.client.CloseIdleConnections)
	return c
}

// ask sends a request over the port and gives its status and body.
func (c *crew) ask(b *browser, m *timings, method, path, kind, body string) (int, string, error) {
	r, err := http.NewRequest(method, "http://"+c.address+path, strings.NewReader(body))
	if err != nil {
		return 0, "", err
	}
	r.AddCookie(&http.Cookie{Name: "stillwet", Value: b.cookie})
	if method == "POST" {
		r.Header.Set("Content-Type", kind)
		r.Header.Set("X-Form-Token", b.token)
		r.Header.Set("Sec-Fetch-Site", "same-origin")
	}
	if strings.HasSuffix(kind, "json") {
		r.Header.Set("Accept", kind)
	}
	began := time.Now()
	resp, err := c.client.Do(r)
	if err != nil {
		return 0, "", err
	}
	text, err := io.ReadAll(resp.Body)
	m.add(time.Since(began))
	return resp.StatusCode, string(text), errors.Join(err, resp.Body.Close())
}

// each runs one person's work many times at once and gives what went wrong.
func each(n int, work func(i int) error) (errs []error) {
	var all sync.WaitGroup
	var mu sync.Mutex
	for i := range n {
		all.Go(func() {
			if err := work(i); err != nil {
				mu.Lock()
				defer mu.Unlock()
				errs = append(errs, err)
			}
		})
	}
	all.Wait()
	return errs
}

func expect(want int, status int, body string, err error) error {
	if err != nil || status != want {
		return fmt.Errorf("%d instead of %d: %.300s (%w)", status, want, body, err)
	}
	return nil
}

func TestAFullClinicIsServed(t *testing.T) {
	c := newCrew(t)
	idle := memory()
	var pages, taps, learners, preceptors timings
	demos := make([]string, c.recording)
	for i, b := range c.watchers {
		demos[i] = c.begin(t, b, c.learners[i%len(c.learners)])
	}
	stop := time.Now().Add(c.during)
	again := func(i int) bool {
		if c.during > 0 {
			return time.Now().Before(stop)
		}
		return i < c.requests
	}
	recorded := make([]int, c.recording)
	errs := each(c.browsing+c.recording, func(i int) error {
		if i < c.browsing {
			return c.browse(i, &pages, again)
		}
		return c.recordTaps(i-c.browsing, demos[i-c.browsing], &taps, again, &recorded[i-c.browsing])
	})
	require.Empty(t, errs)
	for i, id := range demos {
		r, err := c.Recorded(t.Context(), c.watchers[i].actor, id)
		require.NoError(t, err)
		require.Len(t, r.Acts, recorded[i], "every tap that was answered is there once")
	}
	t.Logf("pages of %d people (one every 2 s): %s", c.browsing, &pages)
	t.Logf("taps of %d recorders (one a second): %s", c.recording, &taps)

	signed := make([]string, c.signing)
	for i := range signed {
		c.preceptor = c.watchers[i%len(c.watchers)]
		signed[i] = c.watchShort(c.learners[i])
		c.Choose(c.preceptor.actor, signed[i], training.WatchedPractice)
	}
	sign := func(m *timings, as string, form func(i int) url.Values) []error {
		return each(c.signing, func(i int) error {
			f := form(i)
			f.Set("key", rand.Text())
			f.Set("password", clinictest.Password)
			status, body, err := c.ask(c.watchers[i%len(c.watchers)], m, "POST", "/demonstrations/"+signed[i]+"/sign/"+as, "application/x-www-form-urlencoded", f.Encode())
			return expect(303, status, body, err)
		})
	}
	require.Empty(t, sign(&learners, "learner", func(i int) url.Values { return url.Values{"username": {fmt.Sprintf("learner%02d", i)}} }))
	require.Empty(t, sign(&preceptors, "preceptor", func(int) url.Values { return url.Values{"meaning": {string(training.WatchedPractice)}} }))
	t.Logf("%d learners signing at once: %s", c.signing, &learners)
	t.Logf("%d preceptors' signatures at once: %s", c.signing, &preceptors)
	t.Logf("memory before, with the askers' own: %d MB", idle>>20)
	report, err := c.Verify(t.Context())
	require.NoError(t, err)
	require.Empty(t, report.Faults)
	signatures := 0
	for l, err := range c.Store.LedgerLeaves(t.Context()) {
		require.NoError(t, err)
		if l.Kind == training.SignatureLeaf {
			signatures++
		}
	}
	require.Equal(t, 2*c.signing, signatures, "each signature is in the ledger once")
}

// begin begins a recording.
func (c *crew) begin(t *testing.T, b, learner *browser) string {
	d, err := c.StartDemonstration(t.Context(), b.actor, rand.Text(), learner.id(), turnover, "station-wipe")
	require.NoError(t, err)
	return d.ID
}

// browse looks at one page after another.
func (c *crew) browse(i int, m *timings, again func(int) bool) error {
	b := c.learners[i%len(c.learners)]
	pages := []string{"/practice", "/people/" + b.id(), "/practice/ordinary-turnover", "/help"}
	if i%5 == 0 {
		b, pages = c.watchers[i%len(c.watchers)], []string{"/watch", "/people", "/people/" + c.learners[0].id(), "/practice"}
	}
	c.pause(time.Duration(i) * 10 * time.Millisecond)
	for n := 0; again(n); n++ {
		status, body, err := c.ask(b, m, "GET", pages[n%len(pages)], "", "")
		if err := expect(200, status, body, err); err != nil {
			return err
		}
		c.pause(2 * time.Second)
	}
	return nil
}

// recordTaps taps once a second.
func (c *crew) recordTaps(i int, demo string, m *timings, again func(int) bool, done *int) error {
	for n := 0; again(n); n++ {
		at := c.Service.Now().Time()
		body := batchOf(n+1, []string{"rub-hands", "gloves-on", "gloves-off"}[n%3], "", c.sinceStart(demo, at))
		status, text, err := c.ask(c.watchers[i], m, "POST", "/demonstrations/"+demo+"/batch", "application/json", body)
		if err := expect(200, status, text, err); err != nil {
			return err
		}
		*done++
		c.pause(time.Second)
	}
	return nil
}

func (c *crew) sinceStart(demo string, at time.Time) int64 {
	d, err := c.Store.Demonstration(c.T.Context(), demo)
	if err != nil {
		return -1
	}
	return at.Sub(d.StartedAt.Time()).Milliseconds()
}

// memory is what the process holds: resident where the system tells it, else what
// Go took of it.
func memory() uint64 {
	if text, err := os.ReadFile("/proc/self/status"); err == nil {
		if _, after, found := strings.Cut(string(text), "VmRSS:"); found {
			var kib uint64
			if _, err := fmt.Sscan(after, &kib); err == nil {
				return kib << 10
			}
		}
	}
	var m runtime.MemStats
	runtime.ReadMemStats(&m)
	return m.Sys
}
