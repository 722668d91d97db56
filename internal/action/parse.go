package action

import (
	"errors"
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"
)

// Words are the words a procedure knows, by kind. A nil Words skips that check.
type Words map[Slot][]string

// Limits of a log, so that a hostile file costs little.
const (
	MaxBytes = 1 << 20
	MaxActs  = 5000
)

// Fault is one error of a source text with its place.
type Fault struct {
	File string
	Line int
	Text string
}

func (f *Fault) Error() string { return fmt.Sprintf("%s:%d: %s", f.File, f.Line, f.Text) }

// Parse reads a log. All faults are returned at once, joined, each a *Fault;
// file names the source in them.
func Parse(file, text string, words Words) (*Log, error) {
	p := &parser{file: file, words: words, log: &Log{Witness: Order}}
	if len(text) > MaxBytes {
		return nil, &Fault{file, 1, fmt.Sprintf("the log is larger than %d bytes", MaxBytes)}
	}
	for i, line := range strings.Split(text, "\n") {
		p.lineNo = i + 1
		p.line(strings.TrimSpace(cutComment(line)))
	}
	if p.header < len(headers) {
		p.fault("the log ends before its %q line", headers[p.header])
	}
	if len(p.faults) > 0 {
		return nil, errors.Join(p.faults...)
	}
	return p.log, nil
}

// ParseAct reads one line without a time, as procedure steps and scenarios
// write them.
func ParseAct(text string, words Words) (Act, error) {
	return parseWords(strings.Fields(text), words)
}

var headers = [...]string{"stillwet log", "procedure", "witness"}

type parser struct {
	file   string
	words  Words
	log    *Log
	lineNo int
	header int
	last   Millis
	faults []error
}

func (p *parser) fault(format string, args ...any) {
	p.faults = append(p.faults, &Fault{p.file, p.lineNo, fmt.Sprintf(format, args...)})
}

func cutComment(line string) string {
	before, _, _ := strings.Cut(line, "#")
	return before
}

func (p *parser) line(line string) {
	switch {
	case line == "":
	case p.header < len(headers):
		p.headerLine(strings.Fields(line))
	case len(p.log.Acts) == MaxActs:
		p.fault("the log has more than %d lines", MaxActs)
		p.log.Acts = append(p.log.Acts, Act{}) // said once
	case len(p.log.Acts) < MaxActs:
		p.act(strings.Fields(line))
	}
}

var (
	idPattern   = regexp.MustCompile(`^[a-z0-9]+(-[a-z0-9]+)*$`)
	hashPattern = regexp.MustCompile(`^(-|[0-9a-f]{64})$`)
)

// ValidID reports whether s can name a procedure, surface, item or other thing.
func ValidID(s string) bool { return len(s) <= 60 && idPattern.MatchString(s) }

func (p *parser) headerLine(w []string) {
	line := strings.Join(w, " ")
	switch {
	case p.header == 0:
		if line != fmt.Sprintf("stillwet log %d", Version) {
			p.fault("expected %q as the first line, found %q", fmt.Sprintf("stillwet log %d", Version), line)
		}
	case p.header == 1:
		if len(w) != 3 || w[0] != "procedure" || !ValidID(w[1]) || !hashPattern.MatchString(w[2]) {
			p.fault("expected %q, found %q", "procedure NAME HASH (64 hex digits, or -)", line)
			break
		}
		p.log.Procedure, p.log.Hash = w[1], w[2]
	default:
		p.witness(w, line)
	}
	p.header++
}

func (p *parser) witness(w []string, line string) {
	if w[0] != "witness" || len(w) < 2 {
		p.fault("expected %q, found %q", "witness order [clock] [drying]", line)
		return
	}
	for _, word := range w[1:] {
		i := slices.IndexFunc(witnessWords, func(x struct {
			bit  Witness
			word string
		}) bool {
			return x.word == word
		})
		if i < 0 {
			p.fault("unknown witness %q; known: order, clock, drying", word)
			continue
		}
		p.log.Witness |= witnessWords[i].bit
	}
	if p.log.Witness.Has(Drying) && !p.log.Witness.Has(Clock) {
		p.fault("a log cannot witness drying without a clock")
	}
}

func (p *parser) act(w []string) {
	at := Untimed
	if t, ok := ParseTime(w[0]); ok {
		at, w = t, w[1:]
	}
	a, err := Act{}, errors.New("a time without an act")
	if len(w) > 0 {
		a, err = parseWords(w, p.words)
	}
	a.Line, a.At, a.Number = p.lineNo, at, len(p.log.Acts)+1
	for _, err := range []error{err, p.place(&a)} {
		if err != nil {
			p.fault("%v", err)
		}
	}
	p.log.Acts = append(p.log.Acts, a)
}

// place checks the act against what came before: times and undone numbers.
func (p *parser) place(a *Act) error {
	clock := p.log.Witness.Has(Clock)
	switch {
	case clock && a.At == Untimed:
		return errors.New("the log witnesses a clock, so every line needs a time (m:ss or m:ss.mmm) before the act")
	case !clock && a.At != Untimed:
		return errors.New(`a time in a log that does not witness a clock; add "clock" to the witness line or remove the time`)
	case a.At < p.last && clock:
		return fmt.Errorf("time %s is before the line above it (%s)", a.At, p.last)
	}
	p.last = max(p.last, a.At)
	if a.Verb != Undone {
		return nil
	}
	if a.Undoes < 1 || a.Undoes >= a.Number {
		return fmt.Errorf("undone %d names no earlier act; this is act %d", a.Undoes, a.Number)
	}
	for _, b := range p.log.Acts {
		if b.Verb == Undone && (b.Undoes == a.Undoes || b.Number == a.Undoes) {
			return fmt.Errorf("act %d is an undone line or was undone already", a.Undoes)
		}
	}
	return nil
}

var timePattern = regexp.MustCompile(`^(\d{1,4}):([0-5]\d)(?:\.(\d{1,3}))?$`)

// ParseTime reads a time of a log's clock, m:ss or m:ss.mmm.
func ParseTime(w string) (Millis, bool) {
	m := timePattern.FindStringSubmatch(w)
	if m == nil {
		return Untimed, false
	}
	return Millis(atoi(m[1])*60000 + atoi(m[2])*1000 + atoi((m[3] + "000")[:3])), true
}

var secondsPattern = regexp.MustCompile(`^(\d{1,4})(?:\.(\d{1,3}))?s$`)

// ParseSeconds reads a number of seconds as logs write it, "20s".
func ParseSeconds(w string) (Millis, error) {
	m := secondsPattern.FindStringSubmatch(w)
	if m == nil {
		return 0, fmt.Errorf("%q is no number of seconds; write it as 20s", w)
	}
	ms := Millis(atoi(m[1])*1000 + atoi((m[2] + "000")[:3]))
	if ms == 0 {
		return 0, errors.New("0s is no time; leave the seconds out when they were not measured")
	}
	return ms, nil
}

// atoi reads digits that a pattern has already vouched for.
func atoi(s string) int {
	n := 0
	for _, c := range s {
		n = n*10 + int(c-'0')
	}
	return n
}

// parseWords finds the phrase that fits furthest and reads its slots.
func parseWords(w []string, words Words) (Act, error) {
	best, bestLen := Verb(0), 0
	for v := CheckStable; v < verbEnd; v++ {
		if n := literalFit(grammar[v], w); n > bestLen {
			best, bestLen = v, n
		}
	}
	if best == 0 {
		return Act{}, fmt.Errorf("unknown act %q; nearest: %s", strings.Join(w, " "), nearestPhrases(w[0][:min(len(w[0]), 80)]))
	}
	return readSlots(best, w, words)
}

// literalFit counts the literal words of a phrase that w has in their places;
// a word that differs before the first slot ends the comparison with 0.
func literalFit(g []part, w []string) int {
	fit, slots := 0, 0
	for i, p := range g {
		switch {
		case i >= len(w):
			return fit
		case p.slot != 0:
			slots++
		case p.literal == w[i]:
			fit += 2
		case slots == 0:
			return 0
		default:
			return fit - 1
		}
	}
	return fit
}

func readSlots(v Verb, w []string, words Words) (Act, error) {
	a := Act{Verb: v, At: Untimed}
	for i, p := range grammar[v] {
		if i >= len(w) {
			if p.optional && (i == 0 || !grammar[v][i-1].optional || p.slot == 0) {
				return a, nil
			}
			return a, fmt.Errorf("%q is not complete; expected %q", strings.Join(w, " "), phrases[v])
		}
		if p.slot == 0 {
			if p.literal != w[i] {
				return a, fmt.Errorf("%q where %q was expected, in %q", w[i], p.literal, phrases[v])
			}
			continue
		}
		if err := a.read(p.slot, w[i], words); err != nil {
			return a, err
		}
	}
	if len(w) > len(grammar[v]) {
		return a, fmt.Errorf("unexpected %q after %q", w[len(grammar[v])], strings.Join(w[:len(grammar[v])], " "))
	}
	return a, nil
}

func (a *Act) read(s Slot, w string, words Words) (err error) {
	switch s {
	case duration:
		a.Millis, err = ParseSeconds(w)
		return err
	case number:
		a.Undoes, err = strconv.Atoi(w)
		if err != nil || a.Undoes < 1 || a.Undoes > MaxActs || strconv.Itoa(a.Undoes) != w {
			return fmt.Errorf("%q is no act number", w)
		}
		return nil
	}
	if !ValidID(w) {
		return fmt.Errorf("%q cannot be a name: use lower-case letters, digits and single hyphens", w)
	}
	if s == Worn && a.Verb == PutOn && !slices.Contains(ProtectiveEquipment, w) {
		return fmt.Errorf("unknown protective equipment %q; known: %s", w, strings.Join(ProtectiveEquipment, ", "))
	}
	if known := words[s]; words != nil && s != wipeID && !slices.Contains(known, w) {
		return fmt.Errorf("unknown %s %q; nearest: %s", s, w, Nearest(w, known))
	}
	*a.field(s) = w
	return nil
}
