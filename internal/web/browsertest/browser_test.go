// Package browsertest looks at the program as people do: a real server over a
// real file, and a real browser. It holds tests only. A missing browser fails
// them: a check that quietly does not run is no check.
package browsertest

import (
	"context"
	"fmt"
	"os"
	"os/exec"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	cdplog "github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/require"
)

// One browser serves all tests; each tab has its own cookies and storage.
var shared struct {
	once sync.Once
	ctx  context.Context
	stop context.CancelFunc
	err  error
}

func TestMain(m *testing.M) {
	code := m.Run()
	if shared.stop != nil {
		shared.stop()
	}
	os.Exit(code)
}

// find looks for a browser: CHROME_BIN first, then the usual names.
func find() (string, error) {
	for _, name := range []string{os.Getenv("CHROME_BIN"), "chromium-headless-shell", "chromium", "headless-shell", "chromium-browser"} {
		if name == "" {
			continue
		}
		if path, err := exec.LookPath(name); err == nil {
			return path, nil
		}
	}
	return "", fmt.Errorf("no Chromium found: install chromium-headless-shell (Debian) or set CHROME_BIN")
}

func boot() {
	path, err := find()
	if err != nil {
		shared.err = err
		return
	}
	options := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.DisableGPU, chromedp.ExecPath(path), chromedp.Flag("host-resolver-rules", "MAP "+plainHost+" 127.0.0.1"))
	if os.Getuid() == 0 {
		options = append(options, chromedp.NoSandbox) // the browser refuses root with a sandbox
	}
	allocator, stopAllocator := chromedp.NewExecAllocator(context.Background(), options...)
	ctx, stop := chromedp.NewContext(allocator)
	shared.ctx, shared.stop = ctx, func() { stop(); stopAllocator() }
	shared.err = chromedp.Do(ctx, chromedp.Navigate("about:blank"))
}

// size of a screen.
type size struct {
	width, height int64
	touch         bool
}

var (
	desktop = size{1280, 800, false}
	tablet  = size{1024, 768, true}
	phone   = size{390, 844, true}
	narrow  = size{320, 640, true}
)

// tab is one person's browser. It fails its test on any breach of the content
// policy and on any error of a script.
type tab struct {
	t    *testing.T
	ctx  context.Context
	base string
	wide int64 // of the screen
}

const stepTime = 15 * time.Second

func (c *clinic) tab(s size) *tab {
	c.T.Helper()
	shared.once.Do(boot)
	require.NoError(c.T, shared.err)
	ctx, stop := chromedp.NewContext(shared.ctx, chromedp.WithNewBrowserContext())
	c.T.Cleanup(stop)
	b := &tab{t: c.T.(*testing.T), ctx: ctx, base: c.base}
	require.NoError(b.t, chromedp.Do(ctx, chromedp.Navigate("about:blank")))
	b.resize(s)
	b.listen()
	return b
}

func (b *tab) listen() {
	var mu sync.Mutex
	var bad []string
	err := chromedp.Listen(b.ctx, func(ev any) {
		mu.Lock()
		defer mu.Unlock()
		switch e := ev.(type) {
		case *cdplog.EventEntryAdded:
			if e.Entry.Source == cdplog.EntrySourceSecurity {
				bad = append(bad, e.Entry.Text)
			}
		case *runtime.EventExceptionThrown:
			bad = append(bad, e.ExceptionDetails.Text)
		}
	})
	require.NoError(b.t, err)
	_, err = chromedp.Call(b.ctx, cdplog.Enable, struct{}{})
	require.NoError(b.t, err)
	b.t.Cleanup(func() {
		mu.Lock()
		defer mu.Unlock()
		require.Empty(b.t, bad, "the browser complains")
	})
}

func (b *tab) resize(s size) {
	b.t.Helper()
	b.wide = s.width
	if s.touch {
		b.do(chromedp.EmulateViewport(s.width, s.height, chromedp.EmulateTouch, chromedp.EmulateMobile))
		return
	}
	b.do(chromedp.EmulateViewport(s.width, s.height))
}

// clearCache makes the next page load as on a first visit.
func clearCache(ctx context.Context, _ *chromedp.Target) (chromedp.Void, error) {
	_, err := chromedp.Call(ctx, network.ClearBrowserCache, struct{}{})
	return chromedp.Void{}, err
}

// media sets a media feature, for example prefers-color-scheme to dark.
func (b *tab) media(features ...*emulation.MediaFeature) {
	b.t.Helper()
	_, err := chromedp.Call(b.ctx, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Features: features})
	require.NoError(b.t, err)
}

func (b *tab) do(a chromedp.Action[chromedp.Void]) {
	b.t.Helper()
	ctx, stop := context.WithTimeout(b.ctx, stepTime)
	defer stop()
	require.NoError(b.t, chromedp.Do(ctx, a))
}

func eval[T any](b *tab, js string) T {
	b.t.Helper()
	ctx, stop := context.WithTimeout(b.ctx, stepTime)
	defer stop()
	v, err := chromedp.Run(ctx, chromedp.Evaluate[T](js, chromedp.EvalAwaitPromise))
	require.NoError(b.t, err, js)
	return v
}

func (b *tab) open(path string) {
	b.t.Helper()
	b.do(chromedp.Navigate(b.base + path))
	b.until(`(() => { const r = document.getElementById("recorder"); return !document.getElementById("shell") && (!r || r.dataset.ready === "yes"); })()`, "the recorder does not hear yet")
}

// click presses what a selector finds, after making sure that nothing else lies
// where the press would go.
func (b *tab) click(selector string) {
	b.t.Helper()
	b.until(fmt.Sprintf(`(() => { const e = document.querySelector(%q); if (!e) return false;
		e.scrollIntoView({block: "center"}); const r = e.getBoundingClientRect();
		const at = document.elementFromPoint(r.x + r.width / 2, r.y + r.height / 2);
		return r.width > 0 && (e === at || e.contains(at)); })()`, selector), "nothing to press at "+selector)
	b.do(chromedp.Click(chromedp.CSS(selector)))
}

// follow presses something that leads to another page and waits for it.
func (b *tab) follow(selector, path string) {
	b.t.Helper()
	b.click(selector)
	b.until(fmt.Sprintf(`location.pathname.startsWith(%q) && document.readyState === "complete"`, path), "not led to "+path)
}

func (b *tab) fill(selector, text string) {
	b.t.Helper()
	b.until(fmt.Sprintf(`(() => { const e = document.querySelector(%q); if (!e) return false; e.value = ""; e.focus(); return true; })()`, selector), "no field "+selector)
	b.do(chromedp.SendKeys(chromedp.CSS(selector), text))
}

func (b *tab) text(selector string) string {
	b.t.Helper()
	return eval[string](b, fmt.Sprintf(`document.querySelector(%q)?.textContent.trim() ?? "(nothing there)"`, selector))
}

func (b *tab) texts(selector string) []string {
	b.t.Helper()
	return eval[[]string](b, fmt.Sprintf(`[...document.querySelectorAll(%q)].map((e) => e.textContent.trim())`, selector))
}

// until waits for a condition of the page.
func (b *tab) until(js, otherwise string) {
	b.t.Helper()
	for end := time.Now().Add(stepTime); ; time.Sleep(20 * time.Millisecond) {
		ctx, stop := context.WithTimeout(b.ctx, stepTime)
		ok, err := chromedp.Run(ctx, chromedp.Evaluate[bool](js))
		stop()
		if err == nil && ok {
			return
		}
		if time.Now().After(end) {
			page, _ := chromedp.Run(b.ctx, chromedp.Evaluate[string](`location.href + ": " + document.body.innerText.slice(0, 600)`))
			require.FailNow(b.t, otherwise, "%v\n%s", err, page)
		}
	}
}
