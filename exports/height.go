package exports

import "strings"

const lineHeight = 12.75

// textHeight makes room for wrapped text in a column. The program does not know the
// reader's fonts: a little too much is better than a cut line.
func textHeight(text string, width float64, bold bool) float64 {
	room := 5.2*width - 4 // in points; a digit of a column's width is 5.25 or more, and some is kept free at its sides
	if bold {
		room /= 1.08
	}
	lines := 0
	for part := range strings.SplitSeq(text, "\n") {
		lines += linesOf(part, room)
	}
	return lineHeight*float64(lines) + 3.75
}

// linesOf breaks a text between words, and a word that is longer than a line within it; a
// program may begin that one on a line of its own, or break it early at a sign.
func linesOf(text string, room float64) int {
	lines, used := 1, 0.0
	for word := range strings.SplitSeq(text, " ") {
		wide := points(word)
		if used > 0 && used+wide > room {
			lines, used = lines+1, 0
		}
		if wide > room {
			lines += 1 + int(wide/room)
			wide = 0
		}
		used += wide + points(" ")
	}
	return lines
}

// points is about how wide a text is in the workbook's typeface.
func points(text string) (wide float64) {
	for _, r := range text {
		switch {
		case strings.ContainsRune("ijl|'", r):
			wide += 0.23
		case strings.ContainsRune("ft I.,:;/!", r):
			wide += 0.28
		case strings.ContainsRune("r-()", r):
			wide += 0.34
		case strings.ContainsRune("sckvxyzJ", r):
			wide += 0.5
		case strings.ContainsRune("mwMW@%—…", r):
			wide += 0.95
		case r >= 'A' && r <= 'Z' || r > 'ÿ':
			wide += 0.68
		default:
			wide += 0.56
		}
	}
	return wide * fontSize
}
