package exports

import (
	"fmt"
	"strings"

	"github.com/xuri/excelize/v2"

	"stillwet/internal/training"
)

// Margins in inches, and the room between them on the narrower of A4 and Letter.
const (
	sideMargin    = 0.35
	topMargin     = 0.75
	edgeMargin    = 0.3
	landscapeRoom = 11 - 2*sideMargin
)

// inches is the width of a column on paper at its full size, in digits of the default font.
// Some programs make a digit a little narrower, for they round it to dots of the screen.
func inches(width float64) float64 { return width * 0.556 * fontSize / 72 }

// paper is how a sheet is printed.
type paper struct {
	wide  bool // landscape
	scale uint // in percent; 0: fitted to one page's width
}

// layout sets what must be there before a sheet is streamed: the page.
func (b *book) layout(name string, p paper) error {
	fit := p.scale == 0
	if err := b.f.SetSheetProps(name, &excelize.SheetPropsOptions{FitToPage: &fit}); err != nil {
		return err
	}
	if err := b.f.SetPageLayout(name, p.options()); err != nil {
		return err
	}
	if err := b.f.SetPageMargins(name, &excelize.PageLayoutMarginsOptions{Left: new(sideMargin), Right: new(sideMargin),
		Top: new(topMargin), Bottom: new(topMargin), Header: new(edgeMargin), Footer: new(edgeMargin)}); err != nil {
		return err
	}
	return b.f.SetHeaderFooter(name, b.headAndFoot(name, p.wide))
}

func (p paper) options() *excelize.PageLayoutOptions {
	o := &excelize.PageLayoutOptions{Orientation: new("portrait")}
	if p.wide {
		*o.Orientation = "landscape"
	}
	if p.scale == 0 {
		o.FitToWidth, o.FitToHeight = new(1), new(0)
		return o
	}
	o.AdjustTo, o.PageOrder = &p.scale, new("overThenDown") // the pages of a row follow each other
	return o
}

// headAndFoot is printed on every page. It is scaled as the sheet is, and a wide sheet is
// scaled most; on an upright one larger letters would run into each other.
func (b *book) headAndFoot(name string, wide bool) *excelize.HeaderFooterOptions {
	plain, strong := `&8&"Arial,Regular"`, `&8&"Arial,Bold"`
	if wide {
		plain, strong = `&10&"Arial,Regular"`, `&10&"Arial,Bold"`
	}
	head := "&L" + plain + escapeHeader(b.about)
	if b.demo {
		head += "&C" + strong + DemoNotice
	}
	head += "&R" + plain + name + " · " + b.made
	return &excelize.HeaderFooterOptions{OddHeader: head, OddFooter: "&L" + plain + training.Caution + "&R" + plain + "Page &P of &N"}
}

// escapeHeader keeps an ampersand in a name from being a code, and the whole
// line within what a header may hold.
func escapeHeader(s string) string {
	var out strings.Builder
	for n, r := range []rune(s) {
		if n == 60 || out.Len() > 120 {
			return out.String() + "…"
		}
		if r == '&' {
			out.WriteRune('&')
		}
		out.WriteRune(r)
	}
	return out.String()
}

// scale is that of a sheet with pages beside each other, in percent. It leaves some room, for
// a printer that measures columns otherwise would put the last one on a page of its own.
func (s sheet) scale() uint {
	if len(s.pages) == 1 {
		return 0
	}
	widest := 0.0
	for _, columns := range s.pages {
		width := 0.0
		for _, c := range append(s.columns[:s.whose:s.whose], columns...) {
			width += inches(c.width)
		}
		widest = max(widest, width)
	}
	return uint(min(100, 97*landscapeRoom/widest))
}

// printed says what goes on paper: the head, and whose row it is, on every page, and not
// the keys.
func (b *book) printed(s sheet, headRow int) error {
	last, err := excelize.ColumnNumberToName(len(s.columns) - s.keys)
	if err != nil {
		return err
	}
	whose, err := excelize.ColumnNumberToName(s.whose)
	if err != nil {
		return err
	}
	again := fmt.Sprintf("'%s'!$1:$%d", s.name, headRow)
	if len(s.pages) > 1 {
		again = fmt.Sprintf("'%s'!$A:$%s,%s", s.name, whose, again)
	}
	err = b.f.SetDefinedName(&excelize.DefinedName{Name: "_xlnm.Print_Area", Scope: s.name,
		RefersTo: fmt.Sprintf("'%s'!$A$1:$%s$%d", s.name, last, headRow+len(s.rows))})
	if err != nil {
		return err
	}
	return b.f.SetDefinedName(&excelize.DefinedName{Name: "_xlnm.Print_Titles", Scope: s.name, RefersTo: again})
}

// breaks begins the pages beside the first.
func (s sheet) breaks(sw *excelize.StreamWriter) error {
	at := s.whose
	for _, columns := range s.pages[:len(s.pages)-1] {
		at += len(columns)
		cell, err := excelize.CoordinatesToCellName(at+1, 1)
		if err != nil {
			return err
		}
		if err := sw.InsertPageBreak(cell); err != nil {
			return err
		}
	}
	return nil
}
