package training

import (
	"crypto/rand"
	_ "embed"
	"fmt"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"github.com/alexedwards/argon2id"
	"golang.org/x/text/unicode/norm"
)

// HashCost is what one guess at a stored password costs. A hash says its own
// cost, so that hashes of every cost are good side by side.
type HashCost struct{ MemoryKiB, Passes uint32 }

// ProductionCost follows the OWASP password storage cheat sheet: argon2id with
// 19 MiB, two passes, one lane.
var ProductionCost = HashCost{MemoryKiB: 19 * 1024, Passes: 2}

func (c HashCost) params() *argon2id.Params {
	return &argon2id.Params{Memory: c.MemoryKiB, Iterations: c.Passes, Parallelism: 1, SaltLength: 16, KeyLength: 32}
}

// unknown is what the password of an unknown name is compared with. It costs
// what a known one does, so that both take the same time; no password fits it.
func (c HashCost) unknown() string {
	return fmt.Sprintf("$argon2id$v=19$m=%d,t=%d,p=1$c3RpbGx3ZXQtbm8tbmFtZQ$MbNPPz2JYSzb3Ut9zGcEI9p4zNT0r7H5dGkoDUbDZdU", c.MemoryKiB, c.Passes)
}

// Limits of a password, in code points. Fifteen is what NIST SP 800-63B asks of
// a password that is the only factor; nothing else is asked of its form.
const (
	minPassword      = 15
	maxPassword      = 256
	maxPasswordBytes = 1024
)

// FirstPasswordFor is how long a first password is good.
const FirstPasswordFor = 72 * time.Hour

//go:embed blocked.txt
var blockedText string

var blocked = func() map[string]bool {
	set := map[string]bool{}
	for line := range strings.Lines(blockedText) {
		if line = strings.TrimSpace(line); line != "" && !strings.HasPrefix(line, "#") {
			set[letters(line)] = true
		}
	}
	return set
}()

// checkNewPassword refuses short, over-long and guessable passwords. context
// is the words that belong to the person and the clinic: what is left without
// them must still be long.
func checkNewPassword(password string, context ...string) error {
	n := utf8.RuneCountInString(password)
	switch {
	case !utf8.ValidString(password):
		return refuse(ErrInvalid, "The password has characters that cannot be read.")
	case n < minPassword:
		return refuse(ErrInvalid, "The password has %d characters; it needs at least %d. A sentence is easy to remember.", n, minPassword)
	case n > maxPassword || len(password) > maxPasswordBytes:
		return refuse(ErrInvalid, "The password is longer than %d characters.", maxPassword)
	}
	plain := letters(password)
	if blocked[plain] || blocked[repeated(plain)] || sequence(plain) {
		return refuse(ErrInvalid, "This password is among the first that are guessed. Take another one.")
	}
	rest := plain
	for _, w := range contextWords(context) {
		rest = strings.ReplaceAll(rest, w, "")
	}
	if rest != plain && utf8.RuneCountInString(rest) < 8 {
		return refuse(ErrInvalid, "This password is made of your name, the clinic's or the program's. Take other words.")
	}
	return nil
}

func contextWords(texts []string) []string {
	words := []string{"stillwet", "dialysis", "trainee", "preceptor", "educator", "password"}
	for _, t := range texts {
		for _, w := range strings.FieldsFunc(t, func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsDigit(r) }) {
			if w = letters(w); utf8.RuneCountInString(w) >= 3 {
				words = append(words, w)
			}
		}
	}
	return words
}

// letters is a text as a guesser sees it: lower case, without blanks and marks.
func letters(s string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsLetter(r) || unicode.IsDigit(r) {
			return unicode.ToLower(r)
		}
		return -1
	}, norm.NFKC.String(s))
}

// repeated is the part that a text repeats ("abcabcabc" is "abc" again), or
// the text itself.
func repeated(s string) string {
	for n := 1; n <= len(s)/2; n++ {
		if len(s)%n == 0 && strings.Repeat(s[:n], len(s)/n) == s {
			return s[:n]
		}
	}
	return s
}

// sequence reports a single character again and again, or a run such as
// abcdef... or 987654...
func sequence(s string) bool {
	if len(s) < 2 {
		return true
	}
	for _, step := range []int{0, 1, -1} {
		run := true
		for i := 1; i < len(s); i++ {
			d := int(s[i]) - int(s[i-1])
			if s[i] == '0' && s[i-1] == '9' || s[i] == '9' && s[i-1] == '0' {
				d = step
			}
			run = run && d == step
		}
		if run {
			return true
		}
	}
	return false
}

// newFirstPassword is 20 characters in groups: easy to read out, 100 bits.
func newFirstPassword() string {
	t := strings.ToLower(rand.Text())[:20]
	return t[:5] + "-" + t[5:10] + "-" + t[10:15] + "-" + t[15:]
}
