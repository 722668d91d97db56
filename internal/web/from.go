package web

import (
	"net"
	"net/netip"
	"strings"

	"github.com/gofiber/fiber/v2"
)

// from is the address a request comes from. Behind a proxy it is what the proxy
// wrote last into X-Forwarded-For; what stands before that anybody may have
// written. A whole network of IPv6 belongs to one house, so it counts as one.
func (v *visit) from() string {
	text := v.Context().RemoteIP().String()
	if v.Behind {
		text = ""
		if lines := v.Request().Header.PeekAll(fiber.HeaderXForwardedFor); len(lines) > 0 {
			line := string(lines[len(lines)-1])
			text = strings.TrimSpace(line[strings.LastIndex(line, ",")+1:])
		}
	}
	a, err := netip.ParseAddr(text)
	if err != nil {
		return "unknown"
	}
	if a = a.Unmap(); a.Is6() {
		if p, err := a.WithZone("").Prefix(64); err == nil {
			return p.String()
		}
	}
	return a.String()
}

// browserWord is a short word for a browser, for its owner to know it by.
func browserWord(agent string) string {
	has := func(part string) bool { return strings.Contains(agent, part) }
	switch {
	case has("iPad") || has("Tablet") || has("Android") && !has("Mobile"):
		return "tablet"
	case has("Mobile"):
		return "phone"
	case has("Mozilla"):
		return "computer"
	}
	return "another program"
}

// ownHosts refuses requests whose page came under another name than the
// program's own: a page elsewhere could have its name point here and so read a
// demo clinic, which anybody may enter.
func (s *server) ownHosts(c *fiber.Ctx) error {
	if s.OnlyPort == "" {
		return c.Next()
	}
	host, origin := c.Get(fiber.HeaderHost), c.Get(fiber.HeaderOrigin)
	scheme := "http://"
	if s.Secure {
		scheme = "https://"
	}
	if !s.ownHost(c, host) || origin != "" && origin != "null" && !s.ownHost(c, strings.TrimPrefix(origin, scheme)) {
		return problem{421, "This demo answers only under the address that it printed when it was started. Open that one."}
	}
	return c.Next()
}

func (s *server) ownHost(c *fiber.Ctx, address string) bool {
	host, port, err := net.SplitHostPort(address)
	if err != nil {
		host, port = address, "80"
	}
	if port != s.OnlyPort {
		return false
	}
	if strings.EqualFold(host, "localhost") || s.OnlyHost != "" && strings.EqualFold(host, s.OnlyHost) {
		return true
	}
	a, err := netip.ParseAddr(host)
	return err == nil && (a == netip.IPv6Loopback() || a == netip.AddrFrom4([4]byte{127, 0, 0, 1}) || a.Unmap().String() == c.Context().LocalIP().String())
}
