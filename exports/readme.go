package exports

import (
	"fmt"
	"slices"
	"strings"

	"github.com/xuri/excelize/v2"

	"stillwet/internal/training"
)

// The sheets that are lines and no table, the one that the counts are of, and the one of
// what follows from changed procedures.
const (
	readMeName  = "Read me"
	keysName    = "Keys and heads"
	statusName  = "Status"
	changesName = "Change training"
)

// Widths of what a line says, and of its value.
const (
	whatWidth  = 24
	valueWidth = 73
)

// bookTitle is followed by the year.
const bookTitle = "Annual competency workbook "

// line is one of a sheet that is no table.
type line struct {
	what  any
	value any
	kind  kind
}

func (l line) height() float64 {
	s, _ := l.value.(string)
	return textHeight(s, valueWidth, false)
}

// readMe says where the clinic stands, and what the workbook is.
func (b *book) readMe(a training.Annual) error {
	return b.lines(readMeName, fmt.Sprintf(bookTitle+"%d", a.Year), readMeLines(a, b))
}

// keysAndHeads is what a check needs and a manager does not.
func (b *book) keysAndHeads(a training.Annual) error {
	if _, err := b.f.NewSheet(keysName); err != nil {
		return err
	}
	return b.lines(keysName, keysName, keyLines(a))
}

func (b *book) lines(name, head string, lines []line) error {
	if err := b.layout(name, paper{}); err != nil {
		return err
	}
	sw, err := b.f.NewStreamWriter(name)
	if err != nil {
		return err
	}
	widths := []float64{whatWidth, valueWidth}
	for i, width := range widths {
		if err := sw.SetColWidth(i+1, i+1, width); err != nil {
			return err
		}
	}
	if err := sw.SetRow("A1", []any{excelize.Cell{StyleID: b.plain[title], Value: head}}, excelize.RowOpts{Height: 30}); err != nil {
		return err
	}
	row := 2
	if b.demo {
		if err := b.notice(sw, 2, len(widths), widths); err != nil {
			return err
		}
		row++
	}
	for i, l := range lines {
		if err := sw.SetRow(fmt.Sprintf("A%d", row+i), b.cells(l), excelize.RowOpts{Height: l.height()}); err != nil {
			return err
		}
	}
	return sw.Flush()
}

// cells of a line: those of the block of counts look like a table's.
func (b *book) cells(l line) []any {
	if _, ok := l.what.(training.StandingWord); ok || l.kind == heading {
		return []any{b.cell(l.kind, l.what), b.cell(l.kind, l.value)}
	}
	return []any{excelize.Cell{StyleID: b.plain[label], Value: l.what}, excelize.Cell{StyleID: b.plain[l.kind], Value: l.value}}
}

var gap = line{"", nil, prose}

func readMeLines(a training.Annual, b *book) []line {
	return slices.Concat([]line{
		{"Clinic", a.Clinic, prose},
		{"Standing as of", day(a.AsOf), date},
		gap,
	}, countLines(a.Standings), []line{
		gap,
		{"Period from", day(a.From), date},
		{"Period to", day(a.To), date},
		{"Made at", b.moment(a.MadeAt), moment},
		{"Time zone", a.Zone + " (all dates and times in this workbook)", prose},
		{"Filters", "None. Everybody employed in the period, every competency, every sign-off and demonstration of the period.", prose},
		gap,
	}, inForce(a), inForceLines(a), []line{
		gap,
		{"Sheet Status", "Where each person stands in each competency on the day above, first those for whom somebody has to act. " +
			"“Clean demonstrations” counts those since the last sign-off that passed without a prompt and have both signatures, one a day.", prose},
		{"Sheet Sign-offs", "Every sign-off of the period with who signed, the sentence that was signed and the evidence.", prose},
		{"Sheet Demonstrations", "Every return demonstration of the period, also those that did not pass or were only practice. On paper its signatures are on a page beside.", prose},
		{"Sheet Findings", "What was missed in those demonstrations, and what was advised: one row for each thing that was told.", prose},
		{"Sheet Observations", "Station observations of the period: one is one turnover of one station, watched to its end and kept by who watched, also those that were withdrawn since. Nobody’s sign-off rests on them.", prose},
		{"Sheet Observation months", "How many there were each month, as a whole and by shift, against the target that the month had. “All right” is every step right and every surface wet; what nobody could see is left out of both rates, " +
			"and “at least” and “at most” say where the true one may be (95 %, Wilson).", prose},
		{"Sheet From paper", "Sign-offs from before this program, of whatever year, as an educator confirmed them, with what was corrected and withdrawn.", prose},
		{"Names", "What was signed or confirmed names people as they were called then; the sheet Status and counts name them as they are called now. The staff number tells who is meant.", prose},
		{"Sheet Other annual items", "What people have to have by a day, by date and evidence only: how each stands, and what was entered of days of the period, with what was corrected and withdrawn.", prose},
		{"Sheet Entitlements", "Who might watch demonstrations or sign people off on a day of the period, and on whose word.", prose},
		{"Sheet Corrections", "What was put right in the period, by whom and why. Nothing that was signed is changed by it: it still stands on its own sheet.", prose},
		{"Sheet Change training", "What people had to do in the period because the procedure changed, and how far each had come on the day above.", prose},
		{"Sheet Asked of people", "What educators asked of people besides, a module, a demonstration or another annual item, and how far each had come on the day above.", prose},
		{"Sheet Requirements", "What a sign-off takes, in each version: from when, on whose word and why. Each sign-off names the version it was given under.", prose},
		{"Sheet Procedure", "Each version of the clinic's procedure: why it was made, by whom, on whose word it holds and from when.", prose},
		{"Sheet Keys and heads", "What it takes to check this workbook. The keys of single rows stand to the right of each sheet and are not printed.", prose},
		gap,
		{"Caution", training.Caution, prose},
	})
}

// inAll is the line under the counts.
const inAll = "In all"

// countLines counts the rows of the standings: values, which hold also where nothing is
// computed anew.
func countLines(all []training.Standing) []line {
	lines := []line{{"Standing", "How many: each person once in each competency", heading}}
	of, again := map[training.StandingWord]int{}, 0
	for i := range all {
		of[all[i].Word]++
		if all[i].ReadyAgain() {
			again++
		}
	}
	for _, w := range training.StandingWords {
		lines = append(lines, line{w, of[w], strong})
	}
	return append(lines, line{inAll, len(all), count}, line{readyAgain, again, count})
}

func keyLines(a training.Annual) []line {
	return slices.Concat(ledgerLines(a), []line{gap}, fingerprintLines(a), []line{gap, {"How to check",
		"The command “stillwet verify --workbook FILE” recomputes the ledger from the stored records, proves that it still extends the head above, " +
			"and names each signed row of this workbook that the records contradict. The head is a C2SP checkpoint in a signed note (Ed25519), which other tools can check with the key above. " +
			"Keep this workbook where the program cannot change it.", prose}})
}

// inForceLines are the procedures by which people are trained now.
func inForceLines(a training.Annual) (lines []line) {
	for _, p := range a.Procedures {
		lines = append(lines, line{"Procedure", p.Title + ", version " + p.Version, prose})
	}
	return lines
}

func fingerprintLines(a training.Annual) (lines []line) {
	for i, l := range inForceLines(a) {
		lines = append(lines, l, line{"Procedure fingerprint", a.Procedures[i].Hash, id})
	}
	return append(lines, line{"Rules version", fmt.Sprintf("%d. A demonstration shows the version it was judged by.", a.RulesVersion), prose})
}

func ledgerLines(a training.Annual) []line {
	root, note := a.Ledger.Root, strings.TrimSpace(a.Ledger.Note)
	if a.Ledger.Size == 0 {
		root, note = "nothing has been signed yet", ""
	}
	return []line{
		{"Ledger size", a.Ledger.Size, count},
		{"Ledger root", root, id},
		{"Signed head", note, id},
		{"Verifier key", a.Ledger.Key, id},
	}
}
