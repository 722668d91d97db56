package web

import (
	"errors"
	"time"

	"stillwet/internal/training"
	"stillwet/views"
)

// accountPage is one's own: password and sessions.
func accountPage(v *visit) error { return v.showAccount(200, "") }

func (v *visit) showAccount(status int, wrong string) error {
	own := views.OwnAccount{Must: v.actor.MustChange, Wrong: wrong, Here: v.actor.Session}
	var err error
	if own.Changes, err = v.Service.AccountChanges(v.ctx, v.actor); err != nil {
		return err
	}
	title := "Choose your own password"
	if !own.Must {
		title = "Your account"
		if own.Sessions, err = v.Service.OwnSessions(v.ctx, v.actor); err != nil {
			return err
		}
	}
	f := v.frame(title, "")
	f.Script = "door.js"
	return v.page(status, views.AccountPage(f, own))
}

func changePassword(v *visit) error {
	in, err := v.form("key", "old", "password")
	if err != nil {
		return err
	}
	cookie, err := v.Service.ChangePassword(v.ctx, v.actor, in["key"], in["old"], in["password"])
	if errors.Is(err, training.ErrInvalid) || errors.Is(err, training.ErrPassword) || errors.Is(err, training.ErrThrottled) {
		status, text := explain(err)
		return v.showAccount(status, text)
	}
	if err != nil {
		return err
	}
	known, err := v.Service.Remember(v.ctx, v.actor, v.Cookies(v.knownName()))
	if err != nil {
		return err
	}
	if cookie != "" { // "" to the second of two: the first has set it
		v.setCookie(v.Ctx, v.cookieName(), cookie, time.Time{})
	}
	v.setKnown(known)
	return v.goTo("/")
}

// endSessions ends one of one's own sessions, or all others.
func endSessions(v *visit) error {
	in, err := v.form("session")
	if err != nil {
		return err
	}
	if err := v.Service.EndOwnSession(v.ctx, v.actor, in["session"]); err != nil {
		return err
	}
	if in["session"] == v.actor.Session {
		return v.goTo("/sign-in")
	}
	return v.goTo("/password#sessions")
}
