package exports

import (
	"fmt"
	"time"

	"github.com/xuri/excelize/v2"

	"stillwet/internal/training"
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
	name  string
	rows  []Row
	whose []column[Row]   // says whose row it is: stays in view, and stands on every page
	pages [][]column[Row] // what is printed beside it, each on its own page
	keys  []column[Row]   // for checking: in a block to the right of the others, not printed
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
	whose   int // how many of the first columns say whose row it is
	pages   [][]head
	keys    int // how many of the last columns are keys
	rows    [][]any
}

func (t table[Row]) sheet() sheet {
	s := sheet{name: t.name, whose: len(t.whose), keys: len(t.keys), rows: make([][]any, len(t.rows))}
	add := func(columns []column[Row]) []head {
		from := len(s.columns)
		for _, c := range columns {
			s.columns = append(s.columns, head{c.title, c.width, c.kind})
			for i, row := range t.rows {
				s.rows[i] = append(s.rows[i], c.value(row))
			}
		}
		return s.columns[from:]
	}
	add(t.whose)
	for _, columns := range t.pages {
		s.pages = append(s.pages, add(columns))
	}
	add(t.keys)
	return s
}

func write[Row any](b *book, t table[Row]) error { return b.write(t.sheet()) }

// book is a workbook being written.
type book struct {
	f        *excelize.File
	zone     *time.Location
	demo     bool
	about    string     // clinic and year, for the printed header
	made     string     // the day, for it too
	styles   [kinds]int // in tables
	plain    [kinds]int // without the line under a row
	standing map[training.StandingWord]int
}

func (b *book) prepare(made training.Instant) error {
	if err := b.f.SetSheetName("Sheet1", readMeName); err != nil {
		return err
	}
	b.made = "made " + made.Day(b.zone).Said()
	if err := b.f.SetDocProps(&excelize.DocProperties{Creator: "Stillwet", Title: b.about, Created: made.Time().Format(time.RFC3339),
		Modified: made.Time().Format(time.RFC3339), LastModifiedBy: "Stillwet"}); err != nil {
		return err
	}
	return b.prepareStyles()
}

// write streams a table: notice (demo only), head, rows.
func (b *book) write(s sheet) error {
	if _, err := b.f.NewSheet(s.name); err != nil {
		return err
	}
	if err := b.layout(s.name, paper{wide: true, scale: s.scale()}); err != nil {
		return err
	}
	headRow := 1
	if b.demo {
		headRow = 2
	}
	if err := b.frozen(s, headRow); err != nil {
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
	if err := s.breaks(sw); err != nil {
		return err
	}
	if err := sw.Flush(); err != nil {
		return err
	}
	return b.printed(s, headRow)
}

// frozen keeps the head and whose row it is in view.
func (b *book) frozen(s sheet, headRow int) error {
	below, err := excelize.CoordinatesToCellName(s.whose+1, headRow+1)
	if err != nil {
		return err
	}
	return b.f.SetPanes(s.name, &excelize.Panes{Freeze: true, XSplit: s.whose, YSplit: headRow, TopLeftCell: below, ActivePane: "bottomRight",
		Selection: []excelize.Selection{{SQRef: below, ActiveCell: below, Pane: "bottomRight"}}})
}

func (b *book) stream(sw *excelize.StreamWriter, s sheet, headRow int) error {
	for i, c := range s.columns {
		if err := sw.SetColWidth(i+1, i+1, c.width); err != nil {
			return err
		}
		if s.isKey(i) { // one press folds the block away
			if err := sw.SetColOutlineLevel(i+1, 1); err != nil {
				return err
			}
		}
	}
	if b.demo {
		if err := b.demoRow(sw, s); err != nil {
			return err
		}
	}
	titles, height := b.heads(s)
	if err := sw.SetRow(fmt.Sprintf("A%d", headRow), titles, excelize.RowOpts{Height: height}); err != nil {
		return err
	}
	for r, values := range s.rows {
		cells := make([]any, len(values))
		for i, v := range values {
			cells[i] = b.cell(s.columns[i].kind, v)
		}
		if err := sw.SetRow(fmt.Sprintf("A%d", headRow+1+r), cells, excelize.RowOpts{Height: s.height(values)}); err != nil {
			return err
		}
	}
	return nil
}

func (s sheet) isKey(column int) bool { return column >= len(s.columns)-s.keys }

// demoRow says above the head that the sheet is a demo's. On a page beside the first there
// is only whose row it is, so the notice has to fit into that.
func (b *book) demoRow(sw *excelize.StreamWriter, s sheet) error {
	over := len(s.columns) - s.keys
	if len(s.pages) > 1 {
		over = s.whose
	}
	widths := make([]float64, len(s.columns))
	for i, c := range s.columns {
		widths[i] = c.width
	}
	return b.notice(sw, 1, over, widths)
}

// notice is written over a row's first columns; its colour is in all of them.
func (b *book) notice(sw *excelize.StreamWriter, row, over int, widths []float64) error {
	cells, width := make([]any, len(widths)), 0.0
	for i := range cells {
		cells[i] = excelize.Cell{StyleID: b.styles[banner]}
		if i < over {
			width += widths[i]
		}
	}
	cells[0] = excelize.Cell{StyleID: b.styles[banner], Value: DemoNotice}
	first := fmt.Sprintf("A%d", row)
	last, err := excelize.CoordinatesToCellName(over, row)
	if err != nil {
		return err
	}
	if err := sw.MergeCell(first, last); err != nil {
		return err
	}
	return sw.SetRow(first, cells, excelize.RowOpts{Height: textHeight(DemoNotice, width, true)})
}

// heads are the columns' titles; a reader's filter button has room below one line.
func (b *book) heads(s sheet) (titles []any, height float64) {
	height = 2 * lineHeight
	for i, c := range s.columns {
		k := heading
		if s.isKey(i) {
			k = keyHeading
		}
		titles = append(titles, b.cell(k, c.title))
		height = max(height, textHeight(c.title, c.width, true))
	}
	return titles, height
}

// cell is a value in a table. A standing has its own look and is written as on the pages.
func (b *book) cell(k kind, v any) excelize.Cell {
	if w, ok := v.(training.StandingWord); ok {
		return excelize.Cell{StyleID: b.standing[w], Value: w.Title()}
	}
	return excelize.Cell{StyleID: b.styles[k], Value: v}
}

// height of a row is that of its longest wrapped cell.
func (s sheet) height(values []any) float64 {
	most := 0.0
	for i, v := range values {
		text, _ := v.(string) // what is no text has one line
		most = max(most, textHeight(text, s.columns[i].width, s.columns[i].kind == strong))
	}
	return min(most, 300)
}
