package web

import (
	"net/url"
	"strconv"
	"strings"

	"stillwet/views"
)

// doneAt goes on to a page that says what was just done, and of how many, above everything else.
func (v *visit) doneAt(path string, what views.Done, n int) error {
	return v.goTo(afterDone(path, what, n))
}

func afterDone(path string, what views.Done, n int) string {
	path, place, _ := strings.Cut(path, "#")
	q := url.Values{"done": {string(what)}}
	if n > 0 {
		q.Set("n", strconv.Itoa(n))
	}
	if strings.Contains(path, "?") {
		path += "&" + q.Encode()
	} else {
		path += "?" + q.Encode()
	}
	if place != "" {
		path += "#" + place
	}
	return path
}

// done is the sentence that the address asks for, "" for none or one that there is not.
func (v *visit) done() string {
	n, err := strconv.Atoi(v.Query("n"))
	if err != nil || n < 0 || n > 1_000_000 {
		n = 0
	}
	return views.Done(v.Query("done")).Sentence(n)
}
