package action

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"
)

// Words are the words a procedure knows, by kind. A nil Words skips that check.
type Words map[Slot][]string

// Limits of a log, so that a hostile file costs little.
const (
	MaxBytes = 1 << 20
	MaxActs  = 5000
)

// Parse reads a log. Its faults are returned at once, joined, each a *Fault;
// file names the source in them. Of more than a hundred the rest is counted.
func Parse(file, text string, words Words) (*Log, error) {
	p := &parser{
		faults: faults{file: file, lineNo: 1}, words: words, log: &Log{Witness: Order}, takenBack: map[int]bool{},
	}
	if why := unreadable(text); why != "" {
		p.fault("%s", why)
		return nil, p.err()
	}
	for n, line := range lines(strings.TrimPrefix(text, byteOrderMark)) {
		p.lineNo = n
		p.line(cutComment(line))
	}
	if h := p.missing(); h >= 0 {
		p.fault("the log ends before its %q line", headers[h])
	}
	if err := p.err(); err != nil {
		return nil, err
	}
	return p.log, nil
}

// ParseAct reads one line without a time, as procedure steps and scenarios
// write them. Its error has no place: the caller knows it.
func ParseAct(text string, words Words) (Act, error) {
	if len(text) > MaxBytes {
		return Act{}, fmt.Errorf("the act is larger than %d bytes", MaxBytes)
	}
	return parseWords(strings.Fields(text), words)
}

type parser struct {
	faults
	words       Words
	log         *Log
	headerAt    [len(headers)]int // lines of the headers; 0 = none yet, or stoodIn
	witnessRead bool              // without fault, so that times can be held against it
	last        Millis
	takenBack   map[int]bool // numbers of acts that were undone, and of undone lines
}

func (p *parser) line(line string) {
	if i := firstHidden(line); i >= 0 {
		r, _ := utf8.DecodeRuneInString(line[i:])
		p.fault("character %d of the line is %U, which does not show: delete it", utf8.RuneCountInString(line[:i])+1, r)
		line = visible(line)
	}
	w := strings.Fields(line)
	if len(w) == 0 {
		return
	}
	header, missing := headerOf(w), p.missing()
	switch {
	case header >= 0:
		p.headerLine(header, w)
	case missing >= 0:
		p.noHeader(missing, w)
	case len(p.log.Acts) == MaxActs:
		p.fault("the log has more than %d lines", MaxActs)
		p.log.Acts = append(p.log.Acts, Act{}) // said once
	case len(p.log.Acts) < MaxActs:
		p.act(w)
	}
}

func (p *parser) act(w []string) {
	at, w, err := cutTime(w)
	if err == nil {
		err = p.inTime(at)
	}
	p.note(err)
	a, err := Act{}, errors.New("a time without an act")
	if len(w) > 0 {
		a, err = parseWords(w, p.words)
	}
	a.Line, a.At, a.Number = p.lineNo, at, len(p.log.Acts)+1
	if err == nil && a.Verb == Undone {
		err = p.takeBack(&a)
	}
	p.note(err)
	p.log.Acts = append(p.log.Acts, a)
}

// inTime checks a line's time against the witness line and the line above it.
func (p *parser) inTime(at Millis) error {
	if !p.witnessRead {
		return nil
	}
	clock := p.log.Witness.Has(Clock)
	switch {
	case clock && at == Untimed:
		return errors.New("the log witnesses a clock, so every line needs a time (m:ss or m:ss.mmm) before the act")
	case !clock && at != Untimed:
		return errors.New(`a time in a log that does not witness a clock; add "clock" to the witness line or remove the time`)
	case clock && at < p.last:
		return fmt.Errorf("time %s is before the line above it (%s)", at, p.last)
	}
	p.last = at
	return nil
}

// takeBack checks that an undone line names an act that can be undone.
func (p *parser) takeBack(a *Act) error {
	p.takenBack[a.Number] = true
	if a.Undoes >= a.Number {
		return fmt.Errorf("undone %d names no earlier act; this is act %d", a.Undoes, a.Number)
	}
	if p.takenBack[a.Undoes] {
		return fmt.Errorf("act %d is an undone line or was undone already", a.Undoes)
	}
	p.takenBack[a.Undoes] = true
	return nil
}

// helper before an act says that a second person did it.
const helper = "helper"

// parseWords reads an act, done by the worker or by a helper.
func parseWords(w []string, words Words) (Act, error) {
	if len(w) == 0 {
		return Act{}, errors.New("an act is missing")
	}
	if w[0] != helper {
		return parseAct(w, words)
	}
	switch {
	case len(w) == 1:
		return Act{}, fmt.Errorf("%q is not complete; missing: what the second person did", helper)
	case w[1] == helper:
		return Act{}, fmt.Errorf("%q stands twice in %s", helper, quoteWords(w))
	}
	a, err := parseAct(w[1:], words)
	if err == nil && a.Verb.Event() {
		err = fmt.Errorf("%s is no act, so no helper does it", quote(a.Text()))
	}
	a.Helper = true
	return a, err
}

// parseAct finds the phrase that fits furthest and reads its slots.
func parseAct(w []string, words Words) (Act, error) {
	best, bestFit := Verb(0), 0
	for _, v := range byFirst[w[0]] {
		if n := literalFit(grammar[v], w); n > bestFit {
			best, bestFit = v, n
		}
	}
	if best == 0 {
		return Act{}, unknownAct(w)
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
			return a, misfit{v, w, i}
		}
		if p.slot == 0 {
			if p.literal != w[i] {
				return a, misfit{v, w, i}
			}
			continue
		}
		if err := a.read(p.slot, w[i], words); err != nil {
			return a, err
		}
	}
	if n := len(grammar[v]); len(w) > n {
		return a, fmt.Errorf("unexpected %s after %s", quote(w[n]), quoteWords(w[:n]))
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
			return fmt.Errorf("%s is no act number", quote(w))
		}
		return nil
	}
	if err := a.fits(s, w, words); err != nil {
		return err
	}
	*a.field(s) = w
	return nil
}

// fits checks a word against what its slot takes.
func (a *Act) fits(s Slot, w string, words Words) error {
	title, all := s.String(), closed[s]
	if s == Worn && a.Verb == PutOn {
		title, all = "protective equipment", ProtectiveEquipment
	}
	switch {
	case all != nil && !slices.Contains(all, w):
		return fmt.Errorf("unknown %s %s; known: %s", title, quote(w), strings.Join(all, ", "))
	case !ValidID(w):
		return badName(w)
	case all == nil && s != wipeID && words != nil && !slices.Contains(words[s], w):
		return unknownWord{s, w, words[s]}
	}
	return nil
}

func badName(w string) error {
	if len(w) > 60 && idLike(w) {
		return fmt.Errorf("%s cannot be a name: it is longer than 60 characters", quote(w))
	}
	return fmt.Errorf("%s cannot be a name: use lower-case letters, digits and single hyphens", quote(w))
}
