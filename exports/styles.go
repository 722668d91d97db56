package exports

import (
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
	clock
	count
	percent
	label
	heading
	keyHeading
	title
	banner
	kinds
)

// The workbook's own look: the colours of the pages in daylight.
const (
	ink      = "12262C"
	soft     = "465A61"
	headFill = "E0E8EA"
	rule     = "6C8187"
	hairline = "CBD7DA"
	lookWash = "FDF0CD"
	actWash  = "DCF0F1"
	fontName = "Arial"
	fontSize = 10.0
)

// Days and moments as the pages write them, in English whatever the reader's computer speaks.
const (
	dayFormat    = "[$-409]d mmm yyyy"
	momentFormat = "[$-409]d mmm yyyy, hh:mm"
	clockFormat  = "hh:mm"
)

// standingMark is the shape before the word of a standing, from the characters that every
// version of the typeface has, and the wash behind both. The drop is empty, begun, ready to
// act on, full, wants a look, is struck: in grey the shape and the word still tell.
var standingMark = map[training.StandingWord]struct{ shape, wash string }{
	training.NotStarted:  {"○", ""},
	training.InTraining:  {"•", ""},
	training.ReadyToSign: {"►", actWash},
	training.Current:     {"●", ""},
	training.DueSoon:     {"!", lookWash},
	training.OnPlan:      {"≡", lookWash},
	training.OnLeave:     {"=", ""},
	training.Lapsed:      {"×", lookWash},
}

// styleOf is the look of a kind. Every font names its family, for some readers
// fall back to a serif without it.
func styleOf(k kind) *excelize.Style {
	font := &excelize.Font{Family: fontName, Size: fontSize, Color: ink}
	s := &excelize.Style{Font: font, Alignment: &excelize.Alignment{Vertical: "top", Horizontal: "left"}}
	if k <= percent { // a hairline leads the eye along a row, and one parts columns that are full
		s.Border = []excelize.Border{{Type: "bottom", Style: 1, Color: hairline}, {Type: "right", Style: 1, Color: hairline}}
	}
	switch k {
	case text, prose:
		s.Alignment.WrapText = true
	case strong:
		font.Bold, s.Alignment.WrapText = true, true
	case id:
		s.NumFmt = 49 // text: a number of digits stays what it is
		s.Alignment.WrapText = true
	case date:
		s.CustomNumFmt = new(dayFormat)
	case moment:
		s.CustomNumFmt = new(momentFormat)
	case clock:
		s.CustomNumFmt = new(clockFormat)
	case count:
		s.NumFmt = 1
	case percent:
		s.NumFmt = 9
	default:
		furniture(k, s)
	}
	return s
}

// furniture is the look of what is not a value.
func furniture(k kind, s *excelize.Style) {
	switch k {
	case label:
		s.Font.Color = soft
	case heading, keyHeading:
		s.Font.Bold, s.Alignment.WrapText = true, true
		s.Border = []excelize.Border{{Type: "bottom", Style: 2, Color: rule}, {Type: "right", Style: 1, Color: rule}}
		if k == heading {
			s.Fill = filled(headFill)
		} else {
			s.Font.Color = soft
		}
	case title:
		s.Font.Size, s.Font.Bold = 16, true
		s.Alignment.Vertical = "center"
	case banner:
		s.Font.Bold, s.Alignment.WrapText = true, true
		s.Alignment.Vertical = "center"
		s.Fill = filled(lookWash)
	}
}

func filled(color string) excelize.Fill {
	return excelize.Fill{Type: "pattern", Pattern: 1, Color: []string{color}}
}

// standingStyle shows the shape before the word; the cell holds the word alone.
func standingStyle(w training.StandingWord) *excelize.Style {
	s := styleOf(strong)
	mark := standingMark[w]
	s.CustomNumFmt = new(`"` + mark.shape + ` "@`)
	if mark.wash != "" {
		s.Fill = filled(mark.wash)
	}
	return s
}

// prepareStyles registers every look of the workbook.
func (b *book) prepareStyles() (err error) {
	if err := b.f.SetDefaultFont(fontName); err != nil {
		return err
	}
	// Columns are measured in digits of this font: at its usual 11 points each would be wider.
	*b.f.Styles.Fonts.Font[0].Sz.Val = fontSize
	for k := range kinds {
		style := styleOf(k)
		if b.styles[k], err = b.f.NewStyle(style); err != nil {
			return err
		}
		if k <= percent {
			style.Border = nil
		}
		if b.plain[k], err = b.f.NewStyle(style); err != nil {
			return err
		}
	}
	b.standing = map[training.StandingWord]int{}
	for w := range standingMark {
		if b.standing[w], err = b.f.NewStyle(standingStyle(w)); err != nil {
			return err
		}
	}
	return nil
}
