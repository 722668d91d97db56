package simulate

import (
	"cmp"
	"crypto/sha256"
	"encoding/binary"
	"slices"
	"strconv"
	"strings"
)

// Fact is a small fact of a story that the seed of a try decides: which surface has
// blood, what is left over.
type Fact struct {
	Name    string
	Options []Option
}

// Option is one way a fact may be: the word that stands for it in acts, steps and
// cues, and how the story says it.
type Option struct{ Value, Words string }

// Fixed is a fact as it is in one variant.
type Fixed struct {
	Name string
	Option
}

// Variant is the scenario as a seed makes it: the same for the same seed, whole, with
// text and hash of its own. Without a seed, or with nothing to vary, it is the
// scenario itself.
func (s *Scenario) Variant(seed string) *Scenario {
	if seed == "" || len(s.Variants) == 0 {
		return s
	}
	at := 0
	for _, f := range s.Vary {
		at = at*len(f.Options) + Pick(seed, f.Name, len(f.Options))
	}
	return s.Variants[at]
}

// Combinations are all ways in which facts may be, in the order of Variants.
func Combinations(facts []Fact) [][]Fixed {
	all := [][]Fixed{nil}
	for _, f := range facts {
		var longer [][]Fixed
		for _, fixed := range all {
			for _, o := range f.Options {
				longer = append(longer, append(fixed[:len(fixed):len(fixed)], Fixed{f.Name, o}))
			}
		}
		all = longer
	}
	return all
}

// Pick is a number below n that a seed gives a name. It hangs on nothing else, so
// that what is picked for one name stays when another comes or goes.
func Pick(seed, name string, n int) int {
	sum := sha256.Sum256([]byte(seed + "\x00" + name))
	return int(binary.BigEndian.Uint64(sum[:8]) % uint64(n))
}

// Fill puts the values of facts where their names stand in braces, as in
// "clean-{where}".
func Fill(text string, facts []Fixed) string {
	return fill(text, facts, func(f Fixed) string { return f.Value })
}

// FillWords is Fill with the words of the story.
func FillWords(text string, facts []Fixed) string {
	return fill(text, facts, func(f Fixed) string { return f.Words })
}

func fill(text string, facts []Fixed, with func(Fixed) string) string {
	for _, f := range facts {
		text = strings.ReplaceAll(text, "{"+f.Name+"}", with(f))
	}
	return text
}

// Answer is the model's steps in their order.
func (s *Scenario) Answer() []string {
	var steps []string
	for _, cue := range CuesOf(s.Model) {
		if cue = Fill(cue, s.Facts); slices.Contains(s.Steps, cue) {
			steps = append(steps, cue)
		}
	}
	return steps
}

// Shuffled is names in an order that a seed gives them. Two or more that stand in an
// answer never stand as it first has them.
func Shuffled(seed string, names, answer []string) []string {
	names = slices.Clone(names)
	for salt := 0; ; salt++ {
		with := seed + " " + strconv.Itoa(salt)
		slices.SortFunc(names, func(a, b string) int {
			return cmp.Or(cmp.Compare(Pick(with, a, 1<<30), Pick(with, b, 1<<30)), strings.Compare(a, b))
		})
		if !tells(names, answer) {
			return names
		}
	}
}

// tells reports whether names give an answer away: those that it uses, of two or
// more, stand in its order.
func tells(names, answer []string) bool {
	var at []int
	for _, n := range names {
		if i := slices.Index(answer, n); i >= 0 {
			at = append(at, i)
		}
	}
	return len(at) > 1 && slices.IsSorted(at)
}
