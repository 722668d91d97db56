package scenarios

import (
	"slices"
	"strings"
)

// Away is something that could be at a station, which no procedure of the set has.
type Away struct{ Row, Title string }

// Away are the rows of a list that are off, and that no procedure switches on.
func (s *Set) Away(list string) (all []Away) {
	e := &editor{set: s, trees: map[string]*tree{}}
	if !slices.Contains(mayBeOff, list) {
		return nil
	}
	on := map[string]bool{}
	for _, file := range e.procedureFiles() {
		for _, id := range e.tree(file).names("on") {
			on[id] = true
		}
	}
	for _, name := range s.names {
		if !strings.HasSuffix(name, partSuffix) && !strings.HasSuffix(name, procedureSuffix) || e.tree(name) == nil {
			continue
		}
		for _, at := range e.in(name, pathIn(name, list), list, "") {
			off, _ := walk(at.node, "off")
			title, _ := walk(at.node, "title")
			if id := keyOf(list, at.node); off.Value == "true" && !on[id] {
				all = append(all, Away{id, title.Value})
			}
		}
	}
	return all
}
