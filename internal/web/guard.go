package web

import (
	"context"
	"crypto/hmac"
	"crypto/rand"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"net/url"
	"slices"
	"strings"
	"time"

	"github.com/gofiber/fiber/v2"

	"stillwet/internal/training"
)

// enter checks everything that is the same for every route before its handler
// is called: the size, the origin, the session, the role, the form's token. What
// came of it is written to the log.
func (s *server) enter(r route) fiber.Handler {
	return func(c *fiber.Ctx) error {
		ctx, cancel := context.WithTimeout(context.Background(), actTime)
		defer cancel()
		v := &visit{Ctx: c, server: s, ctx: ctx}
		err := v.serve(r)
		v.logged(r, err)
		return err
	}
}

func (v *visit) serve(r route) (err error) {
	defer survived(&err)
	if len(v.Request().Body()) > r.body {
		return fiber.ErrRequestEntityTooLarge
	}
	if r.method != fiber.MethodGet && !sameOrigin(v.Ctx) {
		return problem{403, "This form came from another site, so it was not accepted. Open the page here and send it again."}
	}
	if err := v.resume(); err != nil && !r.who.open {
		return err
	}
	if v.actor.Handed != "" && !v.whileHanded(r) {
		if r.method != fiber.MethodGet {
			return problem{403, "This device was handed over to sign a demonstration. Its preceptor takes it back with a password first."}
		}
		return v.goTo("/demonstrations/" + v.actor.Handed)
	}
	if !r.who.open {
		if err := v.admit(r); err != nil {
			return err
		}
		if v.actor.MustChange && r.method == fiber.MethodGet && r.path != "/password" {
			return v.goTo("/password")
		}
	}
	return r.handle(v)
}

// handedRoutes are what a device answers while it is in a learner's hands, besides what shows
// nothing of anybody.
var handedRoutes = []string{"/demonstrations/:id", "/demonstrations/:id/sign/learner", "/demonstrations/:id/refuse", "/demonstrations/:id/sign/preceptor",
	"/demonstrations/:id/take-back"}

// whileHanded reports whether a route is one of those, of the demonstration that is signed.
func (v *visit) whileHanded(r route) bool {
	if strings.HasPrefix(r.path, "/static/") || r.path == "/healthz" || r.path == "/readyz" || r.path == "/sw.js" {
		return true
	}
	return slices.Contains(handedRoutes, r.path) && v.Params("id") == v.actor.Handed
}

// plainBody refuses a body that says it is encoded, before anything asks for it:
// fiber and fasthttp would inflate it without a limit, some kilobytes to
// gigabytes. No page or script of ours sends one.
func plainBody(c *fiber.Ctx) error {
	for _, line := range c.Request().Header.PeekAll(fiber.HeaderContentEncoding) {
		for encoding := range strings.SplitSeq(string(line), ",") {
			if !strings.EqualFold(strings.TrimSpace(encoding), "identity") {
				return problem{415, "The request's body is compressed or encoded (Content-Encoding), which is not taken here. Send it as it is."}
			}
		}
	}
	c.Request().Header.Del(fiber.HeaderContentEncoding)
	return c.Next()
}

// admit checks role and token of a signed-in person.
func (v *visit) admit(r route) error {
	if v.actor.Person.ID == "" {
		return problem{401, "Sign in to go on."}
	}
	if !r.who.allows(v.actor.Person) {
		return problem{403, fmt.Sprintf("This page is not for a %s's account. Ask your educator if you need it.", v.roleTitle())}
	}
	if r.method != fiber.MethodGet && !v.tokenFits() {
		return problem{403, oldPage}
	}
	if v.actor.MustChange && r.method != fiber.MethodGet && r.path != "/password" && r.path != "/sign-out" {
		return problem{403, "Choose your own password first."}
	}
	return nil
}

// sameOrigin reports whether a request that writes comes from our own pages.
// Browsers say so in one of two headers; without both it is not a browser, and
// the token decides.
func sameOrigin(c *fiber.Ctx) bool {
	switch site := c.Get("Sec-Fetch-Site"); site {
	case "":
	case "same-origin", "none":
		return true
	default:
		return false
	}
	origin := c.Get(fiber.HeaderOrigin)
	if origin == "" {
		return true
	}
	u, err := url.Parse(origin)
	return err == nil && u.Host != "" && u.Host == c.Get(fiber.HeaderHost)
}

func (s *server) cookieName() string {
	if s.Secure {
		return "__Host-stillwet"
	}
	return "stillwet"
}

// knownName is the cookie by which a browser is known at the next sign-in.
func (s *server) knownName() string { return s.cookieName() + "-known" }

// knownFor is as long as browsers keep a cookie.
const knownFor = 400 * 24 * time.Hour

func (s *server) setCookie(c *fiber.Ctx, name, value string, expires time.Time) {
	c.Cookie(&fiber.Cookie{
		Name: name, Value: value, Path: "/", Expires: expires,
		HTTPOnly: true, Secure: s.Secure, SameSite: fiber.CookieSameSiteLaxMode, SessionOnly: expires.IsZero(),
	})
}

// resume finds the person of the session cookie. Without a cookie nobody is
// signed in, which is no error.
func (v *visit) resume() error {
	v.cookie = v.Cookies(v.cookieName())
	if v.cookie == "" {
		return nil
	}
	actor, err := v.Service.Resume(v.ctx, v.cookie)
	switch {
	case errors.Is(err, training.ErrExpired):
		v.cookie = ""
		v.setCookie(v.Ctx, v.cookieName(), "", time.Unix(1, 0))
		return problem{401, "Your session has ended. Sign in again; what you saved is there."}
	case err != nil:
		return err
	}
	v.actor = actor
	return nil
}

// token is bound to the session and looks different every time, so that a
// compressed page does not give it away.
func (v *visit) token() string {
	if v.cookie == "" {
		return ""
	}
	mask := make([]byte, 16)
	_, _ = rand.Read(mask) // never fails: it ends the program instead
	return hex.EncodeToString(append(mask, xor(mask, v.mac())...))
}

func (v *visit) mac() []byte {
	h := hmac.New(sha256.New, []byte(v.cookie))
	h.Write([]byte("stillwet form"))
	return h.Sum(nil)[:16]
}

func (v *visit) tokenFits() bool {
	given := v.Get("X-Form-Token")
	if given == "" {
		given = v.tokenInBody() // never the address's: addresses are logged, kept and sent on
	}
	b, err := hex.DecodeString(given)
	if err != nil || len(b) != 32 {
		return false
	}
	return hmac.Equal(xor(b[:16], b[16:]), v.mac())
}

func (v *visit) tokenInBody() string {
	if parts, err := v.parts(); err == nil && parts != nil {
		return strings.Join(parts.Value["token"], "")
	}
	return string(v.Request().PostArgs().Peek("token"))
}

func xor(a, b []byte) []byte {
	out := make([]byte, len(a))
	for i := range a {
		out[i] = a[i] ^ b[i]
	}
	return out
}
