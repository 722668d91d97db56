package web

import (
	"bufio"
	"fmt"
	"io"
	"net"
	"net/http"
	"runtime"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// listening serves the clinic on a real port until the test ends: what a body's
// limit refuses never reaches a handler.
func (c *clinic) listening() (address string) {
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(c.T, err)
	ended := make(chan error, 1)
	go func() { ended <- c.app.Listener(listener) }()
	c.T.Cleanup(func() {
		require.NoError(c.T, c.app.Shutdown())
		require.NoError(c.T, <-ended)
	})
	return listener.Addr().String()
}

// bodyOf sends a request whose body is written in chunks of a size, or at once
// with its length. It answers the status.
func (b *browser) bodyOf(address, method, path string, size, chunk int) int {
	conn, err := net.Dial("tcp", address)
	require.NoError(b.c.T, err)
	defer func() { _ = conn.Close() }() // the server may have closed it
	w := bufio.NewWriter(conn)
	_, _ = fmt.Fprintf(w, "%s %s HTTP/1.1\r\nHost: x\r\nAccept: application/json\r\nContent-Type: application/x-www-form-urlencoded\r\nX-Form-Token: %s\r\nCookie: stillwet=%s\r\n",
		method, path, b.token, b.cookie)
	if chunk == 0 {
		_, _ = fmt.Fprintf(w, "Content-Length: %d\r\n\r\n%s", size, strings.Repeat("x", size))
	} else {
		_, _ = fmt.Fprint(w, "Transfer-Encoding: chunked\r\n\r\n")
		for left := size; left > 0; left -= chunk {
			n := min(left, chunk)
			_, _ = fmt.Fprintf(w, "%x\r\n%s\r\n", n, strings.Repeat("x", n))
		}
		_, _ = fmt.Fprint(w, "0\r\n\r\n")
	}
	_ = w.Flush() // likewise
	resp, err := http.ReadResponse(bufio.NewReader(conn), nil)
	require.NoError(b.c.T, err, "%s %s with %d bytes", method, path, size)
	_, err = io.Copy(io.Discard, resp.Body)
	require.NoError(b.c.T, err)
	require.NoError(b.c.T, resp.Body.Close())
	return resp.StatusCode
}

func TestEveryRouteHasALimitOfItsOwn(t *testing.T) {
	w := withRecords(t)
	address := w.listening()
	for _, r := range routes() {
		require.Positive(t, r.body, r.path)
		if r.body > 64<<10 { // whoever may not send it is not read
			others := []*browser{w.anonymous(), w.trainee}
			if r.path != "/watch/copy" {
				require.Equal(t, teachers, r.who, r.path)
				others = append(others, w.preceptor)
			}
			for _, b := range others {
				require.Equal(t, 413, b.bodyOf(address, r.method, r.path, fewFields+1, 0), r.path)
				require.Equal(t, 413, b.bodyOf(address, r.method, r.path, fewFields+1, 1000), r.path)
			}
			require.LessOrEqual(t, r.body, 1<<20+fewFields, r.path)
		}
		if r.path == "/sign-out" {
			continue // the largest it takes ends the session of this test
		}
		at := w.addresses(r.path)["own"]
		if at == "" {
			at = r.path
		}
		for _, path := range []string{at, at + "?x=y", strings.ToUpper(at[:min(2, len(at))]) + at[min(2, len(at)):]} {
			for _, chunk := range []int{0, 1000, 1 << 20} {
				where := fmt.Sprintf("%s %s in chunks of %d", r.method, path, chunk)
				require.Equal(t, 413, w.educator.bodyOf(address, r.method, path, r.body+1, chunk), where)
				require.NotEqual(t, 413, w.educator.bodyOf(address, r.method, path, r.body, chunk), where)
			}
		}
	}
	require.Equal(t, 413, w.anonymous().bodyOf(address, "POST", "/nowhere", fewFields+1, 0))
	require.Equal(t, 405, w.anonymous().bodyOf(address, "POST", "/healthz", fewFields, 0), "and what no route takes has the default")
}

// What is announced is refused by its length, and what is not at the chunk that
// goes over: no request makes the program hold what it will not read.
func TestALargeBodyIsNotHeld(t *testing.T) {
	w := withRecords(t)
	address := w.listening()
	for _, chunk := range []int{0, 4 << 20, 100} {
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		require.Equal(t, 413, w.announced(address, 64<<20, chunk))
		runtime.ReadMemStats(&after)
		require.Less(t, after.TotalAlloc-before.TotalAlloc, uint64(4<<20), "in chunks of %d", chunk)
	}
}

// announced says that a large body comes, sends little of it, and answers what
// the server says without waiting for the rest.
func (c *clinic) announced(address string, size, chunk int) int {
	conn, err := net.Dial("tcp", address)
	require.NoError(c.T, err)
	defer func() { _ = conn.Close() }()
	head := fmt.Sprintf("Content-Length: %d\r\n\r\n", size)
	if chunk > 0 {
		head = "Transfer-Encoding: chunked\r\n\r\n" + strings.Repeat(fmt.Sprintf("%x\r\n%s\r\n", min(chunk, 100), strings.Repeat("x", min(chunk, 100))), passwords/100+1) +
			fmt.Sprintf("%x\r\n", chunk)
	}
	_, err = fmt.Fprintf(conn, "POST /sign-in HTTP/1.1\r\nHost: x\r\nAccept: application/json\r\n%s", head)
	require.NoError(c.T, err)
	resp, err := http.ReadResponse(bufio.NewReader(conn), nil)
	require.NoError(c.T, err)
	require.NoError(c.T, resp.Body.Close())
	return resp.StatusCode
}

// The longest that a form lets anybody type fits, in any script.
func TestAFormsLongestTextsFit(t *testing.T) {
	w := staffed(t)
	form := entitling()
	for field, signs := range map[string]int{"key": 50, "own": 256, "second-name": 32, "second-password": 256, "credential": 80, "founding": 300,
		"approver": 80, "approver-role": 80, "paper": 300} {
		form.Set(field, strings.Repeat("\u6db2", signs))
	}
	got := w.educator.post("/people/"+w.preceptor.id()+"/entitle", form)
	require.NotEqual(t, 413, got.StatusCode)
	long := strings.Repeat("\U0001f9fc", 256)
	got = w.educator.post("/password", map[string][]string{"key": {"12345678"}, "old": {long}, "password": {long}})
	require.NotEqual(t, 413, got.StatusCode)
	got = w.anonymous().post("/sign-in", map[string][]string{"username": {strings.Repeat("\u6db2", 60)}, "password": {long}, "next": {"/" + strings.Repeat("x", 299)}})
	require.NotEqual(t, 413, got.StatusCode)
}
