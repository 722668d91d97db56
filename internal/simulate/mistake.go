package simulate

import (
	"fmt"
	"slices"
	"strings"
)

// Mistake is a small edit of a model's cues: one is left out, one is put in, or both.
type Mistake struct {
	ID  string
	Out int    // place of the cue that is left out, -1 for none
	In  int    // place before which Cue is put in, -1 for none
	Cue string // "" when nothing is put in
}

// Spoil is cues with mistakes in them. Every place is one of the cues as they were, so
// that no mistake moves another.
func Spoil(cues []string, mistakes []Mistake) (spoilt []string) {
	for i := range len(cues) + 1 {
		for _, m := range mistakes {
			if m.Cue != "" && m.In == i {
				spoilt = append(spoilt, m.Cue)
			}
		}
		out := slices.ContainsFunc(mistakes, func(m Mistake) bool { return m.Out == i })
		if i < len(cues) && !out {
			spoilt = append(spoilt, cues[i])
		}
	}
	return spoilt
}

// Plantings are all ways to choose so many of the mistakes, as a fact that a seed decides.
// An option's value names them by their ids.
func Plantings(mistakes []Mistake, plants int) Fact {
	f := Fact{Name: "mistakes"}
	var choose func(from int, ids []string)
	choose = func(from int, ids []string) {
		if len(ids) == plants {
			f.Options = append(f.Options, Option{Value: strings.Join(ids, " ")})
			return
		}
		for i := from; i < len(mistakes); i++ {
			choose(i+1, append(slices.Clone(ids), mistakes[i].ID))
		}
	}
	choose(0, nil)
	return f
}

// Planting are the mistakes of an option of Plantings.
func Planting(mistakes []Mistake, o Option) (planted []Mistake) {
	for _, m := range mistakes {
		if slices.Contains(strings.Fields(o.Value), m.ID) {
			planted = append(planted, m)
		}
	}
	return planted
}

// Place finds the nth time, from 1, that a cue stands among others: directly before or
// after another one where such a one is named.
func Place(cues []string, cue, before, after string, nth int) (int, error) {
	found := 0
	for i, c := range cues {
		if c != cue || before != "" && (i+1 >= len(cues) || cues[i+1] != before) || after != "" && (i == 0 || cues[i-1] != after) {
			continue
		}
		if found++; found == nth {
			return i, nil
		}
	}
	where := ""
	if before != "" {
		where += " directly before " + before
	}
	if after != "" {
		where += " directly after " + after
	}
	return 0, fmt.Errorf("%s stands %d times%s in the model, so there is no time %d", cue, found, where, nth)
}
