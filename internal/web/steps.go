package web

import (
	"net/url"
	"slices"
	"strings"
)

// change is one press of a button of the plain build form.
type change struct {
	verb  string   // add, up, down, remove, undo, clear
	step  string   // of add
	at    int      // row from 1, of up, down and remove
	after int      // row after which a step is added; -1 is the end
	was   []string // the list before the last change
	mark  int      // and after as it was then
}

// said is what the page says after a change of the plain form.
var said = map[string]string{
	"add": "The step is added.", "up": "The step is moved up.", "down": "The step is moved down.",
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
	to := i + 1
	if c.verb == "up" {
		to = i - 1
	}
	if to >= 0 && to < len(next) {
		next[i], next[to] = next[to], next[i]
	}
	return next, after
}

func queryText(s string) string { return url.QueryEscape(s) }
