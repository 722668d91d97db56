package exports

import (
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"github.com/xuri/excelize/v2"

	"stillwet/internal/training"
)

// forty is a clinic of forty with every standing, long names and long remarks.
func forty(t testing.TB) training.Annual {
	a := invented(t)
	standing, signOff, watched, missed := a.Standings[0], a.SignOffs[0], a.Demonstrations[2], a.Demonstrations[1]
	a.Standings, a.SignOffs, a.Demonstrations = nil, nil, nil
	for i := range 40 {
		p := training.Person{ID: fmt.Sprintf("%026d", i), Name: fmt.Sprintf("Maximiliana Featherstone-Invented %d", i), StaffNo: fmt.Sprintf("%05d", i), Role: training.Trainee}
		a.People[p.ID] = p
		st := standing
		st.Person, st.Word = p, training.StandingWords[min(i%9, len(training.StandingWords)-1)]
		st.Ready = i%7 == 0
		o, d := signOff, watched
		o.ID, o.PersonID, o.Leaf = fmt.Sprintf("s%025d", i), p.ID, int64(100+i)
		if o.SignerName = "Pia Invented"; i%5 == 0 {
			o.SignerName = "Bartholomew Invented-Longname"
		}
		d.ID, d.TraineeID, d.Signatures = fmt.Sprintf("d%025d", i), p.ID, slices.Clone(watched.Signatures)
		if i%4 == 0 {
			d.ResultJSON, d.Outcome = missed.ResultJSON, missed.Outcome
		}
		if d.Comment = ""; i%3 == 0 {
			d.Comment = "Left out the call light and the arm rest; went through the surfaces again together, from the cleanest to the most soiled, and will watch once more next week."
		}
		a.Standings, a.SignOffs, a.Demonstrations = append(a.Standings, st), append(a.SignOffs, o), append(a.Demonstrations, d)
	}
	return a
}

// sheets are the papers that clinics have, in inches.
var sheets = map[string]struct{ short, long float64 }{"A4": {210 / 25.4, 297 / 25.4}, "Letter": {8.5, 11}}

// printedPage is a sheet as it is printed: each page's columns, and how much is taken off.
type printedPage struct {
	widths [][]float64 // of the columns on each of the pages beside each other
	fitted bool
	scale  float64 // when it is not fitted
	room   map[string]float64
}

func printedOf(t testing.TB, f *excelize.File, sheet string) (p printedPage) {
	layout, err := f.GetPageLayout(sheet)
	require.NoError(t, err)
	margins, err := f.GetPageMargins(sheet)
	require.NoError(t, err)
	props, err := f.GetSheetProps(sheet)
	require.NoError(t, err)
	p.fitted, p.room = *props.FitToPage, map[string]float64{}
	if p.scale = 1; layout.AdjustTo != nil {
		p.scale = float64(*layout.AdjustTo) / 100
	}
	for name, paper := range sheets {
		across := paper.short
		if *layout.Orientation == "landscape" {
			across = paper.long
		}
		p.room[name] = across - *margins.Left - *margins.Right
	}
	area, again := areas(t, f, sheet)
	starts := append([]int{1}, breaksOf(t, f, sheet)...)
	for i, from := range starts {
		to := area
		if i+1 < len(starts) {
			to = starts[i+1] - 1
		}
		var widths []float64
		for c := 1; c <= to; c++ {
			if c >= from || c <= again {
				widths = append(widths, widthOf(t, f, sheet, c))
			}
		}
		p.widths = append(p.widths, widths)
	}
	return p
}

func widthOf(t testing.TB, f *excelize.File, sheet string, c int) float64 {
	name, err := excelize.ColumnNumberToName(c)
	require.NoError(t, err)
	width, err := f.GetColWidth(sheet, name)
	require.NoError(t, err)
	return width
}

// areas are the last column that is printed, and the last that is on every page.
func areas(t testing.TB, f *excelize.File, sheet string) (last, again int) {
	last = 2 // of a sheet that is no table
	for _, n := range f.GetDefinedName() {
		if n.Scope != sheet {
			continue
		}
		if m := regexp.MustCompile(`!\$A\$\d+:\$([A-Z]+)\$\d+$`).FindStringSubmatch(n.RefersTo); m != nil && n.Name == "_xlnm.Print_Area" {
			last = numbered(t, m[1])
		}
		if m := regexp.MustCompile(`!\$A:\$([A-Z]+),`).FindStringSubmatch(n.RefersTo); m != nil && n.Name == "_xlnm.Print_Titles" {
			again = numbered(t, m[1])
		}
	}
	return last, again
}

func numbered(t testing.TB, column string) int {
	n, err := excelize.ColumnNameToNumber(column)
	require.NoError(t, err)
	return n
}

// breaksOf are the columns that begin a page of their own.
func breaksOf(t testing.TB, f *excelize.File, sheet string) (starts []int) {
	part, ok := f.Pkg.Load(fmt.Sprintf("xl/worksheets/sheet%d.xml", slices.Index(f.GetSheetList(), sheet)+1))
	require.True(t, ok)
	columns := regexp.MustCompile(`<colBreaks.*</colBreaks>`).Find(part.([]byte))
	for _, m := range regexp.MustCompile(`<brk id="(\d+)"`).FindAllSubmatch(columns, -1) {
		n, err := strconv.Atoi(string(m[1]))
		require.NoError(t, err)
		starts = append(starts, n+1)
	}
	return starts
}

// digits are how wide programs make a digit of Arial at 10 points, in inches: by its true
// width, or rounded to dots of the screen.
var digits = map[string]float64{"true": 5.56 / 72, "rounded": 7.0 / 96}

// smallestScale is how much is taken off on the paper and in the program that take most. It
// requires that pages with a given scale fit.
func (p printedPage) smallestScale(t testing.TB, sheet string) float64 {
	smallest := p.scale
	for _, widths := range p.widths {
		for paper, room := range p.room {
			for how, digit := range digits {
				width := 0.0
				for _, w := range widths {
					width += w * digit
				}
				if p.fitted {
					smallest = min(smallest, room/width)
				} else {
					require.Less(t, width*p.scale, room, "%s on %s, digits %s: a column falls off its page", sheet, paper, how)
				}
			}
		}
	}
	return smallest
}

func TestNothingIsPrintedSmallerThan8Points(t *testing.T) {
	for _, demo := range []bool{false, true} {
		a := forty(t)
		a.Demo = demo
		f := written(t, a)
		for _, sheet := range f.GetSheetList() {
			scale := printedOf(t, f, sheet).smallestScale(t, sheet)
			everyFont(t, f, sheet, func(cell string, font *excelize.Font) {
				require.GreaterOrEqual(t, font.Size*scale, 8.0, "%s %s at %.0f %%", sheet, cell, 100*scale)
				require.Equal(t, fontName, font.Family, "%s %s", sheet, cell)
			})
			around, err := f.GetHeaderFooter(sheet)
			require.NoError(t, err)
			sizes := regexp.MustCompile(`&(\d+)`).FindAllStringSubmatch(around.OddHeader+around.OddFooter, -1)
			require.GreaterOrEqual(t, len(sizes), 4, sheet)
			for _, m := range sizes {
				size, err := strconv.ParseFloat(m[1], 64)
				require.NoError(t, err)
				require.GreaterOrEqual(t, size*scale, 8.0, "%s: %s", sheet, m[0])
			}
		}
	}
}

// everyFont gives the font of each cell that is there.
func everyFont(t testing.TB, f *excelize.File, sheet string, look func(cell string, font *excelize.Font)) {
	rows, err := f.GetRows(sheet)
	require.NoError(t, err)
	seen := map[int]bool{}
	for r, row := range rows {
		for c := range row {
			cell, err := excelize.CoordinatesToCellName(c+1, r+1)
			require.NoError(t, err)
			n, err := f.GetCellStyle(sheet, cell)
			require.NoError(t, err)
			if seen[n] || row[c] == "" {
				continue
			}
			seen[n] = true
			style, err := f.GetStyle(n)
			require.NoError(t, err)
			require.NotNil(t, style.Font, "%s %s", sheet, cell)
			look(cell, style.Font)
		}
	}
	require.Greater(t, len(seen), 2, sheet)
}

// Each page has the clinic, the year, the sheet, the day, and its number of how many.
func TestEveryPageSaysWhoseItIs(t *testing.T) {
	for _, demo := range []bool{false, true} {
		a := invented(t)
		a.Demo, a.Clinic = demo, "2nd Street & Sons, invented"
		f := written(t, a)
		for _, sheet := range f.GetSheetList() {
			around, err := f.GetHeaderFooter(sheet)
			require.NoError(t, err)
			for _, words := range []string{`"2nd Street && Sons, invented · 2026`, sheet + " · made 2 Jan 2027"} {
				require.Contains(t, around.OddHeader, words)
			}
			require.Contains(t, around.OddFooter, "Page &P of &N")
			require.Equal(t, demo, strings.Contains(around.OddHeader, DemoNotice))
		}
	}
	a := invented(t)
	a.Demo, a.Clinic = true, strings.Repeat("&long ", 100)
	written(t, a) // a header that is too long would be an error
}

// What only a check reads is not on a manager's pages: no id, hash, head or number of the ledger.
func TestKeysAreInABlockOfTheirOwn(t *testing.T) {
	a := invented(t)
	f := written(t, a)
	rows, err := f.GetRows("Read me")
	require.NoError(t, err)
	for _, key := range []string{a.Ledger.Root, a.Ledger.Key, a.Procedures[0].Hash} {
		require.NotContains(t, fmt.Sprint(rows), key)
	}
	isKey := regexp.MustCompile(` id$|\(ids\)|Ledger|fingerprint|Rules version|Procedure version|Requirements version|Based on|^Rule$`)
	for _, sheet := range []string{"Status", "Sign-offs", "Demonstrations", findingsName, entitlementsName, correctionsName, "Change training", "Procedure"} {
		rows, err := f.GetRows(sheet)
		require.NoError(t, err)
		last, _ := areas(t, f, sheet)
		for c, title := range rows[0] {
			require.Equal(t, isKey.MatchString(title), c >= last, "%s: %s", sheet, title)
		}
	}
}

// The counts are those of the rows, in the order in which somebody has to act, above all else.
func TestTheCountsOnTopAreThoseOfTheRows(t *testing.T) {
	f := written(t, forty(t))
	of, again := map[string]int{}, 0
	rows, err := f.GetRows("Status", excelize.Options{RawCellValue: true})
	require.NoError(t, err)
	standing, ready := slices.Index(rows[0], "Standing"), slices.Index(rows[0], "Ready to sign again")
	for _, row := range rows[1:] {
		of[row[standing]]++
		if row[ready] != "" {
			again++
		}
	}
	top, err := f.GetRows(f.GetSheetList()[0], excelize.Options{RawCellValue: true})
	require.NoError(t, err)
	head := slices.IndexFunc(top, func(row []string) bool { return len(row) > 0 && row[0] == "Standing" })
	require.Greater(t, head, 0)
	require.Less(t, head, 6, "on top")
	for i, word := range []string{"Lapsed", "On a plan", "Due", "Ready to sign", "In training", "Not started", "Current", "On leave"} {
		require.Equal(t, []string{word, strconv.Itoa(of[word])}, top[head+1+i])
		require.Positive(t, of[word], word)
	}
	require.Equal(t, []string{"In all", "40"}, top[head+9])
	require.Equal(t, []string{"Ready to sign again", strconv.Itoa(again)}, top[head+10])
	require.Positive(t, again)
}

// In grey, and without its shape being seen, a standing is told by its word; each has a
// shape of its own before it, and the cell holds the word alone, for filters.
func TestEachStandingHasAShape(t *testing.T) {
	f := written(t, forty(t))
	shapes := map[string]string{}
	for row := 2; row <= 41; row++ {
		cell := below(t, f, "Status", "Standing", row)
		word, err := f.GetCellValue("Status", cell, excelize.Options{RawCellValue: true})
		require.NoError(t, err)
		format := formatOf(t, f, "Status", cell)
		require.Regexp(t, `^"[^" ] "@$`, format)
		shapes[format] = word
	}
	require.Len(t, shapes, len(training.StandingWords))
}
