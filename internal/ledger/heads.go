package ledger

import "strings"

// A head is written on lines of its own: origin, size, root, an empty one, and
// the signature, which begins as every signature of a note does.
const (
	headLines = 5
	signed    = "\u2014 "
)

// LastHead finds the last whole signed head in a text of several, one below the
// other. What stands behind it, or is cut off before it, is no head.
func LastHead(text string) (note string, ok bool) {
	lines := strings.SplitAfter(text, "\n")
	for i := len(lines) - 1; i >= headLines-1; i-- {
		if strings.HasPrefix(lines[i], signed) && strings.HasSuffix(lines[i], "\n") && lines[i-1] == "\n" {
			return strings.Join(lines[i-headLines+1:i+1], ""), true
		}
	}
	return "", false
}
