package exports

import (
	"fmt"
	"slices"
	"strings"

	"github.com/xuri/excelize/v2"

	"stillwet/internal/training"
)

const (
	readMeName  = "Read me"
	readMeWidth = 96
)

// readMe says what the workbook is, of whom and when, and how to check it.
func (b *book) readMe(a training.Annual) error {
	if err := b.layout(readMeName, false); err != nil {
		return err
	}
	sw, err := b.f.NewStreamWriter(readMeName)
	if err != nil {
		return err
	}
	if err := sw.SetColWidth(1, 1, 24); err != nil {
		return err
	}
	if err := sw.SetColWidth(2, 2, readMeWidth); err != nil {
		return err
	}
	row := 1
	put := func(height float64, cells ...any) error {
		at, err := excelize.CoordinatesToCellName(1, row)
		if err != nil {
			return err
		}
		row++
		return sw.SetRow(at, cells, excelize.RowOpts{Height: height})
	}
	if err := put(30, excelize.Cell{StyleID: b.plain[title], Value: fmt.Sprintf(bookTitle+"%d", a.Year)}); err != nil {
		return err
	}
	if a.Demo {
		if err := put(21, excelize.Cell{StyleID: b.plain[banner], Value: DemoNotice}, excelize.Cell{StyleID: b.plain[banner]}); err != nil {
			return err
		}
	}
	for _, l := range readMeLines(a, b) {
		if err := put(l.height(), excelize.Cell{StyleID: b.plain[label], Value: l.what}, excelize.Cell{StyleID: b.plain[l.kind], Value: l.value}); err != nil {
			return err
		}
	}
	return sw.Flush()
}

// bookTitle is followed by the year.
const bookTitle = "Annual competency workbook "

type line struct {
	what  string
	value any
	kind  kind
}

func (l line) height() float64 {
	s, _ := l.value.(string)
	return textHeight(s, readMeWidth)
}

func readMeLines(a training.Annual, b *book) []line {
	gap := line{"", nil, prose}
	return slices.Concat([]line{
		{"Clinic", a.Clinic, prose},
		{"Period from", day(a.From), date},
		{"Period to", day(a.To), date},
		{"Standing as of", day(a.AsOf), date},
		{"Made at", b.moment(a.MadeAt), moment},
		{"Time zone", a.Zone + " (all dates and times in this workbook)", prose},
		{"Filters", "None. Everybody employed in the period, every competency, every sign-off and demonstration of the period.", prose},
		gap,
	}, procedureLines(a), []line{gap}, ledgerLines(a), []line{
		gap,
		{"Sheet Status", "Where each person stands in each competency on the day above: not started, in training, ready to sign, current, due, lapsed. " +
			"“Clean demonstrations” counts those since the last sign-off that passed without a prompt and have both signatures, one a day.", prose},
		{"Sheet Sign-offs", "Every sign-off of the period with who signed, the sentence that was signed and the evidence.", prose},
		{"Sheet Demonstrations", "Every return demonstration of the period, also those that did not pass or were only practice.", prose},
		gap,
		{"Caution", training.Caution, prose},
	})
}

func procedureLines(a training.Annual) (lines []line) {
	for _, p := range a.Procedures {
		lines = append(lines,
			line{"Procedure", p.Title + ", version " + p.Version, prose},
			line{"Procedure fingerprint", p.Hash, id})
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
		{"How to check", "The command “stillwet verify --workbook FILE” recomputes the ledger from the stored records, proves that it still extends the head above, " +
			"and names each signed row of this workbook that the records contradict. The head is a C2SP checkpoint in a signed note (Ed25519), which other tools can check with the key above. " +
			"Keep this workbook where the program cannot change it.", prose},
	}
}
