package rules_test

import (
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/assess/rules"
)

// guidance is every fact of the guidance that concerns a station's turnover, F1 to
// F54, as a demand in a few words, with the rules that hold it, or why none does.
var guidance = map[int]struct {
	demand string
	rules  string // names, by blanks
	none   string // in words, when no rule holds it
}{
	1:  {"no routine disinfection before the patient has left", "patient-away", ""},
	2:  {"why: stations wiped round the patient", "patient-away", ""},
	3:  {"two parts: before disinfection, and after the patient has gone", "torn-down-first patient-away", ""},
	4:  {"lines off and in a leak-proof container, looked for soil, bucket empty, single-use away, reusables apart", "torn-down-first leakproof looked-first", ""},
	5:  {"gloves off and hands clean between the two parts", "fresh-gloves hands-after-gloves hands-before-gloves", ""},
	6:  {"all station surfaces, with friction, visibly wet, left to dry", "every-surface wet-long-enough", ""},
	7:  {"bucket disinfected on all sides and dry before it is used again", "bucket-dry every-surface", ""},
	8:  {"used things kept off surfaces that are done", "kept-apart", ""},
	9:  {"ends with gloves off and hand hygiene", "hands-at-end", ""},
	10: {"visible blood cleaned off first", "soil-first", ""},
	11: {"intermediate-level product where blood was seen", "right-product", ""},
	12: {"the product as its own label says", "wet-long-enough right-product", ""},
	13: {"a long enough patient-free interval", "patient-free", ""},
	14: {"who is responsible, written down", "", "the procedure's owner and review date say it; no act shows it"},
	15: {"disinfection waits while the patient cannot leave", "patient-away", ""},
	16: {"tear-down with the patient in the chair allowed or not", "patient-away", ""},
	17: {"clean supplies and circuit only to a finished station", "clean-last", ""},
	18: {"what a station and a potentially contaminated surface are", "", "a definition: every listed surface begins used, whatever can be seen"},
	19: {"the surfaces that are usually expected", "every-surface", ""},
	20: {"clean to dirty, top to bottom, cloths apart", "top-down one-face-one-wipe", ""},
	21: {"one wipe carries germs to the next surface", "one-face-one-wipe kept-apart", ""},
	22: {"thrown away, kept for the patient, or disinfected", "items-leave-right", ""},
	23: {"what cannot be disinfected is for one patient", "items-leave-right", ""},
	24: {"unused supplies never go back", "items-leave-right", ""},
	25: {"clean areas apart from used things; no common medication cart", "kept-apart", ""},
	26: {"written procedures for waste and for contaminated surfaces", "", "a document; the procedure itself is one, and no act shows it"},
	27: {"reprocessed dialyzers capped, in a leak-proof container", "leakproof", ""},
	28: {"fluid past an external transducer protector", "blood-leak out-of-use", ""},
	29: {"internal disinfection at the end of the day, as the maker says", "end-of-day", ""},
	30: {"blood leak: out of use until disinfected inside", "blood-leak out-of-use", ""},
	31: {"the label states the contact time", "wet-long-enough", ""},
	32: {"wet for the whole time; wiping dry early is the classic error", "wet-long-enough", ""},
	33: {"following the label is a duty: time, surfaces, dilution", "wet-long-enough right-product", ""},
	34: {"strengths of bleach dilutions", "", "chemistry of the product row; package wettime and the clinic's own values hold it"},
	35: {"which product on which surface, and on blood", "right-product", ""},
	36: {"dilution differs from place to place", "", "a conflict of sources: dilution is the clinic's product row"},
	37: {"spill: absorb, remove, discard, clean, disinfect, hands", "soil-first declared-order hands-after-gloves", ""},
	38: {"gloves at the patient's equipment; off between stations", "gloved gloves-stay", ""},
	39: {"gloves off when leaving the station", "gloves-stay", ""},
	40: {"hand hygiene before the patient, after gloves, from soiled to clean", "hands-before-patient hands-after-gloves fresh-gloves", ""},
	41: {"rub about 20 s, wash at least 15 s", "hands-long-enough", ""},
	42: {"WHO: rub 20 to 30 s, wash 40 to 60 s", "hands-long-enough", ""},
	43: {"gown and eye or face protection where blood may spatter", "ppe-order", ""},
	44: {"protection that blood does not get through", "", "what the gear is made of; nobody can see it in an act"},
	45: {"order of putting on and taking off", "ppe-order", ""},
	46: {"surfaces decontaminated after the work, at once when soiled, at the end of the shift", "every-surface end-of-day", ""},
	47: {"written cleaning schedule", "", "a document; no act shows it"},
	48: {"regulated waste and sharps in closable, leak-proof containers", "leakproof sharps bucket-drain", ""},
	49: {"decontaminated before service or shipping", "out-of-use", ""},
	50: {"isolation: own machine, things, staff", "isolation", ""},
	51: {"no isolation asked for hepatitis C or HIV", "", "nothing is demanded, so nothing is judged"},
	52: {"patients in view at all times", "", "who watches the others is not seen in one station's log; leaving to help is never a breach"},
	53: {"end of day: waste out, nothing left, floor, internal disinfection", "end-of-day", ""},
	54: {"air dry: no towel before the time is over", "wet-long-enough", ""},
}

var factPattern = regexp.MustCompile(`F(\d+)`)

// TestEveryDemandOfTheGuidanceIsHeld: each has a rule and a check log that cites it
// and looks at that rule, or says in words why it has none.
func TestEveryDemandOfTheGuidanceIsHeld(t *testing.T) {
	cited := map[string]bool{} // "F1 patient-away"
	for _, dir := range []string{"logs", "others"} {
		files, err := filepath.Glob("../../../testdata/checks/" + dir + "/*.log")
		require.NoError(t, err)
		for _, file := range files {
			text, err := os.ReadFile(file)
			require.NoError(t, err)
			source := ""
			for line := range strings.Lines(string(text)) {
				if rest, ok := strings.CutPrefix(line, "# source:"); ok {
					source = rest
				}
			}
			for _, m := range factPattern.FindAllStringSubmatch(source, -1) {
				for _, name := range rules.Names() {
					if strings.Contains(string(text), name) {
						cited["F"+m[1]+" "+name] = true
					}
				}
			}
		}
	}
	for n := 1; n <= 54; n++ {
		g, ok := guidance[n]
		require.True(t, ok, "F%d is not in the table", n)
		require.NotEmpty(t, g.demand)
		require.True(t, (g.rules == "") != (g.none == ""), "F%d has rules, or a reason why none", n)
		if g.rules == "" {
			continue
		}
		held := false
		for _, name := range strings.Fields(g.rules) {
			require.True(t, slices.Contains(rules.Names(), name), "F%d names rule %s", n, name)
			held = held || cited[fmt.Sprintf("F%d %s", n, name)]
		}
		require.True(t, held, "no check log cites F%d and looks at %s", n, g.rules)
	}
}
