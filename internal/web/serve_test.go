package web

import (
	"bufio"
	"context"
	"net"
	"net/http"
	"testing"
	"time"

	"github.com/gofiber/fiber/v2"
	"github.com/stretchr/testify/require"
)

// served is a small app behind Serve, with a request that waits to be let go.
type served struct {
	t       *testing.T
	address string
	begun   chan struct{}
	letGo   chan struct{}
	stop    context.CancelFunc
	ended   chan error
}

func serving(t *testing.T) *served {
	s := &served{t: t, begun: make(chan struct{}), letGo: make(chan struct{}), ended: make(chan error, 1)}
	app := fiber.New(fiber.Config{DisableStartupMessage: true}) // no read limit: nothing but Serve ends a connection
	app.Get("/quick", func(c *fiber.Ctx) error { return c.SendString("quick") })
	app.Get("/slow", func(c *fiber.Ctx) error {
		close(s.begun)
		<-s.letGo
		return c.SendString("slow")
	})
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	s.address = l.Addr().String()
	var ctx context.Context
	ctx, s.stop = context.WithCancel(t.Context())
	go func() { s.ended <- Serve(ctx, app, l, time.Hour) }()
	return s
}

// dial opens a connection, and asks for a path on it unless that is "".
func (s *served) dial(path string) *bufio.Reader {
	c, err := net.Dial("tcp", s.address)
	require.NoError(s.t, err)
	s.t.Cleanup(func() { _ = c.Close() })
	if path != "" {
		_, err = c.Write([]byte("GET " + path + " HTTP/1.1\r\nHost: x\r\n\r\n"))
		require.NoError(s.t, err)
	}
	return bufio.NewReader(c)
}

func (s *served) answer(r *bufio.Reader) {
	resp, err := http.ReadResponse(r, nil)
	require.NoError(s.t, err)
	require.Equal(s.t, 200, resp.StatusCode)
	require.NoError(s.t, resp.Body.Close())
}

func TestStoppingClosesWhatIsIdleAndLetsTheRestFinish(t *testing.T) {
	s := serving(t)
	used := s.dial("/quick")
	s.answer(used)
	spare := s.dial("") // as a browser opens one ahead of need
	s.answer(s.dial("/quick"))
	slow := s.dial("/slow")
	<-s.begun
	s.stop()
	for _, idle := range []*bufio.Reader{used, spare} {
		_, err := idle.ReadByte()
		require.Error(t, err, "closed while a request is under way")
	}
	require.Empty(t, s.ended)
	close(s.letGo)
	s.answer(slow)
	require.NoError(t, <-s.ended)
}

func TestStoppedBeforeItBegan(t *testing.T) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	ctx, stop := context.WithCancel(t.Context())
	stop()
	require.NoError(t, Serve(ctx, fiber.New(fiber.Config{DisableStartupMessage: true}), l, time.Hour))
}
