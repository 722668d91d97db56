package action

import (
	"slices"
	"strings"
)

// Nearest lists the three known words with the smallest edit distance to w,
// for messages.
func Nearest(w string, known []string) string {
	if len(w) > 80 {
		w = w[:80]
	}
	words := slices.Clone(known)
	slices.SortStableFunc(words, func(a, b string) int {
		return distance(w, a) - distance(w, b)
	})
	return strings.Join(words[:min(3, len(words))], ", ")
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
