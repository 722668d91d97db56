package action

import (
	"fmt"
	"slices"
	"strings"
)

// The errors of this file look for what was meant. That costs more than finding
// the fault, so they do it when they are told, not when they are made.

// unknownAct is a line whose words begin no phrase.
type unknownAct []string

func (w unknownAct) Error() string {
	if timeLike.MatchString(w[0]) {
		return fmt.Sprintf("%s where an act was expected", quote(w[0]))
	}
	if like := phrasesFrom(w[0]); len(like) > 0 {
		return fmt.Sprintf("unknown act %s; known with %q: %s", quoteWords(w), w[0], strings.Join(like, ", "))
	}
	return fmt.Sprintf("unknown act %s; nearest: %s", quoteWords(w), strings.Join(nearestPhrases(w[0]), ", "))
}

// unknownWitness is a word of the witness line that is none.
type unknownWitness string

func (w unknownWitness) Error() string {
	return fmt.Sprintf("unknown witness %s; known: %s", quote(string(w)), strings.Join(WitnessWords(), ", "))
}

// unknownWord is a name that the procedure does not know.
type unknownWord struct {
	slot  Slot
	word  string
	known []string
}

func (u unknownWord) Error() string {
	if len(u.known) == 0 {
		return fmt.Sprintf("unknown %s %s; the procedure has none", u.slot, quote(u.word))
	}
	return fmt.Sprintf("unknown %s %s; nearest: %s", u.slot, quote(u.word), Nearest(u.word, u.known))
}

// misfit is a line that leaves its phrase at a word: it ends there, or has
// another word.
type misfit struct {
	verb  Verb
	words []string
	at    int
}

func (m misfit) Error() string {
	var parts, whole []string
	fit := literalFit(grammar[m.verb], m.words)
	for v := CheckStable; v < verbEnd; v++ {
		g := grammar[v]
		if literalFit(g, m.words) != fit || len(g) <= m.at {
			continue
		}
		whole = append(whole, fmt.Sprintf("%q", phrases[v]))
		if next := g[m.at].title(); !slices.Contains(parts, next) {
			parts = append(parts, next)
		}
	}
	if m.at == len(m.words) {
		return fmt.Sprintf("%s is not complete; missing: %s; expected %s", quoteWords(m.words), either(parts), either(whole))
	}
	return fmt.Sprintf("%s where %s was expected, in %s", quote(m.words[m.at]), either(parts), either(whole))
}

// title names a part of a phrase for a message.
func (p part) title() string {
	switch {
	case p.slot == 0:
		return fmt.Sprintf("%q", p.literal)
	case closed[p.slot] != nil:
		return fmt.Sprintf("%s (%s)", p.slot, strings.Join(closed[p.slot], ", "))
	}
	return p.slot.String()
}

// either lists alternatives: a, b or c.
func either(words []string) string {
	last := len(words) - 1
	if last == 0 {
		return words[0]
	}
	return strings.Join(words[:last], ", ") + " or " + words[last]
}
