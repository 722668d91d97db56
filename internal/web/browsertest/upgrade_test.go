package browsertest

import (
	"bytes"
	"io"
	"net"
	"net/http"
	"net/http/httputil"
	"net/url"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

// anotherBuild stands before the server as a build with other static files would: they lie
// in a folder of their own, those of the first build are gone, the worker has another
// version, and the recorder's script says that it is the second.
type anotherBuild struct {
	c     *clinic
	front *http.Server
}

var (
	staticFolder = regexp.MustCompile(`/static/[0-9a-f]{12}/`)
	workerCache  = regexp.MustCompile(`stillwet-[0-9a-f]{12}`)
)

const (
	secondFolder = "/static/5ec09d5ec09d/"
	secondCache  = "stillwet-5ec09d5ec09d"
	secondScript = `(globalThis.whichBuild ?? "first")`
)

// backAs lets the clinic's address answer as another build does.
func (c *clinic) backAs(firstFolder string) *anotherBuild {
	behind, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(c.T, err)
	c.restart(behind)
	to := &url.URL{Scheme: "http", Host: behind.Addr().String()}
	proxy := &httputil.ReverseProxy{
		Rewrite: func(r *httputil.ProxyRequest) {
			r.SetURL(to)
			r.Out.Host = r.In.Host
			r.Out.URL.Path = strings.Replace(r.In.URL.Path, secondFolder, firstFolder, 1)
			r.Out.Header.Del("Accept-Encoding")
		},
		ModifyResponse: otherwiseBuilt,
	}
	listener, err := net.Listen("tcp", strings.TrimPrefix(c.base, "http://"))
	require.NoError(c.T, err)
	b := &anotherBuild{c, &http.Server{ReadHeaderTimeout: time.Second, Handler: http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if strings.HasPrefix(r.URL.Path, firstFolder) {
			http.NotFound(w, r)
			return
		}
		proxy.ServeHTTP(w, r)
	})}}
	go func() { _ = b.front.Serve(listener) }()
	c.T.Cleanup(func() { _ = b.front.Close() })
	return b
}

func (b *anotherBuild) away() {
	require.NoError(b.c.T, b.front.Close())
	b.c.stop()
}

func otherwiseBuilt(answer *http.Response) error {
	text, err := io.ReadAll(answer.Body)
	if err != nil {
		return err
	}
	text = staticFolder.ReplaceAll(text, []byte(secondFolder))
	switch path := answer.Request.URL.Path; {
	case path == "/sw.js":
		text = workerCache.ReplaceAll(text, []byte(secondCache))
	case strings.HasSuffix(path, "/recorder.js"):
		text = append([]byte(`globalThis.whichBuild = "second";`), text...)
	}
	answer.Header.Del("Content-Length")
	answer.ContentLength = -1
	answer.Body = io.NopCloser(bytes.NewReader(text))
	return nil
}

// The program is replaced by one with other files in the middle of a recording, with acts
// that wait: what runs goes on and sends them, and the next load has the new script, kept for
// when the server is away.
func TestAnotherBuildInTheMiddleOfARecording(t *testing.T) {
	c := staffed(t)
	b, id := c.recording(tablet)
	b.ready()
	folder := staticFolder.FindString(eval[string](b, `document.querySelector('script[src$="/recorder.js"]').getAttribute("src")`))
	require.NotEmpty(t, folder)
	kept := `caches.keys().then((k) => k.join())`
	require.NotEqual(t, secondCache, eval[string](b, kept))
	b.click(tapOf("rub-hands"))
	b.saved(1)
	c.away()
	b.click(tapOf("gloves-on"))
	b.counts(3, 2, 1)
	b.reload(id) // what the first build kept
	b.click(tapOf("fresh-wipe"))
	b.counts(4, 2, 2)

	second := c.backAs(folder)
	b.counts(4, 4, 0)
	require.Equal(t, "first", eval[string](b, secondScript), "what runs goes on")
	b.click(tapOf("wipe-top"))
	b.counts(5, 5, 0)
	answer, err := http.Get(c.base + folder + "recorder.js")
	require.NoError(t, err)
	require.NoError(t, answer.Body.Close())
	require.Equal(t, http.StatusNotFound, answer.StatusCode, "the first build's files are gone")

	b.reload(id)
	require.Equal(t, "second", eval[string](b, secondScript))
	b.counts(5, 5, 0)
	b.until(`(caches.keys().then((k) => { window.kept = k.join(); }), window.kept === "`+secondCache+`")`, "the first build's page is still kept")
	b.click(tapOf("wipe-left"))
	b.counts(6, 6, 0)

	second.away()
	b.reload(id)
	require.Equal(t, "second", eval[string](b, secondScript), "kept for when the server is away")
	b.click(tapOf("wipe-right"))
	b.counts(7, 6, 1)
	c.backAs(folder)
	b.counts(7, 7, 0)
	require.Equal(t, []string{"rub hands", "put on gloves", "take wipe w1 of station-wipe", "wipe top", "wipe left", "wipe right"}, c.recorded(id), "each once, in its order")
}
