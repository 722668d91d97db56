package web

import (
	"errors"
	"fmt"
	"time"

	"github.com/gofiber/fiber/v2"

	"stillwet/internal/procedure"
	"stillwet/internal/training"
	"stillwet/views"
)

func health(v *visit) error { return v.SendString("ok\n") }

// ready says why records cannot be kept, for whoever watches over the program.
func ready(v *visit) error {
	if err := v.unready(); err != nil {
		return v.Status(503).SendString("not ready: " + err.Error() + "\n")
	}
	return v.SendString("ready\n")
}

// static serves an embedded file. Its address holds a hash of the content.
func static(v *visit) error {
	f, ok := views.Static(v.Path())
	if !ok {
		return fiber.ErrNotFound
	}
	v.Set(fiber.HeaderContentType, f.Type)
	v.Set(fiber.HeaderCacheControl, "public, max-age=31536000, immutable")
	v.Vary(fiber.HeaderAcceptEncoding)
	if v.Request().Header.HasAcceptEncoding("gzip") {
		v.Set(fiber.HeaderContentEncoding, "gzip")
		return v.Send(f.Packed)
	}
	return v.Send(f.Body)
}

// start leads everyone to the page they need first.
func start(v *visit) error {
	switch p := v.actor.Person; {
	case p.Has(training.Educator):
		return v.goTo("/people")
	case p.Has(training.Preceptor):
		return v.goTo("/watch")
	case p.Has(training.Trainee):
		return v.goTo("/practice")
	case p.Has(training.Manager):
		return v.goTo("/people")
	}
	return v.goTo("/sign-in")
}

func help(v *visit) error {
	h := views.Help{}
	seen := map[string]bool{}
	for _, c := range v.Library.Competencies() {
		for _, id := range c.Stations() {
			if p, ok := v.Library.Procedure(id); ok && !seen[p.ID] {
				seen[p.ID] = true
				h.Procedures = append(h.Procedures, p)
			}
		}
	}
	return v.page(200, views.HelpPage(v.frame("Cautions and help", views.AtHelp), h))
}

// partsPage shows what pages are made of.
func partsPage(v *visit) error {
	p, ok := v.Library.Procedure(v.Library.Competencies()[0].Procedure)
	if !ok {
		return fiber.ErrNotFound
	}
	return v.page(200, views.PartsPage(v.frame("Parts", views.AtHelp), views.Parts{Procedure: p}))
}

func signInPage(v *visit) error {
	if v.actor.Person.ID != "" {
		return v.goTo("/")
	}
	return v.showDoor(200, views.Door{})
}

// showDoor fills in whom the demo offers.
func (v *visit) showDoor(status int, d views.Door) error {
	if v.Service.Demo {
		people, err := v.Service.DemoPeople(v.ctx)
		if err != nil {
			return fmt.Errorf("demo people: %w", err)
		}
		d.People, d.DemoPassword = people, training.DemoPassword
	}
	f := v.frame("Sign in", "")
	d.Open = v.Open
	f.Person = nil
	return v.page(status, views.SignInPage(f, d))
}

func signIn(v *visit) error {
	in, err := v.form("username", "password")
	if err != nil {
		return err
	}
	entry, err := v.knock(in["username"], in["password"])
	if errors.Is(err, training.ErrPassword) || errors.Is(err, training.ErrThrottled) {
		status, text := explain(err)
		if status == 422 {
			status = 401
		}
		return v.showDoor(status, views.Door{Username: in["username"], Wrong: text, Next: localPath(in["next"]), Kept: keptAgain(in)})
	}
	if err != nil {
		return err
	}
	return v.enterAs(entry, localPath(in["next"]), keptAgain(in))
}

// knock signs in with all that is known of the browser, and notes whose name
// was given, for the log.
func (v *visit) knock(username, password string) (training.Entry, error) {
	entry, err := v.Service.Enter(v.ctx, training.Knock{Username: username, Password: password,
		From: v.from(), Known: v.Cookies(v.knownName()), Browser: browserWord(v.Get(fiber.HeaderUserAgent))})
	v.about = entry.Actor.Person
	if errors.Is(err, training.ErrPassword) || errors.Is(err, training.ErrThrottled) {
		var unnamed error
		if v.about, unnamed = v.Service.Named(v.ctx, username); unnamed != nil {
			return entry, unnamed
		}
	}
	return entry, err
}

func signInDemo(v *visit) error {
	in, err := v.form("person")
	if err != nil {
		return err
	}
	actor, cookie, err := v.Service.SignInDemo(v.ctx, in["person"], browserWord(v.Get(fiber.HeaderUserAgent)))
	if err != nil {
		return err
	}
	v.about = actor.Person
	return v.enterAs(training.Entry{Actor: actor, Cookie: cookie}, "", keptAgain(in))
}

// enterAs ends the session there was and sets the new one. What was typed before is offered
// to be sent again.
func (v *visit) enterAs(entry training.Entry, next string, kept views.Kept) error {
	if v.cookie != "" {
		if err := v.Service.SignOut(v.ctx, v.cookie); err != nil {
			return err
		}
	}
	v.setCookie(v.Ctx, v.cookieName(), entry.Cookie, time.Time{})
	v.setKnown(entry.Known)
	if kept.At != "" && !entry.Actor.MustChange {
		v.cookie, v.actor = entry.Cookie, entry.Actor
		return v.page(200, views.SendAgainPage(v.frame("What you typed", ""), kept))
	}
	if next == "" {
		next = "/"
	}
	return v.goTo(next)
}

// setKnown has the browser remember that somebody signed in in it. It outlives
// the session, and signing out.
func (v *visit) setKnown(known string) {
	if known != "" {
		v.setCookie(v.Ctx, v.knownName(), known, v.Service.Now().Time().Add(knownFor))
	}
}

func signOut(v *visit) error {
	if err := v.Service.SignOut(v.ctx, v.cookie); err != nil {
		return err
	}
	v.setCookie(v.Ctx, v.cookieName(), "", time.Unix(1, 0))
	v.Set("Clear-Site-Data", `"cache"`) // not "storage": taps not sent yet are kept there
	return v.goTo("/sign-in")
}

func firstPage(v *visit) error {
	token := v.Params("token")
	holder, err := v.Service.LinkHolder(v.ctx, token)
	if err != nil {
		return linkGone(err)
	}
	return v.showFirst(200, views.First{LinkToken: token, Holder: holder.Name, Username: holder.Username, MadeBy: holder.MadeBy})
}

// linkGone says why a first-run link does not work (any more).
func linkGone(err error) error {
	if errors.Is(err, training.ErrNotFound) {
		return problem{404, "This set-up link does not work: it was used already, is older than a day, or was cut short. Start the program again for a new one, or sign in."}
	}
	return err
}

func (v *visit) showFirst(status int, d views.First) error {
	f := v.frame("Set up your clinic", "")
	d.AsksZone = v.Service.KeepZone != nil
	f.Script = "door.js"
	return v.page(status, views.FirstPage(f, d))
}

func first(v *visit) error {
	token := v.Params("token")
	in, err := v.form("key", "password")
	if err != nil {
		return err
	}
	if _, first := in["name"]; !first {
		return v.newPassword(token, in)
	}
	if in, err = v.form("key", "name", "username", "password"); err != nil {
		return err
	}
	v.about, err = v.Service.CreateFirstEducator(v.ctx, token, in["key"], training.FirstEducator{Name: in["name"], Username: in["username"], Password: in["password"], Zone: in["zone"]})
	if errors.Is(err, training.ErrInvalid) || errors.Is(err, training.ErrConflict) {
		status, text := explain(err)
		return v.showFirst(status, views.First{LinkToken: token, Name: in["name"], Username: in["username"], SaidZone: in["zone"], Wrong: text})
	}
	if err != nil {
		return linkGone(err)
	}
	entry, err := v.knock(in["username"], in["password"])
	if err != nil {
		return err
	}
	return v.enterAs(entry, "", views.Kept{})
}

// newPassword is sent from the page of a link, perhaps twice: then the link has
// been used, and the answer is that of the first.
func (v *visit) newPassword(token string, in map[string]string) error {
	holder, err := v.Service.LinkHolder(v.ctx, token)
	if err != nil && !errors.Is(err, training.ErrNotFound) {
		return err
	}
	v.about = holder.Person // for the log: nobody is signed in
	username, err := v.Service.UseLink(v.ctx, token, in["key"], in["password"])
	if errors.Is(err, training.ErrInvalid) || errors.Is(err, training.ErrConflict) {
		status, text := explain(err)
		return v.showFirst(status, views.First{LinkToken: token, Holder: holder.Name, Username: holder.Username, MadeBy: holder.MadeBy, Wrong: text})
	}
	if err != nil {
		return linkGone(err)
	}
	entry, err := v.knock(username, in["password"])
	if err != nil {
		return err
	}
	return v.enterAs(entry, "", views.Kept{})
}

// procedureOf is the procedure of a competency or scenario; the loader has
// proved that it is there.
func (s *server) procedureOf(id string) (*procedure.Procedure, error) {
	p, ok := s.Library.Procedure(id)
	if !ok {
		return nil, fmt.Errorf("procedure %q is not in the library", id)
	}
	return p, nil
}
