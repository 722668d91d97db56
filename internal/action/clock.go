package action

import (
	"errors"
	"fmt"
	"regexp"
)

var (
	// timePattern is any time that has a colon, also those that badTime refuses.
	timePattern = regexp.MustCompile(`^([-+−]?)(\d*):(\d*)(?:([.,])(\d*))?$`)
	// timeLike begins what was meant as a time: no act begins with a digit.
	timeLike = regexp.MustCompile(`^[-+−]?[:.]?\d`)
)

// ParseTime reads a time of a log's clock, m:ss or m:ss.mmm.
func ParseTime(w string) (Millis, bool) {
	t, err := readTime(w)
	return t, err == nil
}

func readTime(w string) (Millis, error) {
	if t, ok := plainTime(w); ok {
		return t, nil
	}
	m := timePattern.FindStringSubmatch(w)
	if m == nil {
		return Untimed, fmt.Errorf("%s is no time: write it as m:ss or m:ss.mmm", quote(w))
	}
	if why := badTime(m); why != "" {
		return Untimed, fmt.Errorf("%s is no time: %s", quote(w), why)
	}
	return Millis(atoi(m[2])*60000 + atoi(m[3])*1000 + thousandths(m[5])), nil
}

// plainTime reads the usual form, m:ss with up to four digits of minutes, without the
// pattern that explains what is wrong with others.
func plainTime(w string) (Millis, bool) {
	n := len(w)
	if n < 4 || n > 7 || w[n-3] != ':' || !digits(w[:n-3]) || !digits(w[n-2:]) || w[n-2] > '5' {
		return Untimed, false
	}
	return Millis(atoi(w[:n-3])*60000 + atoi(w[n-2:])*1000), true
}

func digits(s string) bool {
	for i := range len(s) {
		if s[i] < '0' || s[i] > '9' {
			return false
		}
	}
	return s != ""
}

// badTime says what is wrong with a match of timePattern, or nothing.
func badTime(m []string) string {
	sign, minutes, seconds, point, rest := m[1], m[2], m[3], m[4], m[5]
	switch {
	case sign != "":
		return "the clock of a log begins at 0:00, so a time has no sign"
	case minutes == "":
		return "the minutes are missing; half a minute is 0:30"
	case len(minutes) > 4:
		return "minutes go to 9999"
	case len(seconds) != 2:
		return "seconds have two digits"
	case seconds > "59":
		return "seconds go to 59"
	case point == ",":
		return "write a point before the thousandths, not a comma"
	case point != "" && rest == "":
		return "digits are missing after the point"
	case len(rest) > 3:
		return "up to three digits after the point"
	}
	return ""
}

// cutTime reads the time at the start of a line, if one is meant to stand there.
func cutTime(w []string) (at Millis, rest []string, err error) {
	if c := w[0][0]; 'a' <= c && c <= 'z' || !timeLike.MatchString(w[0]) {
		return Untimed, w, nil
	}
	at, err = readTime(w[0])
	return at, w[1:], err
}

var secondsPattern = regexp.MustCompile(`^(\d{1,4})(?:\.(\d{1,3}))?s$`)

// ParseSeconds reads a number of seconds as logs write it, "20s".
func ParseSeconds(w string) (Millis, error) {
	m := secondsPattern.FindStringSubmatch(w)
	if m == nil {
		return 0, fmt.Errorf("%s is no number of seconds; write it as 20s", quote(w))
	}
	ms := Millis(atoi(m[1])*1000 + thousandths(m[2]))
	if ms == 0 {
		return 0, errors.New("0s is no time; leave the seconds out when they were not measured")
	}
	return ms, nil
}

// thousandths are the digits after a point, three or fewer.
func thousandths(digits string) int { return atoi((digits + "000")[:3]) }

// atoi reads digits that a pattern has already vouched for.
func atoi(s string) int {
	n := 0
	for _, c := range s {
		n = n*10 + int(c-'0')
	}
	return n
}

// TapSlack is how far a time may be off that somebody taps while watching. The engine
// counts a contact time as seen, or as broken, only by that much, and boards ask
// that much later.
const TapSlack Millis = 2000
