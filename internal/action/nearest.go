package action

import (
	"slices"
	"strings"
)

// Nearest lists the three known words with the smallest edit distance to w,
// for messages.
func Nearest(w string, known []string) string {
	w = w[:min(len(w), 80)]
	words := slices.Clone(known)
	slices.SortStableFunc(words, func(a, b string) int {
		return distance(w, a) - distance(w, b)
	})
	return strings.Join(words[:min(3, len(words))], ", ")
}

// nearestPhrases lists the phrases whose first word is most like w: the rest of
// a line is names, which would drown the likeness.
func nearestPhrases(w string) string {
	all := slices.Clone(phrases[1:])
	first := func(phrase string) int {
		word, _, _ := strings.Cut(phrase, " ")
		return distance(w, word)
	}
	slices.SortStableFunc(all, func(a, b string) int { return first(a) - first(b) })
	return strings.Join(all[:3], ", ")
}

// distance is Levenshtein's edit distance over bytes.
func distance(a, b string) int {
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := range len(a) {
		prev := row[0]
		row[0] = i + 1
		for j := range len(b) {
			cost := prev
			if a[i] != b[j] {
				cost++
			}
			prev = row[j+1]
			row[j+1] = min(cost, row[j]+1, row[j+1]+1)
		}
	}
	return row[len(b)]
}
