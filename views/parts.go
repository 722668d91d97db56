package views

// Title is the first row of a page: where one is, and in a sentence what for.
type Title struct {
	Up                    *Link // to what the page is a part of
	Kicker, Heading, Lead string
}

// Link is where to go, with its words.
type Link struct{ Href, Text string }

// Split is how many of the twelve columns the first of two takes on a wide screen.
type Split string

// The splits.
const (
	Halves    Split = "6"
	WideFirst Split = "7"
	Main      Split = "8" // and a margin of four
)

// Field is one line of a form to type in.
type Field struct {
	ID, Label string
	Name      string // ID when it is ""
	Hint      string
	Type      string // "text" when it is ""
	Value     string
	Most      int    // letters, 0 for no limit
	Fill      string // what a browser may fill in, as in autocomplete
	Code      bool   // no word of a language: not to be corrected nor begun with a capital
	Optional  bool
	Least     int
	Words     []string // that are offered, others may be typed
}

// Menu is a field whose value is one of some.
type Menu struct {
	ID, Label, Value string
	Options          []Option
}

func (f Field) name() string {
	if f.Name == "" {
		return f.ID
	}
	return f.Name
}

func (f Field) kind() string {
	if f.Type == "" {
		return "text"
	}
	return f.Type
}

func (f Field) hintID() string { return f.ID + "-hint" }

// Choice is one of a set to choose from.
type Choice struct {
	Name, Value string
	Many        bool // several can be chosen
	Chosen      bool
	Required    bool
}

func (c Choice) kind() string {
	if c.Many {
		return "checkbox"
	}
	return "radio"
}

// Fact is a term with what is so.
type Fact struct {
	Term, Text string
	Code       bool // to be copied sign by sign
	Wide       bool // of a finding: over the whole width
}

// Column is the head of a table's column.
type Column struct {
	Text   string
	Number bool
	Tick   bool // its cells are ticks; the text is for who hears the page
}

// heads are those of a table of words.
func heads(texts ...string) []Column {
	columns := make([]Column, 0, len(texts))
	for _, t := range texts {
		columns = append(columns, Column{Text: t})
	}
	return columns
}
