package exports

import (
	"fmt"
	"slices"
	"time"

	"github.com/xuri/excelize/v2"

	"stillwet/internal/training"
)

// kind is how a column's values are shown.
type kind int

const (
	text kind = iota
	prose
	strong
	id
	date
	moment
	count
	percent
	label
	heading
	title
	banner
	kinds
)

// column is one column of a table: how it is shown, and its value in a row.
type column[Row any] struct {
	title string
	width float64
	kind  kind
	value func(Row) any
}

// table is a sheet. A new column is one entry in one of its lists.
type table[Row any] struct {
	name     string
	rows     []Row
	columns  []column[Row]
	onScreen []column[Row] // to the right of the others, and not printed
}

// head is a column without its values.
type head struct {
	title string
	width float64
	kind  kind
}

// sheet is a table as it is written: its values in the columns' order.
type sheet struct {
	name    string
	columns []head
	offPage int // how many of the last columns are for the screen only
	rows    [][]any
}

func (t table[Row]) sheet() sheet {
	s := sheet{name: t.name, offPage: len(t.onScreen), rows: make([][]any, len(t.rows))}
	for _, c := range slices.Concat(t.columns, t.onScreen) {
		s.columns = append(s.columns, head{c.title, c.width, c.kind})
		for i, row := range t.rows {
			s.rows[i] = append(s.rows[i], c.value(row))
		}
	}
	return s
}

func write[Row any](b *book, t table[Row]) error { return b.write(t.sheet()) }

// book is a workbook being written.
type book struct {
	f      *excelize.File
	zone   *time.Location
	demo   bool
	about  string     // clinic and year, for the printed header
	styles [kinds]int // in tables
	plain  [kinds]int // without the line under a row
}

// The workbook's own look: ink, a quiet slate head and one warm tone.
const (
	ink       = "1F2A33"
	quiet     = "5B6B76"
	headFill  = "DCE6EA"
	rule      = "9FB3BD"
	hairline  = "E1E8EB"
	warmFill  = "FBE9C8"
	fontName  = "Arial"
	isoDate   = "yyyy-mm-dd"
	isoMoment = "yyyy-mm-dd hh:mm"
)

func (b *book) prepare(made training.Instant) error {
	if err := b.f.SetSheetName("Sheet1", readMeName); err != nil {
		return err
	}
	if err := b.f.SetDocProps(&excelize.DocProperties{Creator: "Stillwet", Title: b.about, Created: made.Time().Format(time.RFC3339),
		Modified: made.Time().Format(time.RFC3339), LastModifiedBy: "Stillwet"}); err != nil {
		return err
	}
	if err := b.f.SetDefaultFont(fontName); err != nil {
		return err
	}
	for k := range kinds {
		style := styleOf(k)
		var err error
		if b.styles[k], err = b.f.NewStyle(style); err != nil {
			return err
		}
		style.Border = nil
		if b.plain[k], err = b.f.NewStyle(style); err != nil {
			return err
		}
	}
	return nil
}

// styleOf is the look of a kind. Every font names its family, for some readers
// fall back to a serif without it.
func styleOf(k kind) *excelize.Style {
	font := &excelize.Font{Family: fontName, Size: 10, Color: ink}
	s := &excelize.Style{Font: font, Alignment: &excelize.Alignment{Vertical: "top"}}
	if k <= percent { // a hairline under each row leads the eye along it
		s.Border = []excelize.Border{{Type: "bottom", Style: 1, Color: hairline}}
	}
	format := func(f string) { s.CustomNumFmt = &f }
	switch k {
	case text, prose:
		s.Alignment.WrapText = true
	case strong:
		font.Bold = true
	case id:
		s.NumFmt = 49 // text: a number of digits stays what it is
		s.Alignment.WrapText = true
	case date:
		format(isoDate)
		s.Alignment.Horizontal = "left"
	case moment:
		format(isoMoment)
		s.Alignment.Horizontal = "left"
	case count:
		s.NumFmt = 1
		s.Alignment.Horizontal = "left"
	case percent:
		s.NumFmt = 9
		s.Alignment.Horizontal = "left"
	case label:
		font.Color = quiet
	case heading:
		font.Bold = true
		s.Alignment = &excelize.Alignment{Vertical: "center", WrapText: true}
		s.Fill = excelize.Fill{Type: "pattern", Pattern: 1, Color: []string{headFill}}
		s.Border = []excelize.Border{{Type: "bottom", Style: 2, Color: rule}}
	case title:
		font.Size, font.Bold = 16, true
		s.Alignment.Vertical = "center"
	case banner:
		font.Bold = true
		s.Alignment.Vertical = "center"
		s.Fill = excelize.Fill{Type: "pattern", Pattern: 1, Color: []string{warmFill}}
	}
	return s
}

// layout sets what must be there before a sheet is streamed: the page.
func (b *book) layout(name string, wide bool) error {
	yes, one, all := true, 1, 0
	if err := b.f.SetSheetProps(name, &excelize.SheetPropsOptions{FitToPage: &yes}); err != nil {
		return err
	}
	orientation := "portrait"
	if wide {
		orientation = "landscape"
	}
	if err := b.f.SetPageLayout(name, &excelize.PageLayoutOptions{Orientation: &orientation, FitToWidth: &one, FitToHeight: &all}); err != nil {
		return err
	}
	side, top, edge := 0.4, 0.75, 0.3
	if err := b.f.SetPageMargins(name, &excelize.PageLayoutMarginsOptions{Left: &side, Right: &side, Top: &top, Bottom: &top, Header: &edge, Footer: &edge}); err != nil {
		return err
	}
	head := "&L&9" + escapeHeader(b.about) + "&R&9" + name
	if b.demo {
		head = "&L&9" + escapeHeader(b.about) + "&C&9&B" + DemoNotice + "&B&R&9" + name
	}
	return b.f.SetHeaderFooter(name, &excelize.HeaderFooterOptions{OddHeader: head, OddFooter: "&L&8" + training.Caution + "&R&8Page &P of &N"})
}

// escapeHeader keeps an ampersand in a name from being a code, and the whole
// line within what a header may hold.
func escapeHeader(s string) string {
	var out []rune
	for _, r := range s {
		if r == '&' {
			out = append(out, '&')
		}
		if out = append(out, r); len(out) > 100 {
			break
		}
	}
	return string(out)
}

// write streams a table: notice (demo only), head, rows.
func (b *book) write(s sheet) error {
	if _, err := b.f.NewSheet(s.name); err != nil {
		return err
	}
	if err := b.layout(s.name, true); err != nil {
		return err
	}
	headRow := 1
	if b.demo {
		headRow = 2
	}
	below, err := excelize.CoordinatesToCellName(2, headRow+1)
	if err != nil {
		return err
	}
	panes := &excelize.Panes{Freeze: true, XSplit: 1, YSplit: headRow, TopLeftCell: below, ActivePane: "bottomRight",
		Selection: []excelize.Selection{{SQRef: below, ActiveCell: below, Pane: "bottomRight"}}}
	if err := b.f.SetPanes(s.name, panes); err != nil {
		return err
	}
	sw, err := b.f.NewStreamWriter(s.name)
	if err != nil {
		return err
	}
	if err := b.stream(sw, s, headRow); err != nil {
		return fmt.Errorf("sheet %s: %w", s.name, err)
	}
	last, err := excelize.CoordinatesToCellName(len(s.columns), headRow+len(s.rows))
	if err != nil {
		return err
	}
	if err := b.f.AutoFilter(s.name, fmt.Sprintf("A%d:%s", headRow, last), nil); err != nil {
		return err
	}
	if err := sw.Flush(); err != nil {
		return err
	}
	return b.printed(s, headRow)
}

// printed says what goes on paper: the head on every page, and not the ids.
func (b *book) printed(s sheet, headRow int) error {
	last, err := excelize.ColumnNumberToName(len(s.columns) - s.offPage)
	if err != nil {
		return err
	}
	err = b.f.SetDefinedName(&excelize.DefinedName{Name: "_xlnm.Print_Area", Scope: s.name,
		RefersTo: fmt.Sprintf("'%s'!$A$1:$%s$%d", s.name, last, headRow+len(s.rows))})
	if err != nil {
		return err
	}
	return b.f.SetDefinedName(&excelize.DefinedName{Name: "_xlnm.Print_Titles", Scope: s.name,
		RefersTo: fmt.Sprintf("'%s'!$1:$%d", s.name, headRow)})
}

func (b *book) stream(sw *excelize.StreamWriter, s sheet, headRow int) error {
	head := make([]any, len(s.columns))
	for i, c := range s.columns {
		if err := sw.SetColWidth(i+1, i+1, c.width); err != nil {
			return err
		}
		head[i] = excelize.Cell{StyleID: b.styles[heading], Value: c.title}
	}
	if b.demo {
		notice := make([]any, len(s.columns))
		for i := range notice {
			notice[i] = excelize.Cell{StyleID: b.styles[banner]}
		}
		notice[0] = excelize.Cell{StyleID: b.styles[banner], Value: DemoNotice}
		if err := sw.SetRow("A1", notice, excelize.RowOpts{Height: 21}); err != nil {
			return err
		}
	}
	if err := sw.SetRow(fmt.Sprintf("A%d", headRow), head, excelize.RowOpts{Height: 30}); err != nil {
		return err
	}
	for r, values := range s.rows {
		cells := make([]any, len(values))
		for i, v := range values {
			cells[i] = excelize.Cell{StyleID: b.styles[s.columns[i].kind], Value: v}
		}
		if err := sw.SetRow(fmt.Sprintf("A%d", headRow+1+r), cells, excelize.RowOpts{Height: s.height(values)}); err != nil {
			return err
		}
	}
	return nil
}

// height of a row is that of its longest wrapped cell.
func (s sheet) height(values []any) float64 {
	most := 16.5
	for i, v := range values {
		if k := s.columns[i].kind; k != text && k != prose && k != id {
			continue
		}
		if t, ok := v.(string); ok {
			most = max(most, textHeight(t, s.columns[i].width))
		}
	}
	return min(most, 300)
}
