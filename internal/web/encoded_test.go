package web

import (
	"bytes"
	"mime/multipart"
	"net/http"
	"net/http/httptest"
	"runtime"
	"slices"
	"testing"

	"github.com/stretchr/testify/require"
	"github.com/valyala/fasthttp"
)

// inflated is what a bomb becomes when something decodes it; a request that is
// refused allocates far less.
const inflated = 1 << 20

// packers are the encodings that fiber or fasthttp know.
var packers = map[string]func(dst, src []byte) []byte{
	"gzip": fasthttp.AppendGzipBytes, "deflate": fasthttp.AppendDeflateBytes, "zstd": fasthttp.AppendZstdBytes,
	"br": func(dst, src []byte) []byte {
		return fasthttp.AppendBrotliBytesLevel(dst, src, fasthttp.CompressBrotliBestSpeed)
	},
}

// bomb packs zeros once, or twice over, which comes to less than a kilobyte.
func bomb(packings ...string) []byte {
	b := make([]byte, inflated)
	for _, p := range packings {
		b = packers[p](nil, b)
	}
	return b
}

// inMultipart is a form whose parts would only be found by inflating it.
func inMultipart(t *testing.T) (body []byte, kind string) {
	var b bytes.Buffer
	w := multipart.NewWriter(&b)
	require.NoError(t, w.WriteField("token", string(make([]byte, inflated))))
	require.NoError(t, w.Close())
	return fasthttp.AppendGzipBytes(nil, b.Bytes()), w.FormDataContentType()
}

func TestEncodedBodiesAreRefusedBeforeAnythingDecodesThem(t *testing.T) {
	w := withRecords(t)
	gzip, br, chain := bomb("gzip"), bomb("br"), bomb("gzip", "gzip")
	parts, multi := inMultipart(t)
	const jsonKind, form = "application/json", "application/x-www-form-urlencoded"
	for name, c := range map[string]struct {
		lines []string
		body  []byte
		kind  string
	}{
		"gzip": {[]string{"gzip"}, gzip, jsonKind}, "brotli": {[]string{"br"}, br, jsonKind}, "brotli in full": {[]string{"brotli"}, br, jsonKind},
		"deflate": {[]string{"deflate"}, bomb("deflate"), jsonKind}, "zstd": {[]string{"zstd"}, bomb("zstd"), jsonKind},
		"a chain": {[]string{"gzip, gzip"}, chain, jsonKind}, "a mixed chain": {[]string{"br,gzip"}, bomb("gzip", "br"), jsonKind},
		"two lines": {[]string{"gzip", "gzip"}, chain, jsonKind}, "hidden behind identity": {[]string{"identity", "gzip"}, gzip, jsonKind},
		"before identity": {[]string{"gzip", "identity"}, gzip, jsonKind}, "in one line with it": {[]string{"identity, gzip"}, gzip, jsonKind},
		"upper case": {[]string{"GZIP"}, gzip, jsonKind}, "blanks": {[]string{"  gzip\t "}, gzip, jsonKind}, "unknown": {[]string{"pack200"}, gzip, jsonKind},
		"nothing named": {[]string{""}, gzip, jsonKind}, "multipart": {[]string{"gzip"}, parts, multi}, "a form": {[]string{"gzip"}, gzip, form},
	} {
		for _, path := range []string{"/sign-in", "/practice/ordinary-turnover/steps", "/demonstrations/" + w.demo + "/batch", "/nowhere", "/healthz"} {
			for _, method := range []string{"POST", "PUT"} {
				r := httptest.NewRequest(method, path, bytes.NewReader(c.body))
				r.Header["Content-Encoding"] = slices.Clone(c.lines)
				r.Header.Set("Content-Type", c.kind)
				r.Header.Set("Accept", "application/json")
				r.Header.Set("Sec-Fetch-Site", "same-origin")
				w.refusedUnopened(t, r, name)
			}
		}
	}
	got := w.trainee.send("/practice/ordinary-turnover/steps", `{"draft":"x"}`)
	require.Equal(t, 404, got.StatusCode, "the next request is read as ever: %s", got.body)
}

// refusedUnopened asks as a signed-in person, so that no other guard is in the way.
func (w *records) refusedUnopened(t *testing.T, r *http.Request, name string) {
	t.Helper()
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	got := w.preceptor.do(r)
	runtime.ReadMemStats(&after)
	require.Equal(t, 415, got.StatusCode, "%s: %s %s", name, r.Method, r.URL.Path)
	require.Contains(t, got.body, "Content-Encoding")
	require.Equal(t, policy, got.Header.Get("Content-Security-Policy"))
	require.Less(t, after.TotalAlloc-before.TotalAlloc, uint64(inflated/2), "%s: %s %s was decoded", name, r.Method, r.URL.Path)
}

func TestAnIdentityBodyIsAsItIs(t *testing.T) {
	w := withRecords(t)
	for _, line := range []string{"identity", " Identity ", "identity,identity"} {
		r := httptest.NewRequest("POST", "/practice/ordinary-turnover/steps", bytes.NewReader([]byte(`{"draft":"x"}`)))
		r.Header.Set("Content-Encoding", line)
		r.Header.Set("Content-Type", "application/json")
		r.Header.Set("Accept", "application/json")
		r.Header.Set("Sec-Fetch-Site", "same-origin")
		r.Header.Set("X-Form-Token", w.trainee.token)
		got := w.trainee.do(r)
		require.Equal(t, 404, got.StatusCode, "%q: %s", line, got.body)
	}
}
