package web

import (
	"bytes"
	"cmp"
	"context"
	"crypto/rand"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"mime/multipart"
	"strconv"
	"strings"

	"github.com/a-h/templ"
	"github.com/gofiber/fiber/v2"

	"stillwet/internal/training"
	"stillwet/views"
)

// visit is one request with the person who makes it.
type visit struct {
	*fiber.Ctx
	*server
	ctx    context.Context
	actor  training.Actor
	cookie string
	about  training.Person // for the log, when it is not the actor
}

func (v *visit) roleTitle() string {
	return v.actor.Person.RoleTitle(v.actor.Person.Settled(false, v.Service.Today()))
}

// frame is what every page needs.
func (v *visit) frame(title string, at views.Section) views.Frame {
	f := views.Frame{
		Title: title, At: at, Clinic: v.Service.Clinic, Demo: v.Service.Demo,
		Token: v.token(), NewKey: rand.Text, Zone: v.Service.Zone(), Today: v.Service.Today(),
		Path: localPath(v.OriginalURL()), Mirrored: v.Cookies(pictureCookie) == mirrored,
		Message: v.done(), Unsaved: v.unready() != nil, Prove: v.actor.Person.ID != "" && v.Service.MustProve(v.actor),
	}
	if v.actor.Person.ID != "" {
		f.Person = &v.actor.Person
	}
	return f
}

// printScript offers to print a page that is made for it.
const printScript = "print.js"

// unready is why nothing can be saved now, or nil.
func (v *visit) unready() error {
	if v.Ready == nil {
		return nil
	}
	return v.Ready(v.ctx)
}

// prove checks the password that came with a form which opens or closes
// somebody's way in, when one came.
func (v *visit) prove(in map[string]string) error {
	if in["own"] == "" {
		return nil
	}
	actor, err := v.Service.Prove(v.ctx, v.actor, in["own"])
	v.actor = actor
	return err
}

// page renders to a buffer first, so that a fault halfway is no half page.
func (v *visit) page(status int, c templ.Component) error {
	var b bytes.Buffer
	if err := c.Render(v.ctx, &b); err != nil {
		return fmt.Errorf("render: %w", err)
	}
	v.Set(fiber.HeaderContentType, fiber.MIMETextHTMLCharsetUTF8)
	return v.Status(status).Send(b.Bytes())
}

func (v *visit) goTo(path string) error { return v.Redirect(path, fiber.StatusSeeOther) }

// wantsJSON reports whether a script asks rather than a person.
func wantsJSON(c *fiber.Ctx) bool {
	return strings.Contains(c.Get(fiber.HeaderAccept), fiber.MIMEApplicationJSON)
}

// body reads the JSON of a script's request; unknown fields and a second value
// are refused, so that nothing is dropped in silence.
func (v *visit) body(into any) error {
	if !strings.HasPrefix(v.Get(fiber.HeaderContentType), fiber.MIMEApplicationJSON) {
		return problem{400, "This address takes JSON only."}
	}
	d := json.NewDecoder(bytes.NewReader(v.Body()))
	d.DisallowUnknownFields()
	if err := d.Decode(into); err != nil {
		return problem{400, unreadable(err)}
	}
	if _, err := d.Token(); err != io.EOF {
		return problem{400, "The request holds more than one thing."}
	}
	return nil
}

// unreadable says what is wrong with a request's JSON in the request's own words:
// its fields, not our types.
func unreadable(err error) string {
	var kind *json.UnmarshalTypeError
	if errors.As(err, &kind) {
		field := kind.Field[strings.LastIndex(kind.Field, ".")+1:] // before the dot stands a type that several requests share
		return fmt.Sprintf("The request's field %q does not take this kind of value (%s).", cmp.Or(field, "(the whole)"), kind.Value)
	}
	return "The request could not be read: " + strings.TrimPrefix(err.Error(), "json: ") + "."
}

// form reads the named fields of a form. A field twice is refused: it would
// not be clear which one counts.
func (v *visit) form(names ...string) (map[string]string, error) {
	found := map[string]string{}
	var twice string
	add := func(key, value string) {
		if _, seen := found[key]; seen {
			twice = key
		}
		found[key] = value
	}
	v.Request().PostArgs().VisitAll(func(key, value []byte) { add(string(key), string(value)) })
	parts, err := v.parts()
	if err != nil {
		return nil, err
	}
	if parts != nil {
		for key, values := range parts.Value {
			for _, value := range values {
				add(key, value)
			}
		}
	}
	if twice != "" {
		return nil, problem{400, fmt.Sprintf("The form holds the field %q twice. Reload the page and send it again.", twice)}
	}
	for _, name := range names {
		if _, ok := found[name]; !ok {
			return nil, problem{400, fmt.Sprintf("The form comes without its field %q. Reload the page and send it again.", name)}
		}
	}
	return found, nil
}

// upload is the file of a form that comes in parts, nothing when none was chosen.
// More than its most is refused: what was cut off could pass for the whole.
func (v *visit) upload(name string, most int64) ([]byte, error) {
	parts, err := v.parts()
	if err != nil || parts == nil || len(parts.File[name]) == 0 {
		return nil, err
	}
	file := parts.File[name][0]
	if file.Size > most {
		return nil, fiber.ErrRequestEntityTooLarge
	}
	f, err := file.Open()
	if err != nil {
		return nil, err
	}
	data, err := io.ReadAll(io.LimitReader(f, most))
	return data, errors.Join(err, f.Close())
}

// parts is a form that comes in parts, nil for another. Its size is the route's.
func (v *visit) parts() (*multipart.Form, error) {
	if !strings.HasPrefix(v.Get(fiber.HeaderContentType), fiber.MIMEMultipartForm) {
		return nil, nil
	}
	parts, err := v.MultipartForm()
	if err != nil {
		return nil, problem{400, "The form could not be read. Reload the page and send it again."}
	}
	return parts, nil
}

func number(text string) (int, error) {
	n, err := strconv.Atoi(text)
	if err != nil {
		return 0, problem{400, fmt.Sprintf("%q is no number. Reload the page and send it again.", text)}
	}
	return n, nil
}
