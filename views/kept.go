package views

import (
	"strings"

	"stillwet/internal/procedure"
)

// Kept is what was typed into a form whose session had ended, without passwords.
type Kept struct {
	At     string // where the form goes to; "" when nothing was typed
	Fields []KeptField
}

// KeptField is one of its fields.
type KeptField struct{ Name, Value string }

// shown are the fields that somebody typed.
func (k Kept) shown() (all []Fact) {
	for _, x := range k.Fields {
		switch x.Name {
		case "seen", "sure", "list":
			continue
		}
		name := strings.Map(func(r rune) rune {
			if r == '_' || r == '-' {
				return ' '
			}
			return r
		}, x.Name)
		all = append(all, Fact{Term: procedure.Capital(name), Text: x.Value})
	}
	return all
}
