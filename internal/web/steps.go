package web

import (
	"net/url"
	"slices"
	"strconv"
	"strings"
)

// change is one press of a button of the plain build form.
type change struct {
	verb  string   // add, up, down, move, remove, undo, clear
	step  string   // of add
	at    int      // row from 1, of up, down, move and remove
	to    int      // its new place, of move
	after int      // row after which a step is added; -1 is the end
	was   []string // the list before the last change
	mark  int      // and after as it was then
}

// said is what the page says after a change of the plain form.
var said = map[string]string{
	"add": "The step is added.", "up": "The step is moved up.", "down": "The step is moved down.", "move": "The step is moved.",
	"remove": "The step is gone.", "undo": "Taken back.", "clear": "The list is empty. Undo brings it back.",
}

func readChange(in map[string]string) (change, error) {
	c := change{after: -1, mark: -1}
	for verb := range said {
		if value, ok := in[verb]; ok {
			if c.verb != "" {
				return c, problem{400, "One button at a time, please."}
			}
			c.verb, c.step = verb, value
		}
	}
	var err error
	switch c.verb {
	case "":
		return c, problem{400, "The form does not say which button was pressed. Reload the page and try again."}
	case "up", "down", "remove":
		if c.at, err = number(c.step); err != nil {
			return c, err
		}
	case "move":
		if c.at, c.to, err = readMove(in, c.step); err != nil {
			return c, err
		}
	}
	if in["after"] != "" {
		if c.after, err = number(in["after"]); err != nil {
			return c, err
		}
	}
	if in["was_after"] != "" {
		if c.mark, err = number(in["was_after"]); err != nil {
			return c, err
		}
	}
	c.was = strings.Fields(in["was"])
	return c, nil
}

// readMove finds the row that is moved and its new place. Row 0 is the one beside which
// a place was typed and Enter pressed.
func readMove(in map[string]string, row string) (at, to int, err error) {
	if at, err = number(row); err != nil {
		return 0, 0, err
	}
	if at == 0 {
		at = firstTyped(in)
	}
	place := in["to"+strconv.Itoa(at)]
	if place == "" {
		return 0, 0, problem{422, "To which place? Type its number beside the step, then press Move."}
	}
	to, err = number(place)
	return at, to, err
}

// firstTyped is the first row beside which a place was typed, 0 for none.
func firstTyped(in map[string]string) (first int) {
	for name, place := range in {
		digits, _ := strings.CutPrefix(name, "to")
		n, err := strconv.Atoi(digits)
		if err == nil && place != "" && n > 0 && (first == 0 || n < first) { // other names begin so too
			first = n
		}
	}
	return first
}

// apply gives the changed list and the row after which the next step goes. A
// row that is not there changes nothing.
func (c change) apply(steps []string) ([]string, int) {
	after := c.after
	if after > len(steps) {
		after = -1
	}
	next := slices.Clone(steps)
	i := c.at - 1
	switch {
	case c.verb == "add" && after < 0:
		return append(next, c.step), after
	case c.verb == "add":
		return slices.Insert(next, after, c.step), after + 1
	case c.verb == "undo":
		return c.was, c.mark
	case c.verb == "clear":
		return []string{}, -1
	case i < 0 || i >= len(steps):
		return next, after
	case c.verb == "remove":
		if after > i {
			after--
		}
		if after == 0 {
			after = -1
		}
		return slices.Delete(next, i, i+1), after
	}
	to := map[string]int{"up": i - 1, "down": i + 1, "move": c.to - 1}[c.verb]
	return slices.Insert(slices.Delete(next, i, i+1), min(max(to, 0), len(steps)-1), steps[i]), after
}

func queryText(s string) string { return url.QueryEscape(s) }
