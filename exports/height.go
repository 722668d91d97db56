package exports

import (
	"strings"
	"unicode/utf8"
)

// textHeight makes room for wrapped text of 10 points in a column. The program
// does not know the reader's fonts: a little too much is better than a cut line.
func textHeight(text string, width float64) float64 {
	lines := 0
	for part := range strings.SplitSeq(text, "\n") {
		lines += 1 + int(float64(utf8.RuneCountInString(part))/(width*1.1))
	}
	return 16.5 + 13.5*float64(lines-1)
}
