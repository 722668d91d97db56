package scenarios

import (
	"slices"
	"strconv"
	"strings"

	"stillwet/internal/action"
	"stillwet/internal/procedure"
)

// mostFreeID leaves room for what is put before an id, and for a number behind it.
const mostFreeID = 40

// FreeID is an id for a new row of a list, made of its title, that nothing of the list has
// yet, whether it is at the stations or not. A title without a letter of ours gives that of
// the list.
func (s *Set) FreeID(list, title string) string {
	e := &editor{set: s, trees: map[string]*tree{}, Edit: Edit{List: list}}
	taken := func(id string) bool {
		_, file := s.File(id + procedureSuffix)
		return file || slices.ContainsFunc(namedWith(list), func(list string) bool { return len(e.rows(list, id)) > 0 }) || procedure.Reserved(id)
	}
	base := idOfTitle(title)
	if !action.ValidID(base) {
		base = strings.TrimSuffix(list, "s")
	}
	id := base
	for n := 2; taken(id); n++ {
		id = base + "-" + strconv.Itoa(n)
	}
	return id
}

// namedWith are the lists that share their ids with one: the log knows all things by one word.
func namedWith(list string) []string {
	if slices.Contains(things, list) {
		return things
	}
	return []string{list}
}

// idOfTitle has the letters and digits of a title that ids may have, hyphens between them.
func idOfTitle(title string) string {
	words := strings.FieldsFunc(strings.ToLower(title), func(r rune) bool { return (r < 'a' || r > 'z') && (r < '0' || r > '9') })
	id := strings.Join(words, "-")
	return strings.TrimRight(id[:min(len(id), mostFreeID)], "-")
}
