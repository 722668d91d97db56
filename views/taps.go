package views

import "stillwet/internal/procedure"

// wets reports whether a step wipes a surface wet: its button is a wet timer.
func wets(s procedure.Step) bool {
	for _, a := range s.Acts {
		if actOf(a).Wets {
			return true
		}
	}
	return false
}
