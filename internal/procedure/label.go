package procedure

import (
	"cmp"
	"fmt"
	"strings"
)

// LabelText is what the label of a product says beyond its longest time, and who of the clinic
// had it before them. All of it came later: a product without it is as it was.
type LabelText struct {
	Claims       []Claim `json:",omitzero"` // LabelS is the longest of those that the clinic claims; without any it stands alone
	Registration string  `json:",omitzero"` // the number on the label
	GoodUntil    string  `json:",omitzero"` // the last day of the stock at hand
	GoodH        int     `json:",omitzero"` // a dilution: hours it is good where the label says less than MostDilutionH
	CheckedBy    string  `json:",omitzero"` // who compared this row with the label, by name
	CheckedOn    string  `json:",omitzero"`

	Reading      Reading `json:",omitzero"` // how its time is read
	ReadingWords string  `json:",omitzero"` // the label's own words for it
	ReadingBy    string  `json:",omitzero"` // who typed them, by name
	ReadingOn    string  `json:",omitzero"`
}

// Claim is a time of a label with that against which it is said.
type Claim struct {
	For    string // an organism, or a group of them
	LabelS int
	Used   bool `json:",omitzero"` // the clinic claims it
}

// Reading is how the time of a label is read (wet-time facts 1.1).
type Reading string

// The readings: visibly wet for the whole time, which is the safe one; or left alone for
// it, wet or dry, only where the label says so in its own words.
const (
	WetReading       Reading = ""
	TreatmentReading Reading = "treatment"
)

// MaxClaims is how many claims a product may have.
const MaxClaims = 16

// CountsDry reports whether the time of a label runs on when the surface has dried.
func (l *LabelText) CountsDry() bool { return l.Reading == TreatmentReading }

// Ruling is the longest claim that the clinic makes; false when there is none.
func (l *LabelText) Ruling() (longest Claim, ok bool) {
	for _, c := range l.Claims {
		if c.Used && c.LabelS > longest.LabelS {
			longest, ok = c, true
		}
	}
	return longest, ok
}

// MostH is how long a dilution of it is good, in hours: as its label says, and never for
// longer than any is.
func (l *LabelText) MostH() int { return min(cmp.Or(l.GoodH, MostDilutionH), MostDilutionH) }

// Over reports whether a product is past its date on a day: somebody said so, or its day
// has gone by. A log has no day, so what is judged is what somebody said (PastDate).
func (p *Product) Over(day string) bool {
	return p.PastDate || p.GoodUntil != "" && p.GoodUntil < day
}

const maxWords = 300 // letters of what is copied from a label

// label checks the times of a product and what stands beside them.
func (c *checker) label(i int, pr *Product) {
	at := func(field string) string { return fmt.Sprintf("products.%d.%s", i, field) }
	c.claims(i, pr)
	c.reading(i, pr)
	c.signed(at("checked_by"), Confirmed{pr.CheckedBy, pr.CheckedOn}, "say who compared it with the label, by name, and on which day (2027-06-30)")
	for field, text := range map[string]string{"registration": pr.Registration, "reading_words": pr.ReadingWords, "checked_by": pr.CheckedBy, "reading_by": pr.ReadingBy} {
		if len(text) > maxWords {
			c.fault(at(field), "is longer than %d letters", maxWords)
		}
	}
	if pr.GoodUntil != "" && !dayPattern.MatchString(pr.GoodUntil) {
		c.fault(at("good_until"), "%q is no day in the form 2027-06-30", pr.GoodUntil)
	}
	switch {
	case pr.GoodH < 0 || pr.GoodH > MostDilutionH:
		c.fault(at("good_h"), "%d is not between 1 and %d hours: no dilution is good for longer", pr.GoodH, MostDilutionH)
	case pr.GoodH > 0 && pr.MadeH == 0:
		c.fault(at("good_h"), "only a dilution has hours; say in made_h how old it is when the work begins")
	}
}

func (c *checker) claims(i int, pr *Product) {
	at := func(field string) string { return fmt.Sprintf("products.%d.%s", i, field) }
	if len(pr.Claims) > MaxClaims {
		c.fault(at("claims"), "%d are too many; the limit is %d", len(pr.Claims), MaxClaims)
	}
	seen := map[string]bool{}
	for j, claim := range pr.Claims {
		of := fmt.Sprintf("claims.%d.", j)
		key := strings.ToLower(strings.TrimSpace(claim.For))
		switch {
		case key == "" || len(claim.For) > 80:
			c.fault(at(of+"for"), "say in up to 80 letters against what this time holds, for example: hepatitis B and HIV")
		case seen[key]:
			c.fault(at(of+"for"), "%q is there twice", claim.For)
		}
		seen[key] = true
		c.seconds(at(of+"label_s"), claim.LabelS, 1, 3600)
	}
	longest, ok := pr.Ruling()
	switch {
	case len(pr.Claims) == 0:
		c.seconds(at("label_s"), pr.LabelS, 1, 3600)
	case !ok:
		c.fault(at("claims"), "the clinic claims none of these times; tick “claimed” at one of them at least")
	case pr.LabelS != longest.LabelS:
		c.fault(at("label_s"), "%d s is not the longest time that the clinic claims: %d s for %s; leave it out, and that one rules", pr.LabelS, longest.LabelS, longest.For)
	}
}

// reading: the lenient one needs the label's own words, and somebody who typed them.
func (c *checker) reading(i int, pr *Product) {
	at := func(field string) string { return fmt.Sprintf("products.%d.%s", i, field) }
	switch {
	case pr.Reading == TreatmentReading && strings.TrimSpace(pr.ReadingWords) == "":
		c.fault(at("reading_words"), "a label is read as treatment time only with its own words: type in what it says")
	case pr.Reading != TreatmentReading && pr.Reading != WetReading:
		c.fault(at("reading"), "%q is none of wet, treatment", pr.Reading)
	case pr.Reading == WetReading && pr.ReadingWords+pr.ReadingBy+pr.ReadingOn != "":
		c.fault(at("reading"), "words of the label are there, and its time is read as visibly wet: say treatment, or leave them out")
	}
	by := Confirmed{pr.ReadingBy, pr.ReadingOn}
	if pr.Reading == TreatmentReading && by == (Confirmed{}) {
		by.By = " " // nobody: the same fault
	}
	c.signed(at("reading_by"), by, "say who typed in the label's words, by name, and on which day (2027-06-30)")
}
