package main

import (
	"bufio"
	"bytes"
	"context"
	"fmt"
	"io"
	"log/slog"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"syscall"
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/store"
)

// server is the program while it serves.
type server struct {
	url, said string // where, and what was printed before
	log       *record
}

// record is an output that is read while it is written.
type record struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (r *record) Write(p []byte) (int, error) {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.b.Write(p)
}

func (r *record) String() string {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.b.String()
}

// serving runs the program until stop is called.
func serving(t *testing.T, args ...string) (s server, stop func()) {
	t.Helper()
	ctx, cancel := context.WithCancel(t.Context())
	out, in := io.Pipe()
	s.log = &record{}
	ended := make(chan error, 1)
	go func() {
		err := run(ctx, args, in, s.log)
		_ = in.CloseWithError(io.EOF)
		ended <- err
	}()
	lines := bufio.NewReader(out)
	for !strings.HasPrefix(s.url, "http") {
		line, err := lines.ReadString('\n')
		require.NoError(t, err, "%s%s", s.said, s.log)
		s.said += line
		if rest, found := strings.CutPrefix(line, "Stillwet is at "); found {
			s.url, _, _ = strings.Cut(rest, " ")
		}
	}
	return s, func() {
		cancel()
		require.NoError(t, <-ended)
	}
}

var firstLink = regexp.MustCompile(`http\S+/first/(\S+)`)

// Whatever is wrong with where it is to be reached is found before anything is
// made, opened or replaced.
func TestABadPlaceIsRefusedBeforeAnythingIsMade(t *testing.T) {
	taken, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	defer func() { require.NoError(t, taken.Close()) }()
	junk := file(t, "no certificate")
	kept := t.TempDir()
	s, stop := serving(t, "serve", "--new", "--data", kept, "--listen", "127.0.0.1:0")
	link := firstLink.FindStringSubmatch(s.said)
	require.NotNil(t, link, s.said)
	stop()
	before := contents(t, kept)
	for name, c := range map[string]struct {
		args []string
		says string
	}{
		"port in use":         {[]string{"--listen", taken.Addr().String()}, "--listen"},
		"no port":             {[]string{"--listen", "127.0.0.1"}, "--listen"},
		"no such address":     {[]string{"--listen", "192.0.2.7:1"}, "--listen"},
		"no such port":        {[]string{"--listen", "127.0.0.1:99999"}, "--listen"},
		"no certificate":      {[]string{"--listen", "127.0.0.1:0", "--tls-cert", junk, "--tls-key", junk}, "--tls-cert"},
		"certificate missing": {[]string{"--listen", "127.0.0.1:0", "--tls-cert", junk + "x", "--tls-key", junk}, "--tls-cert"},
		"no key":              {[]string{"--listen", "127.0.0.1:0", "--tls-cert", junk}, "go together"},
		"key alone":           {[]string{"--listen", "127.0.0.1:0", "--tls-key", junk}, "go together"},
	} {
		begins := map[string][]string{"serve": {"serve", "--new"}, "demo": {"demo"}}
		for command := range begins {
			fresh := filepath.Join(t.TempDir(), "new", "data")
			code, out, errs := stillwet(t, append(begins[command], append([]string{"--data", fresh}, c.args...)...)...)
			require.Equal(t, 2, code, "%s %s", command, name)
			require.Contains(t, errs, c.says, name)
			require.Empty(t, out, "%s %s: nothing is printed as if it had begun", command, name)
			require.NoDirExists(t, filepath.Dir(fresh), "%s %s", command, name)
		}
		code, out, _ := stillwet(t, append([]string{"serve", "--data", kept}, c.args...)...)
		require.Equal(t, 2, code)
		require.Empty(t, out)
		require.Equal(t, before, contents(t, kept), "%s: the link that was not used yet is still good", name)
	}
	clinic, err := (&folderFlags{Data: kept}).open(t.Context(), store.Open)
	require.NoError(t, err)
	_, err = clinic.service.LinkHolder(t.Context(), link[1])
	require.NoError(t, err)
	require.NoError(t, clinic.close())
}

// contents are the files of a folder, but SQLite's own beside an open one.
func contents(t *testing.T, dir string) map[string]string {
	found := map[string]string{}
	entries, err := os.ReadDir(dir)
	require.NoError(t, err)
	for _, e := range entries {
		if strings.HasSuffix(e.Name(), "-wal") || strings.HasSuffix(e.Name(), "-shm") || e.IsDir() {
			continue
		}
		text, err := os.ReadFile(filepath.Join(dir, e.Name()))
		require.NoError(t, err)
		found[e.Name()] = string(text)
	}
	return found
}

func get(t *testing.T, url string) (status int, body string) {
	t.Helper()
	resp, err := http.Get(url)
	require.NoError(t, err)
	text, err := io.ReadAll(resp.Body)
	require.NoError(t, err)
	require.NoError(t, resp.Body.Close())
	return resp.StatusCode, string(text)
}

func TestPlainHTTPForOthersIsWarnedOf(t *testing.T) {
	for listen, warned := range map[string]bool{"127.0.0.1:0": false, "[::1]:0": false, "0.0.0.0:0": true, ":0": true} {
		for _, behind := range []bool{false, true} {
			args := []string{"serve", "--new", "--data", t.TempDir(), "--listen", listen}
			if behind {
				args = append(args, "--behind-https")
			}
			s, stop := serving(t, args...)
			_, port, err := net.SplitHostPort(strings.TrimPrefix(s.url, "http://"))
			require.NoError(t, err)
			host := "127.0.0.1"
			if listen == "[::1]:0" {
				host = "[::1]"
			}
			_, page := get(t, fmt.Sprintf("http://%s:%s/sign-in", host, port))
			stop()
			require.Equal(t, warned && !behind, strings.Contains(s.said, "WARNING: this address is reached from other machines without https"), "%s: %s", listen, s.said)
			require.Equal(t, warned && !behind, strings.Contains(page, "This connection is not protected"), listen)
		}
	}
}

// Where the folder takes no writing it is served to read.
func TestAFolderThatTakesNoWritingIsServedToRead(t *testing.T) {
	dir := t.TempDir()
	_, stop := serving(t, "serve", "--new", "--data", dir, "--listen", "127.0.0.1:0", "--clinic", "Invented Clinic")
	stop()
	before := contents(t, dir)
	refuses := func(context.Context, string) (*store.Store, error) {
		return nil, fmt.Errorf("%w: %w", store.ErrReadOnly, &os.PathError{Op: "open", Path: "/srv/secret-place", Err: syscall.EROFS})
	}
	flags := folderFlags{Data: dir}
	clinic, err := flags.openOrRead(t.Context(), refuses)
	require.NoError(t, err)
	l := listenFlags{Listen: "127.0.0.1:0"}
	at, err := l.take()
	require.NoError(t, err)
	ctx, cancel := context.WithCancel(t.Context())
	var out bytes.Buffer
	ended := make(chan error, 1)
	go func() { ended <- l.serve(ctx, streams{&out, io.Discard}, clinic, at, slog.New(slog.DiscardHandler)) }()
	status, ready := get(t, at.url+"/readyz")
	require.Equal(t, 503, status)
	require.Contains(t, ready, "read-only file system", "with the reason")
	require.NotContains(t, ready, "secret-place", "and without the path")
	_, page := get(t, at.url+"/sign-in")
	require.Contains(t, page, "Nothing can be saved now")
	require.Contains(t, page, "Invented Clinic")
	cancel()
	require.NoError(t, <-ended)
	require.NoError(t, clinic.close())
	require.Contains(t, out.String(), "WARNING: nothing can be saved now")
	require.NotContains(t, out.String(), "/first/", "no link that could not be kept")
	require.Equal(t, before, contents(t, dir))

	missing := folderFlags{Data: filepath.Join(dir, "missing"), begins: true}
	_, err = missing.openOrRead(t.Context(), refuses)
	require.ErrorIs(t, err, syscall.EROFS, "what cannot be read either says why it could not be opened")
	_, err = flags.openOrRead(t.Context(), func(context.Context, string) (*store.Store, error) { return nil, os.ErrInvalid })
	require.ErrorIs(t, err, os.ErrInvalid, "other refusals stay refusals")
}

// A page elsewhere whose name is made to point at this machine gets nothing out
// of a demo, which anybody may enter.
func TestADemoAnswersUnderItsOwnNamesOnly(t *testing.T) {
	dir := t.TempDir()
	require.NoError(t, os.WriteFile(filepath.Join(dir, demoMark), nil, 0o600)) // one that need not be filled
	s, stop := serving(t, "demo", "--data", dir, "--listen", "127.0.0.1:0")
	defer stop()
	at := strings.TrimPrefix(s.url, "http://")
	_, port, err := net.SplitHostPort(at)
	require.NoError(t, err)
	for _, c := range []struct {
		host, origin string
		status       int
	}{
		{at, "", 200}, {"localhost:" + port, "", 200}, {"LOCALHOST:" + port, "", 200}, {"[::1]:" + port, "", 200}, {at, "http://" + at, 200},
		{"evil.example:" + port, "", 421}, {"evil.example", "", 421}, {"127.0.0.1:1", "", 421}, {"127.0.0.1", "", 421}, {"localhost.evil.example:" + port, "", 421},
		{"127.0.0.1.evil.example:" + port, "", 421}, {"192.168.0.9:" + port, "", 421}, {at, "http://evil.example:" + port, 421}, {at, "https://" + at, 421},
	} {
		for _, path := range []string{"/sign-in", "/help"} {
			req, err := http.NewRequest("GET", s.url+path, nil)
			require.NoError(t, err)
			req.Host = c.host
			if c.origin != "" {
				req.Header.Set("Origin", c.origin)
			}
			resp, err := http.DefaultClient.Do(req)
			require.NoError(t, err)
			require.NoError(t, resp.Body.Close())
			require.Equal(t, c.status, resp.StatusCode, "%+v", c)
		}
	}
}
