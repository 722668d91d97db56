package web

import (
	"github.com/gofiber/fiber/v2"
)

// policy lets a page load only our own files: nothing inline, nothing foreign.
const policy = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; font-src 'self'; connect-src 'self'; " +
	"manifest-src 'self'; worker-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"

// headers go with every answer, errors and files included.
func (s *server) headers(c *fiber.Ctx) error {
	s.setHeaders(c)
	return c.Next()
}

func (s *server) setHeaders(c *fiber.Ctx) {
	c.Set("Content-Security-Policy", policy)
	c.Set("X-Content-Type-Options", "nosniff")
	c.Set("Referrer-Policy", "same-origin")
	c.Set("Cross-Origin-Opener-Policy", "same-origin")
	c.Set("Cross-Origin-Resource-Policy", "same-origin")
	c.Set("Permissions-Policy", "camera=(), geolocation=(), microphone=()")
	c.Set("Cache-Control", "no-store")
	if s.Secure {
		c.Set("Strict-Transport-Security", "max-age=31536000; includeSubDomains")
	}
}
