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

func ready(v *visit) error {
	if v.Ready != nil {
		if err := v.Ready(v.ctx); err != nil {
			v.Log.Error("not ready", "error", err)
			return v.Status(503).SendString("not ready\n")
		}
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
	return v.Send(f.Body)
}

// start leads everyone to the page they need first.
func start(v *visit) error {
	switch v.actor.Person.Role {
	case training.Educator:
		return v.goTo("/people")
	case training.Preceptor:
		return v.goTo("/watch")
	case training.Trainee:
		return v.goTo("/practice")
	}
	return v.goTo("/sign-in")
}

func help(v *visit) error {
	h := views.Help{}
	seen := map[string]bool{}
	for _, c := range v.Library.Competencies() {
		if p, ok := v.Library.Procedure(c.Procedure); ok && !seen[p.ID] {
			seen[p.ID] = true
			h.Procedures = append(h.Procedures, p)
		}
	}
	return v.page(200, views.HelpPage(v.frame("Cautions and help", views.AtHelp), h))
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
	f.Narrow, f.Person = len(d.People) == 0, nil
	return v.page(status, views.SignInPage(f, d))
}

func signIn(v *visit) error {
	in, err := v.form("username", "password")
	if err != nil {
		return err
	}
	_, cookie, err := v.Service.SignIn(v.ctx, in["username"], in["password"])
	if errors.Is(err, training.ErrPassword) || errors.Is(err, training.ErrThrottled) {
		status, text := explain(err)
		if status == 422 {
			status = 401
		}
		return v.showDoor(status, views.Door{Username: in["username"], Wrong: text, Next: localPath(in["next"])})
	}
	if err != nil {
		return err
	}
	return v.enterAs(cookie, localPath(in["next"]))
}

func signInDemo(v *visit) error {
	in, err := v.form("person")
	if err != nil {
		return err
	}
	_, cookie, err := v.Service.SignInDemo(v.ctx, in["person"])
	if err != nil {
		return err
	}
	return v.enterAs(cookie, "")
}

// enterAs ends the session there was and sets the new one.
func (v *visit) enterAs(cookie, next string) error {
	if v.cookie != "" {
		if err := v.Service.SignOut(v.ctx, v.cookie); err != nil {
			return err
		}
	}
	v.setCookie(v.Ctx, cookie, time.Time{})
	if next == "" {
		next = "/"
	}
	return v.goTo(next)
}

func signOut(v *visit) error {
	if err := v.Service.SignOut(v.ctx, v.cookie); err != nil {
		return err
	}
	v.setCookie(v.Ctx, "", time.Unix(1, 0))
	v.Set("Clear-Site-Data", `"cache"`) // not "storage": taps not sent yet are kept there
	return v.goTo("/sign-in")
}

func firstPage(v *visit) error {
	token := v.Params("token")
	holder, err := v.Service.LinkHolder(v.ctx, token)
	if err != nil {
		return linkGone(err)
	}
	return v.showFirst(200, views.First{LinkToken: token, Holder: holder.Name})
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
	f.Narrow = true
	return v.page(status, views.FirstPage(f, d))
}

func first(v *visit) error {
	token := v.Params("token")
	holder, err := v.Service.LinkHolder(v.ctx, token)
	if err == nil && holder.ID != "" {
		return v.newPassword(token, holder)
	}
	in, err := v.form("key", "name", "username", "password")
	if err != nil {
		return err
	}
	_, err = v.Service.CreateFirstEducator(v.ctx, token, in["key"], in["name"], in["username"], in["password"])
	if errors.Is(err, training.ErrInvalid) || errors.Is(err, training.ErrConflict) {
		status, text := explain(err)
		return v.showFirst(status, views.First{LinkToken: token, Name: in["name"], Username: in["username"], Wrong: text})
	}
	if err != nil {
		return linkGone(err)
	}
	_, cookie, err := v.Service.SignIn(v.ctx, in["username"], in["password"])
	if err != nil {
		return err
	}
	return v.enterAs(cookie, "")
}

// newPassword is sent from the page of an owner's link.
func (v *visit) newPassword(token string, holder training.Person) error {
	in, err := v.form("key", "password")
	if err != nil {
		return err
	}
	username, err := v.Service.UseOwnerLink(v.ctx, token, in["key"], in["password"])
	if errors.Is(err, training.ErrInvalid) || errors.Is(err, training.ErrConflict) {
		status, text := explain(err)
		return v.showFirst(status, views.First{LinkToken: token, Holder: holder.Name, Wrong: text})
	}
	if err != nil {
		return linkGone(err)
	}
	_, cookie, err := v.Service.SignIn(v.ctx, username, in["password"])
	if err != nil {
		return err
	}
	return v.enterAs(cookie, "")
}

func passwordPage(v *visit) error { return v.showPassword(200, "") }

func (v *visit) showPassword(status int, wrong string) error {
	f := v.frame("Choose your own password", "")
	f.Narrow = true
	return v.page(status, views.PasswordPage(f, views.OwnPassword{Must: v.actor.MustChange, Wrong: wrong}))
}

func changePassword(v *visit) error {
	in, err := v.form("key", "old", "password")
	if err != nil {
		return err
	}
	err = v.Service.ChangePassword(v.ctx, v.actor, in["key"], in["old"], in["password"])
	if errors.Is(err, training.ErrInvalid) || errors.Is(err, training.ErrPassword) || errors.Is(err, training.ErrThrottled) {
		status, text := explain(err)
		return v.showPassword(status, text)
	}
	if err != nil {
		return err
	}
	return v.goTo("/")
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
