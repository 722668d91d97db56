package action

import (
	"fmt"
	"iter"
	"strings"
	"unicode"
	"unicode/utf8"
)

// byteOrderMark is what some editors write before UTF-8 text.
const byteOrderMark = "\ufeff"

// lines yields the lines of a text with their numbers from 1. A line ends with
// LF, CR LF or CR; nothing comes after the last of these.
func lines(text string) iter.Seq2[int, string] {
	return func(yield func(int, string) bool) {
		for n, rest := 1, text; rest != ""; n++ {
			var line string
			if line, rest = cutLine(rest); !yield(n, line) {
				return
			}
		}
	}
}

func cutLine(text string) (line, rest string) {
	i := strings.IndexAny(text, "\r\n")
	if i < 0 {
		return text, ""
	}
	line, rest = text[:i], text[i+1:]
	if text[i] == '\r' {
		rest = strings.TrimPrefix(rest, "\n")
	}
	return line, rest
}

func cutComment(line string) string {
	before, _, _ := strings.Cut(line, "#")
	return before
}

// unreadable says why a text cannot be read at all, or nothing. The size comes
// first, so that a huge text costs no more than its length.
func unreadable(text string) string {
	switch {
	case len(text) > MaxBytes:
		return fmt.Sprintf("the log is larger than %d bytes", MaxBytes)
	case likeUTF16(text):
		return "the file is not UTF-8 text (it looks like UTF-16): save it as UTF-8"
	case !utf8.ValidString(text):
		return fmt.Sprintf("the file is not UTF-8 text (line %d is the first that is not): save it as UTF-8", firstInvalid(text))
	}
	return ""
}

// likeUTF16 knows UTF-16 by its byte order mark or, without one, by the NUL that
// every Latin letter has in the same half of its two bytes.
func likeUTF16(text string) bool {
	if strings.HasPrefix(text, "\xff\xfe") || strings.HasPrefix(text, "\xfe\xff") {
		return true
	}
	head := text[:min(len(text), 200)]
	var nul [2]int
	for i := range len(head) {
		if head[i] == 0 {
			nul[i%2]++
		}
	}
	most := max(nul[0], nul[1])
	return min(nul[0], nul[1]) == 0 && most > 1 && most >= len(head)/4
}

// firstInvalid is the first line that is not UTF-8.
func firstInvalid(text string) int {
	for n, line := range lines(text) {
		if !utf8.ValidString(line) {
			return n
		}
	}
	return 1
}

// hidden reports whether r does not show in a text, so that nobody could see why
// a line with it is not understood. Tabs are space like any other.
func hidden(r rune) bool {
	return r != '\t' && unicode.In(r, unicode.Cc, unicode.Cf, unicode.Zl, unicode.Zp)
}

// firstHidden is where the first character stands that does not show, or -1. Most
// lines are plain ASCII, which is quick to tell.
func firstHidden(line string) int {
	for i := range len(line) {
		if c := line[i]; c != '\t' && (c < ' ' || c > '~') {
			return strings.IndexFunc(line, hidden)
		}
	}
	return -1
}

// visible is a line without what does not show.
func visible(line string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case !hidden(r):
			return r
		case unicode.IsSpace(r):
			return ' '
		}
		return -1
	}, line)
}

// maxQuoted is how much of a source text a message repeats, in characters.
const maxQuoted = 40

// quote repeats a word or line of the source for a message, cut where it is long.
func quote(s string) string {
	n := 0
	for i := range s {
		if n++; n > maxQuoted {
			return fmt.Sprintf("%q", s[:i]+"…")
		}
	}
	return fmt.Sprintf("%q", s)
}

func quoteWords(words []string) string { return quote(strings.Join(words, " ")) }
