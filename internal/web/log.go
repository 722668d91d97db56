package web

import (
	"bytes"
	"context"
	"errors"
	"io"
	"log/slog"
	"sync"
	"time"

	"github.com/gofiber/fiber/v2"

	"stillwet/internal/training"
)

// The log has one line for each event and each refusal: who, what, from where,
// with which outcome. Of the address it has the route's pattern only, for a path
// can be a secret (the first-run link) or anything a stranger likes; of what was
// typed it has nothing, for a password may be typed where a name is asked for.

// mostLogged is how many bytes of log an hour may bring. The second half is kept
// for lines about people who are known, so that strangers cannot drown them.
const mostLogged = 2 << 20

// mostOfAnError is how much of an error a line holds.
const mostOfAnError = 300

// logged writes a visit's line. about is who it concerns, when that is not the
// person who is signed in.
func (v *visit) logged(r route, err error) {
	v.Locals(recorded, true)
	status := v.Response().StatusCode()
	if err != nil {
		status, _ = explain(err)
	}
	what := r.event
	switch {
	case what != "":
	case status >= 500:
		what = "request failed"
	case status == 403:
		what = "request refused"
	case status >= 400:
		what = "request not answered"
	default:
		return
	}
	who := v.about
	if who.ID == "" {
		who = v.actor.Person
	}
	v.line(what, r.method, r.path, status, who, err)
}

// recorded marks a request whose line is written.
const recorded = "recorded"

// strayLine is the line of a request that no route answered.
func (s *server) strayLine(c *fiber.Ctx, status int, err error) {
	if c.Locals(recorded) == nil {
		v, method := &visit{Ctx: c, server: s}, c.Method()
		switch status { // the server has forgotten what it refused to read, or could not; its method would read GET
		case fiber.StatusRequestEntityTooLarge, fiber.StatusRequestTimeout, fiber.StatusRequestHeaderFieldsTooLarge, fiber.StatusBadRequest, fiber.StatusBadGateway:
			method = "unread"
		}
		v.line("request not answered", method, "none", status, training.Person{}, err)
	}
}

func (v *visit) line(what, method, pattern string, status int, who training.Person, err error) {
	level := slog.LevelInfo
	attrs := []slog.Attr{
		slog.String("outcome", outcome(status)), slog.Int("status", status), slog.String("method", clipped(method, 10)),
		slog.String("route", pattern), slog.String("from", v.from()),
	}
	if who.ID != "" {
		attrs = append(attrs, slog.String(whoKey, who.ID), slog.String("name", who.Name))
	}
	if status >= 500 && err != nil {
		level = slog.LevelError
		attrs = append(attrs, slog.String("error", clipped(err.Error(), mostOfAnError)))
	} else if status < 400 && v.Params("id") != "" { // it was done, so this is an id of ours
		attrs = append(attrs, slog.String("record", v.Params("id")))
	}
	v.Log.LogAttrs(context.Background(), level, what, attrs...)
}

// whoKey is the attribute of lines about people who are known.
const whoKey = "who"

func outcome(status int) string {
	switch {
	case status < 400:
		return "good"
	case status == 403:
		return "refused"
	case status == 429:
		return "throttled"
	}
	return "failed"
}

func clipped(text string, most int) string { return text[:min(len(text), most)] }

// NewLog is a log with a limit on what it grows by in an hour. What is left out
// is counted, and told with the first line of the next hour.
func NewLog(out io.Writer, now func() time.Time) *slog.Logger {
	h := &hourly{out: out, now: now}
	h.text = slog.NewTextHandler(&h.buf, nil)
	return slog.New(h)
}

type hourly struct {
	out  io.Writer
	now  func() time.Time
	mu   sync.Mutex
	buf  bytes.Buffer
	text slog.Handler // into buf
	hour time.Time
	used int
	left int
}

func (h *hourly) Enabled(ctx context.Context, l slog.Level) bool { return h.text.Enabled(ctx, l) }

func (h *hourly) Handle(ctx context.Context, r slog.Record) error {
	h.mu.Lock()
	defer h.mu.Unlock()
	var err error
	if hour := h.now().Truncate(time.Hour); !hour.Equal(h.hour) {
		left := h.left
		h.hour, h.used, h.left = hour, 0, 0
		if left > 0 {
			told := slog.NewRecord(r.Time, slog.LevelWarn, "the log was full for an hour", 0)
			told.AddAttrs(slog.Int("lines_left_out", left), slog.Int("bytes_an_hour", mostLogged))
			err = h.write(ctx, told, mostLogged)
		}
	}
	most := mostLogged / 2
	r.Attrs(func(a slog.Attr) bool {
		if a.Key == whoKey || r.Level >= slog.LevelError {
			most = mostLogged
		}
		return most < mostLogged
	})
	return errors.Join(err, h.write(ctx, r, most))
}

func (h *hourly) write(ctx context.Context, r slog.Record, most int) error {
	h.buf.Reset()
	if err := h.text.Handle(ctx, r); err != nil {
		return err
	}
	if h.used+h.buf.Len() > most {
		h.left++
		return nil
	}
	h.used += h.buf.Len()
	_, err := h.out.Write(h.buf.Bytes())
	return err
}

// WithAttrs and WithGroup are not used by this program: its lines stand alone.
func (h *hourly) WithAttrs([]slog.Attr) slog.Handler { return h }

// WithGroup is as WithAttrs.
func (h *hourly) WithGroup(string) slog.Handler { return h }
