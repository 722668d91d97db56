package web

import (
	"context"
	"slices"
	"strings"

	"github.com/gofiber/fiber/v2"
	"github.com/valyala/fasthttp"
)

// bodyLimits tells the server, once it has a request's head, how much body it
// may read: so too much is refused by its announced length, or at the chunk that
// goes over. A path that is written oddly gets the default. A body that is larger than any
// form's is read of those alone who may send it.
func (s *server) bodyLimits(all []route) func(*fasthttp.RequestHeader) fasthttp.RequestConfig {
	patterns := make([][]string, len(all))
	for i, r := range all {
		patterns[i] = parts(r.path)
	}
	return func(h *fasthttp.RequestHeader) fasthttp.RequestConfig {
		method := string(h.Method())
		if method == fiber.MethodHead {
			method = fiber.MethodGet
		}
		path, _, _ := strings.Cut(string(h.RequestURI()), "?")
		asked := parts(path)
		for i, r := range all {
			if r.method == method && fits(patterns[i], asked) {
				if r.body > allSteps && !s.maySend(r, string(h.Cookie(s.cookieName()))) {
					break
				}
				return fasthttp.RequestConfig{MaxRequestBodySize: r.body}
			}
		}
		return fasthttp.RequestConfig{MaxRequestBodySize: fewFields}
	}
}

// maySend reports whether a session may ask for a route, before there is a request.
func (s *server) maySend(r route, cookie string) bool {
	ctx, cancel := context.WithTimeout(context.Background(), actTime)
	defer cancel()
	actor, err := s.Service.Resume(ctx, cookie)
	return err == nil && r.who.allows(actor.Person)
}

func parts(path string) []string { return strings.Split(strings.Trim(path, "/"), "/") }

// fits reports whether a path is one of a route's pattern.
func fits(pattern, path []string) bool {
	return slices.EqualFunc(pattern, path, func(want, is string) bool {
		return strings.HasPrefix(want, ":") || strings.EqualFold(want, is)
	})
}
