package web

import (
	"strings"

	"github.com/gofiber/fiber/v2"
	"github.com/valyala/fasthttp"
)

// bodyLimits tells the server, once it has a request's head, how much body it
// may read: so too much is refused by its announced length, or at the chunk that
// goes over. A path that is written oddly gets the default.
func bodyLimits(all []route) func(*fasthttp.RequestHeader) fasthttp.RequestConfig {
	return func(h *fasthttp.RequestHeader) fasthttp.RequestConfig {
		method := string(h.Method())
		if method == fiber.MethodHead {
			method = fiber.MethodGet
		}
		path, _, _ := strings.Cut(string(h.RequestURI()), "?")
		for _, r := range all {
			if r.method == method && fits(r.path, path) {
				return fasthttp.RequestConfig{MaxRequestBodySize: r.body}
			}
		}
		return fasthttp.RequestConfig{MaxRequestBodySize: fewFields}
	}
}

// fits reports whether a path is one of a route's pattern.
func fits(pattern, path string) bool {
	want, is := strings.Split(pattern, "/"), strings.Split(strings.TrimSuffix(path, "/"), "/")
	if pattern == "/" {
		return path == "/"
	}
	if len(want) != len(is) {
		return false
	}
	for i := range want {
		if !strings.HasPrefix(want[i], ":") && !strings.EqualFold(want[i], is[i]) {
			return false
		}
	}
	return true
}
