package action

import (
	"fmt"
	"regexp"
	"slices"
	"strings"
)

// headers begin the header lines, in their order.
var headers = [...]string{"stillwet log", "procedure", "witness"}

// headerForms say how the header lines are written.
var headerForms = [len(headers)]string{
	fmt.Sprintf("stillwet log %d", Version), "procedure NAME HASH (64 hex digits, or -)", "witness order [clock] [drying]",
}

// stoodIn marks a header whose place another line took: that was said, and a
// true header line may still follow.
const stoodIn = -1

// headerOf is the place of a header line among the headers, -1 for other lines.
func headerOf(w []string) int {
	return slices.IndexFunc(headers[:], func(h string) bool {
		first, _, _ := strings.Cut(h, " ")
		return w[0] == first
	})
}

// missing is the first header that did not come yet, -1 when all did.
func (p *parser) missing() int { return slices.Index(p.headerAt[:], 0) }

func (p *parser) headerLine(h int, w []string) {
	if first := p.headerAt[h]; first > 0 {
		p.fault("the %q line is there twice; the first is line %d", headers[h], first)
		return
	}
	p.headerAt[h] = p.lineNo
	for later := h + 1; later < len(headers); later++ {
		if at := p.headerAt[later]; at > 0 {
			p.fault("the %q line stands after the %q line (line %d); their order is %s", headers[h], headers[later], at, strings.Join(headers[:], ", "))
			break
		}
	}
	switch h {
	case 0:
		p.version(w)
	case 1:
		p.procedure(w)
	default:
		p.witness(w)
	}
}

// noHeader is told of a line that stands where header h should.
func (p *parser) noHeader(h int, w []string) {
	p.headerAt[h] = stoodIn
	p.fault("expected %q, found %s", headerForms[h], quoteWords(w))
}

var versionPattern = regexp.MustCompile(`^stillwet log (\d+)$`)

// version reads the first line: this version of the format or an older one.
func (p *parser) version(w []string) {
	line := strings.Join(w, " ")
	for v := 1; v <= Version; v++ {
		if line == fmt.Sprintf("stillwet log %d", v) {
			p.log.Version = v
			return
		}
	}
	if m := versionPattern.FindStringSubmatch(line); m != nil {
		p.fault("version %s of the format is not known; versions 1 to %d are read", quote(m[1]), Version)
		return
	}
	p.fault("expected %q, found %s", headerForms[0], quote(line))
}

var hashPattern = regexp.MustCompile(`^(-|[0-9a-f]{64})$`)

// ValidID reports whether s can name a procedure, surface, item or other thing.
func ValidID(s string) bool { return len(s) <= 60 && idLike(s) }

// idLike reports whether s is lower-case letters and digits, with single hyphens
// between them.
func idLike(s string) bool {
	after := byte('-')
	for i := range len(s) {
		c := s[i]
		if c == '-' && after == '-' || c != '-' && (c < 'a' || c > 'z') && (c < '0' || c > '9') {
			return false
		}
		after = c
	}
	return after != '-'
}

func (p *parser) procedure(w []string) {
	p.log.ProcedureLine = p.lineNo
	switch {
	case len(w) != 3:
		p.fault("expected %q, found %s", headerForms[1], quoteWords(w))
	case !ValidID(w[1]):
		p.fault("%v", badName(w[1]))
	case !hashPattern.MatchString(w[2]):
		p.fault("%s is no hash of a procedure: 64 hex digits (0-9 and a-f), or - for the present one", quote(w[2]))
	default:
		p.log.Procedure, p.log.Hash = w[1], w[2]
	}
}

func (p *parser) witness(w []string) {
	before := p.count()
	if len(w) < 2 {
		p.fault("expected %q, found %s", headerForms[2], quoteWords(w))
	}
	known := WitnessWords()
	for _, word := range w[1:] {
		if i := slices.Index(known, word); i >= 0 {
			p.log.Witness |= witnessWords[i].bit
		} else {
			p.note(unknownWitness(word))
		}
	}
	if p.log.Witness.Has(Drying) && !p.log.Witness.Has(Clock) {
		p.fault("a log cannot witness drying without a clock")
	}
	p.witnessRead = p.count() == before
}
