package web

import (
	"context"
	"errors"
	"net"
	"sync"
	"time"

	"github.com/gofiber/fiber/v2"
	"github.com/valyala/fasthttp"
)

// Serve answers requests on a listener until the context ends. Then it closes
// every connection without a request at once, and lets requests under way finish
// for the time of grace.
//
// The server would do the first by itself, but for a connection that never sent
// a byte: browsers open such ones to spare, and it waits for their first request
// until the read limit.
func Serve(ctx context.Context, app *fiber.App, l net.Listener, grace time.Duration) error {
	door := &door{Listener: l, open: map[net.Conn]bool{}}
	app.Server().ConnState = door.state
	ended := make(chan error, 1)
	go func() { ended <- app.Listener(door) }()
	select {
	case err := <-ended:
		return err
	case <-ctx.Done():
	}
	err := door.shut()
	stop, cancel := context.WithTimeout(context.Background(), grace)
	defer cancel()
	return errors.Join(err, app.ShutdownWithContext(stop), <-ended)
}

// door is a listener that knows of each of its connections whether a request is
// on it.
type door struct {
	net.Listener
	mu     sync.Mutex
	open   map[net.Conn]bool // true: a request has begun and is not answered
	closed bool
}

// Accept takes a connection in, and closes it again once the door is shut.
func (d *door) Accept() (net.Conn, error) {
	c, err := d.Listener.Accept()
	if err != nil {
		return nil, err
	}
	in := &guest{c, d}
	d.mu.Lock()
	defer d.mu.Unlock()
	if d.closed {
		_ = c.Close() // the server reads nothing from it
		return in, nil
	}
	d.open[in] = false
	return in, nil
}

// Close is called by shut and once more by the server.
func (d *door) Close() error {
	if err := d.Listener.Close(); !errors.Is(err, net.ErrClosed) {
		return err
	}
	return nil
}

// shut lets nobody in any more and closes what has no request on it.
func (d *door) shut() error {
	err := d.Close()
	d.mu.Lock()
	defer d.mu.Unlock()
	d.closed = true
	for c, busy := range d.open {
		if !busy {
			_ = c.Close() // the other side may have gone before
		}
	}
	return err
}

// state hears from the server that a request was answered, or that the
// connection is gone.
func (d *door) state(c net.Conn, state fasthttp.ConnState) {
	d.mu.Lock()
	defer d.mu.Unlock()
	switch state {
	case fasthttp.StateIdle:
		d.open[c] = false
	case fasthttp.StateClosed, fasthttp.StateHijacked:
		delete(d.open, c)
	}
}

// guest is a connection that tells its door when something comes in on it.
type guest struct {
	net.Conn
	door *door
}

func (g *guest) Read(b []byte) (int, error) {
	n, err := g.Conn.Read(b)
	if n > 0 {
		g.door.mu.Lock()
		g.door.open[g] = true
		g.door.mu.Unlock()
	}
	return n, err
}
