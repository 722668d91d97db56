package web

import (
	"maps"
	"net/url"
	"slices"
	"strings"

	"github.com/gofiber/fiber/v2"

	"stillwet/views"
)

// What is typed into a form whose session has ended goes with the sign-in page, and from
// there to a page that sends it again: it lies in the browser meanwhile, nowhere else.
const (
	keptPrefix = "kept-"
	mostTyped  = 3 << 10 // bytes, as a form has them: the sign-in takes little more
)

// keptOf is what came with a form that nobody was signed in for; no password, and nothing
// that only means something to the session that is over.
func (v *visit) keptOf() (k views.Kept) {
	if v.Method() != fiber.MethodPost || strings.HasPrefix(v.Path(), "/sign-") {
		return k
	}
	in, err := v.form()
	if err != nil {
		return k
	}
	return keptOf(localPath(v.OriginalURL()), in)
}

// keptAgain is the same as the sign-in page carried it on.
func keptAgain(in map[string]string) views.Kept {
	typed := map[string]string{}
	for name, value := range in {
		if name, is := strings.CutPrefix(name, keptPrefix); is {
			typed[name] = value
		}
	}
	return keptOf(localPath(in["again"]), typed)
}

func keptOf(at string, in map[string]string) (k views.Kept) {
	size := len(at)
	for _, name := range slices.Sorted(maps.Keys(in)) {
		if secret(name) || in[name] == "" {
			continue
		}
		k.Fields = append(k.Fields, views.KeptField{Name: name, Value: in[name]})
		size += len(keptPrefix) + len(name) + len(url.QueryEscape(in[name]))
	}
	if at == "" || len(k.Fields) == 0 || size > mostTyped {
		return views.Kept{}
	}
	k.At = at
	return k
}

// secret reports whether a field is a password, or only of its session.
func secret(name string) bool {
	return name == "token" || name == "key" || name == "own" || name == "old" || strings.Contains(name, "password")
}
