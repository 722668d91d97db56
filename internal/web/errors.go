package web

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"unicode"

	"github.com/gofiber/fiber/v2"

	"stillwet/internal/training"
	"stillwet/views"
)

// problem is an error of the web itself: a status and a sentence for people.
type problem struct {
	status int
	text   string
}

// oldPage is a form that was opened in another session.
const oldPage = "This page was opened before you signed in, or by somebody else. Go back, reload it and send it again."

func (p problem) Error() string { return p.text }

// statuses gives each error of the services its status.
var statuses = []struct {
	err    error
	status int
}{
	{training.ErrNotFound, 404}, {training.ErrForbidden, 403}, {training.ErrConflict, 409},
	{training.ErrInvalid, 422}, {training.ErrPassword, 422}, {training.ErrExpired, 401},
	{training.ErrKeyReused, 422}, {training.ErrThrottled, 429}, {training.ErrProve, 422}, {training.ErrUnsaved, 503},
}

// refusal is an error as a script gets it.
type refusal struct {
	Error string `json:"error"`
}

var headings = map[int]string{
	400: "That could not be read", 401: "Sign in first", 403: "Not for this account", 404: "Nothing here",
	405: "Not done this way", 421: "Not under this address", 409: "It has changed in the meantime", 413: "That was too large", 415: "Not taken in this form",
	422: "That could not be done", 429: "Too many tries", 503: "Not now",
}

// explain turns an error into a status and a sentence. What is not known is not
// shown: it goes to the log.
func explain(err error) (int, string) {
	var p problem
	if errors.As(err, &p) {
		return p.status, p.text
	}
	var f *fiber.Error
	if errors.As(err, &f) {
		return f.Code, fiberSentence(f.Code)
	}
	for _, s := range statuses {
		if errors.Is(err, s.err) {
			return s.status, sentence(err, s.err)
		}
	}
	if errors.Is(err, context.DeadlineExceeded) {
		return 503, "It took too long, so it was stopped. Nothing was half-saved. Try again in a moment."
	}
	return 500, "Something went wrong on our side. What you saved before is there. Try again, and tell whoever runs this program if it comes back."
}

// told reports whether an error is a refusal that is told where the form stands, with what
// was typed; of others the whole page says it.
func told(err error, also ...error) bool {
	return slices.ContainsFunc(append(also, training.ErrPassword, training.ErrThrottled, training.ErrInvalid, training.ErrConflict), func(kind error) bool { return errors.Is(err, kind) })
}

// atForm is such a refusal with its sentence.
func atForm(err error, also ...error) (status int, text string, is bool) {
	if is = told(err, also...); is {
		status, text = explain(err)
	}
	return status, text, is
}

func fiberSentence(code int) string {
	switch code {
	case 404:
		return "There is no page at this address. Perhaps the link is old or was cut short."
	case 405:
		return "This address takes a form that is sent, and cannot be opened by itself. Go back to the page you came from."
	case 413:
		return "The request is larger than any form of ours. Shorten the text and send it again."
	case 431:
		return "The request's headers are too large. Delete this site's cookies and sign in again."
	}
	return "The request could not be answered."
}

// sentence is the services' own words; a bare kind of error gets ours.
func sentence(err, kind error) string {
	var r *training.Refusal
	if errors.As(err, &r) {
		return r.Sentence
	}
	switch kind {
	case training.ErrNotFound:
		return "There is no such record, or it is not yours to see."
	case training.ErrConflict:
		return "The record has changed in the meantime. Reload the page and try again."
	case training.ErrExpired:
		return "Your session has ended. Sign in again; what you saved is there."
	case training.ErrUnsaved:
		return "Nothing can be saved now: the program's disk is full or broken. What was saved before is there and can be read. Tell whoever runs this program."
	}
	return "This was refused: " + kind.Error() + "."
}

// fail answers an error: JSON for a script, a page with a way on for a person.
func (s *server) fail(c *fiber.Ctx, err error) error {
	status, text := explain(err)
	s.strayLine(c, status, err)
	s.setHeaders(c)
	if wantsJSON(c) {
		return c.Status(status).JSON(refusal{text})
	}
	ctx, cancel := context.WithTimeout(context.Background(), actTime)
	defer cancel()
	v := &visit{Ctx: c, server: s, ctx: ctx}
	if err := v.resume(); err != nil {
		v.actor = training.Actor{} // the page is shown as to a stranger
	}
	if status == 401 {
		return v.showDoor(401, views.Door{Wrong: text, Next: wayBack(c), Kept: v.keptOf()})
	}
	f := v.frame(headings[status], "")
	if text == oldPage {
		f.Title = "This page is old"
	}
	if f.Title == "" {
		f.Title = "Something went wrong"
	}
	if renderErr := v.page(status, views.ProblemPage(f, views.Problem{Heading: f.Title, Text: text, Way: "/", WayText: "Go to the start"})); renderErr != nil {
		return fmt.Errorf("error page for %w: %w", err, renderErr)
	}
	return nil
}

// wayBack is where to go on after signing in: the page that was asked for.
func wayBack(c *fiber.Ctx) string {
	if c.Method() != fiber.MethodGet && c.Method() != fiber.MethodHead {
		return ""
	}
	return localPath(c.OriginalURL())
}

// localPath lets through a path of our own only. Browsers drop tabs and line ends
// out of an address before they read it, and take a backslash for a slash.
func localPath(p string) string {
	if !strings.HasPrefix(p, "/") || strings.HasPrefix(p, "//") || strings.Contains(p, "\\") || strings.ContainsFunc(p, unicode.IsControl) || len(p) > 300 {
		return ""
	}
	return p
}
