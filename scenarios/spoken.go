package scenarios

import (
	"slices"
	"strings"

	"stillwet/internal/procedure"
)

// Spoken is something that the stations do not have, of which a lesson or a story still
// speaks. It is advice: words are the clinic's to choose.
type Spoken struct {
	Of        string // lesson, scenario
	ID, Title string // of the lesson or scenario
	Says      string // what is not there, by its title
	Row       bool   // a lesson's row of the procedure, not its words
}

// Spoken are these of a set, in the order of the course and then of the scenarios. Titles
// are looked for as whole phrases, and only of what no procedure of the set has.
func (s *Set) Spoken(lib *Library) (all []Spoken) {
	titles := s.titlesAway(lib)
	add := func(of, id, title string, texts ...string) {
		for _, gone := range titles {
			if stands(strings.Join(texts, "\n"), []string{gone}) {
				all = append(all, Spoken{Of: of, ID: id, Title: title, Says: gone})
			}
		}
	}
	seen := map[string]bool{}
	for i := range lib.modules {
		for _, n := range lib.modules[i].Lessons() {
			if !seen[n.ID] {
				add("lesson", n.ID, n.Title, n.Text...)
				for _, row := range lib.unshown[n.ID] {
					all = append(all, Spoken{Of: "lesson", ID: n.ID, Title: n.Title, Says: row, Row: true})
				}
			}
			seen[n.ID] = true
		}
	}
	for _, x := range lib.scenarios {
		add("scenario", x.ID, x.Title, x.Title, x.Story, x.Teaches)
	}
	return all
}

// titlesAway are what people call the things that no procedure has, without what stands in
// brackets behind; not where something that is there is called the same.
func (s *Set) titlesAway(lib *Library) (titles []string) {
	for _, list := range mayBeOff {
		for _, away := range s.Away(list) {
			if title := phrase(away.Title); title != "" && !slices.Contains(titles, title) && !lib.calls(title) {
				titles = append(titles, title)
			}
		}
	}
	return titles
}

// calls reports whether some procedure has something of a title.
func (l *Library) calls(title string) bool {
	is := func(x string) bool { return strings.EqualFold(phrase(x), title) }
	for _, p := range l.procedures {
		if slices.ContainsFunc(p.Surfaces, func(x procedure.Surface) bool { return is(x.Title) }) || slices.ContainsFunc(p.Items, func(x procedure.Item) bool { return is(x.Title) }) ||
			slices.ContainsFunc(p.Places, func(x procedure.Place) bool { return is(x.Title) }) || slices.ContainsFunc(p.Products, func(x procedure.Product) bool { return is(x.Title) }) {
			return true
		}
	}
	return false
}

// phrase is a title as it would stand in a sentence.
func phrase(title string) string {
	title, _, _ = strings.Cut(title, "(")
	return strings.TrimSpace(title)
}

// Text says it in a sentence.
func (x Spoken) Text() string {
	what := procedure.Capital(x.Of) + " " + quote(x.Title)
	if x.Row {
		return what + " was to show " + quote(x.Says) + ", which is no part of its procedure any more."
	}
	return what + " speaks of " + quote(x.Says) + ", which your stations do not have."
}
