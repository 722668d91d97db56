package rules_test

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/action"
	"stillwet/internal/assess"
	"stillwet/internal/assess/rules"
	"stillwet/internal/procedure"
)

// readAs is a procedure of which the labels of some products, or of all, are read as
// treatment time.
func readAs(t *testing.T, p *procedure.Procedure, products ...string) *procedure.Procedure {
	t.Helper()
	d := p.Definition
	d.Products = slices.Clone(d.Products)
	for i := range d.Products {
		if x := &d.Products[i]; len(products) == 0 || slices.Contains(products, x.ID) {
			x.Reading, x.ReadingWords, x.ReadingBy, x.ReadingOn = procedure.TreatmentReading, "Leave it alone.", "Mara Voss", "2027-01-02"
		}
	}
	read, faults := procedure.New(d, rules.Names())
	require.Empty(t, faults)
	return read
}

// ofWet are the surfaces of which the rule of wet time tells a breach, and those of which it
// tells that the log does not show it.
func ofWet(t *testing.T, p *procedure.Procedure, text string) (breaches map[string]string, unknown map[string]bool) {
	t.Helper()
	log, err := action.Parse("r", text, p.Words)
	require.NoError(t, err, text)
	r, err := rules.Assess(p, log, "r")
	require.NoError(t, err)
	breaches, unknown = map[string]string{}, map[string]bool{}
	for _, f := range r.Findings {
		if f.Rule == "wet-long-enough" {
			for _, s := range append([]string{f.Surface}, f.Surfaces...) {
				breaches[s] = f.Message
			}
		}
	}
	for _, g := range r.NotAssessed {
		if g.Rule == "wet-long-enough" {
			unknown[g.Surface] = true
		}
	}
	return breaches, unknown
}

// Worked by hand on the screen, with a label time of 120 s (wet-time facts 1.1: treatment
// time is the undisturbed time after wiping, wet or dry). Times are seconds; "wipe 10" ends
// the wipe at 10.
func TestTreatmentTimeCountsWhatIsLeftAlone(t *testing.T) {
	_, p := builtIn(t)
	label := p.Products[p.ProductIndex("station-wipe")].LabelS
	require.Equal(t, 120, label, "the cases below are worked for it")
	treated := readAs(t, p)
	short, long, open := "too short", "long enough", "not told"
	for _, c := range []struct {
		name, witness, lines string
		wet, alone           string
	}{
		{"dries at 30, ready at 119 after the wipe", "order clock drying", "10 wipe screen;40 dry screen;129 declare ready", short, short},
		{"dries at 30, ready at 120 after the wipe", "order clock drying", "10 wipe screen;40 dry screen;130 declare ready", short, long},
		{"wet for its whole time", "order clock drying", "10 wipe screen;130 dry screen;140 declare ready", long, long},
		{"wiped again, and not left alone since", "order clock drying", "10 wipe screen;40 dry screen;100 wipe screen;150 dry screen;219 declare ready", short, short},
		{"wiped again, and left alone since", "order clock drying", "10 wipe screen;40 dry screen;100 wipe screen;150 dry screen;220 declare ready", short, long},
		{"wiped again when it had its time", "order clock drying", "10 wipe screen;40 dry screen;130 wipe screen;135 declare ready", short, long},
		{"kept wet by wiping again: good by either", "order clock drying", "10 wipe screen;100 wipe screen;131 declare ready", long, long},
		{"touched at 100 with clean hands", "order clock drying", "10 wipe screen;40 dry screen;110 touch screen;200 declare ready", short, short},
		{"touched at 120 with clean hands", "order clock drying", "10 wipe screen;40 dry screen;130 touch screen;200 declare ready", short, long},
		{"towelled at 100", "order clock drying", "10 wipe screen;110 wipe dry screen;200 declare ready", short, short},
		{"nobody looked, and 122 s went by", "order clock", "10 wipe screen;132 declare ready", open, long},
		{"nobody looked, within two seconds", "order clock", "10 wipe screen;131 declare ready", open, open},
		{"nobody looked, 117 s", "order clock", "10 wipe screen;127 declare ready", short, short},
		{"seen dry at 30, and 122 s went by", "order clock", "10 wipe screen;40 dry screen;132 declare ready", short, long},
		{"a wait without a clock", "order", "wipe screen;wait;declare ready", long, long},
		{"no wait without a clock", "order", "wipe screen;declare ready", short, short},
	} {
		for reading, want := range map[*procedure.Procedure]string{p: c.wet, treated: c.alone} {
			var b strings.Builder
			fmt.Fprintf(&b, "stillwet log 2\nprocedure between-patients -\nwitness %s\n", c.witness)
			clock := func(s int) string {
				if c.witness == "order" {
					return ""
				}
				return fmt.Sprintf("%d:%02d ", s/60, s%60)
			}
			b.WriteString(clock(0) + "patient leaves\n" + clock(1) + "rub hands 20s\n" + clock(2) + "put on gloves\n" + clock(3) + "take wipe w1 of station-wipe\n")
			for line := range strings.SplitSeq(c.lines, ";") {
				at, act := 0, line
				if n, err := fmt.Sscanf(line, "%d", &at); err == nil && n == 1 {
					_, act, _ = strings.Cut(line, " ")
				}
				b.WriteString(clock(at) + act + "\n")
			}
			breaches, unknown := ofWet(t, reading, b.String())
			got := long
			if _, is := breaches["screen"]; is {
				got = short
			} else if unknown["screen"] {
				got = open
			}
			require.Equal(t, want, got, "%s (treatment: %v)\n%v", c.name, reading == treated, breaches)
			if reading == treated {
				require.NotContains(t, strings.ToLower(breaches["screen"]), "wet", "its words are those of its reading")
			}
		}
	}
}

// A product of each reading in one spell: the stricter one holds.
func TestTheStricterReadingHoldsWhereTwoProductsMet(t *testing.T) {
	_, p := builtIn(t)
	treated := readAs(t, p, "station-wipe")
	const head = "stillwet log 2\nprocedure between-patients -\nwitness order clock drying\n0:00 patient leaves\n0:01 rub hands 20s\n0:02 put on gloves\n"
	for name, c := range map[string]struct {
		lines string
		short bool
	}{
		"wet product on what is wet":      {"0:03 take wipe w1 of station-wipe\n0:10 wipe screen\n0:20 take wipe w2 of blood-wipe\n0:30 wipe screen\n1:00 dry screen\n9:00 declare ready\n", true},
		"treatment on what is wet":        {"0:03 take wipe w1 of blood-wipe\n0:10 wipe screen\n0:20 take wipe w2 of station-wipe\n0:30 wipe screen\n1:00 dry screen\n9:00 declare ready\n", true},
		"treatment when the other is dry": {"0:03 take wipe w1 of blood-wipe\n0:10 wipe screen\n0:20 dry screen\n0:25 take wipe w2 of station-wipe\n0:30 wipe screen\n1:00 dry screen\n9:00 declare ready\n", false},
		"wet product when it is dry":      {"0:03 take wipe w1 of station-wipe\n0:10 wipe screen\n0:20 dry screen\n0:25 take wipe w2 of blood-wipe\n0:30 wipe screen\n1:00 dry screen\n9:00 declare ready\n", true},
	} {
		breaches, _ := ofWet(t, treated, head+c.lines)
		_, short := breaches["screen"]
		require.Equal(t, c.short, short, name)
	}
}

// Whatever somebody does: what treatment time finds too short, visibly wet finds too short,
// and the engine answers, with spells that are in order.
func TestTreatmentTimeIsNeverTheStricterReading(t *testing.T) {
	_, p := builtIn(t)
	treated := readAs(t, p)
	mixed := readAs(t, p, "station-wipe")
	lenient := 0
	for seed := range uint64(rounds(t, 600, 600)) {
		text := randomLog(rand.New(rand.NewPCG(seed, 77)), p.Words)
		log, err := action.Parse("r", text, p.Words)
		if err != nil {
			continue
		}
		wet, _ := ofWet(t, p, text)
		for _, reading := range []*procedure.Procedure{treated, mixed} {
			alone, _ := ofWet(t, reading, text)
			for surface, message := range alone {
				require.Contains(t, wet, surface, "seed %d: %s\n%s", seed, message, text)
			}
			lenient += len(wet) - len(alone)
			spells, err := assess.Spells(reading, log)
			require.NoError(t, err)
			for _, x := range spells {
				for i, s := range x.Spells {
					require.LessOrEqual(t, s.From, s.To, "seed %d: %s %v\n%s", seed, x.Surface, x.Spells, text)
					require.True(t, i == 0 || x.Spells[i-1].To <= s.From || !x.Alone || reading == mixed, "seed %d: %s %v\n%s", seed, x.Surface, x.Spells, text)
				}
			}
		}
	}
	require.Positive(t, lenient, "and now and then it is the more lenient one")
}

// A dilution is good for as long as its label says, and never for longer than a day
// (wet-time facts 3.3).
func TestADilutionIsGoodAsLongAsItsLabelSays(t *testing.T) {
	_, p := builtIn(t)
	for _, c := range []struct {
		made, good int
		told       string
	}{{8, 8, ""}, {9, 8, "a dilution made 9 hours before (8 at the most)"}, {24, 0, ""}, {25, 0, "a dilution made 25 hours before (24 at the most)"}} {
		d := p.Definition
		d.Products = slices.Clone(d.Products)
		x := &d.Products[p.ProductIndex("station-wipe")]
		x.MadeH, x.GoodH = c.made, c.good
		mixed, faults := procedure.New(d, rules.Names())
		require.Empty(t, faults)
		log, err := action.Parse("r", "stillwet log 2\nprocedure between-patients -\nwitness order\ntake wipe w1 of station-wipe\nwipe screen\nwait\ndeclare ready\n", p.Words)
		require.NoError(t, err)
		r, err := rules.Assess(mixed, log, "r")
		require.NoError(t, err)
		told := ""
		for _, f := range r.Findings {
			if f.Rule == "right-product" {
				told = f.Message
			}
		}
		require.Equal(t, c.told == "", told == "", told)
		require.Contains(t, told, c.told)
	}
}
