package action

import (
	"slices"
	"strings"
)

// nearestShown is how many words are offered in place of an unknown one.
const nearestShown = 3

// Nearest lists the three known words with the smallest edit distance to w,
// for messages.
func Nearest(w string, known []string) string {
	words := byDistance(w, known)
	return strings.Join(words[:min(nearestShown, len(words))], ", ")
}

func byDistance(w string, known []string) []string {
	w = w[:min(len(w), 80)]
	words := slices.Clone(known)
	slices.SortStableFunc(words, func(a, b string) int {
		return distance(w, a) - distance(w, b)
	})
	return words
}

// nearestPhrases lists phrases whose first word is most like w: the rest of a
// line is names, which would drown the likeness.
func nearestPhrases(w string) (list []string) {
	for _, first := range byDistance(w, firstWords) {
		if len(list) >= nearestShown {
			break
		}
		list = append(list, phrasesFrom(first)...)
	}
	return list
}

// phrasesFrom lists the phrases that begin with a word.
func phrasesFrom(first string) (list []string) {
	for _, phrase := range phrases[1:] {
		if firstOf(phrase) == first {
			list = append(list, phrase)
		}
	}
	return list
}

// firstWords are the words that phrases begin with, each once.
var firstWords = func() (words []string) {
	for _, phrase := range phrases[1:] {
		if first := firstOf(phrase); !slices.Contains(words, first) {
			words = append(words, first)
		}
	}
	return words
}()

func firstOf(phrase string) string {
	first, _, _ := strings.Cut(phrase, " ")
	return first
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
