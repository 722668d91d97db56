package roster

import (
	"errors"
	"io"
	"strings"
	"time"
)

// More fields, of lists of what people have done.
const (
	Item          Field = "item"
	Competency    Field = "competency"
	On            Field = "date"
	Trainer       Field = "trainer"
	Qualification Field = "qualification"
	Content       Field = "content"
	Evidence      Field = "evidence"
	Expires       Field = "expires"
	SignedBy      Field = "signed by"
	Due           Field = "due"
	Site          Field = "other site"
	ShownHere     Field = "shown here"
)

// listWords are the headers of lists besides those of people. The guide has the same table.
var listWords = map[Field][]string{
	Item:          {"item", "annual item", "training", "course", "topic", "subject"},
	Competency:    {"competency", "skill", "procedure", "checklist"},
	On:            {"date", "day", "on", "done on", "completed", "completed on", "completion date", "date completed", "signed on", "date signed"},
	Trainer:       {"trainer", "trainer name", "instructor", "teacher", "given by", "presenter"},
	Qualification: {"qualification", "trainer qualification", "trainer's qualification", "credential", "trainer credential"},
	Content:       {"content", "content summary", "contents", "summary"},
	Evidence:      {"evidence", "where the paper lies", "paper", "where", "filed", "filed at", "location of paper", "source", "note"},
	Expires:       {"expires", "expiry", "expiry date", "expires on", "expiration", "expiration date", "valid until"},
	SignedBy:      {"signed by", "signed off by", "signer", "assessor", "evaluator", "by", "by whom"},
	Due:           {"due", "due date", "due on", "next due", "due again"},
	Site:          {"other site", "from the other site", "evidence from the other site", "site", "sister clinic", "agency"},
	ShownHere:     {"shown here", "seen here", "here"},
}

// ListKind says what a list has: its fields in the order in which people are told of them,
// and those that it cannot be without, besides who it is of.
type ListKind struct {
	Fields []Field
	Needed []Field
}

// The kinds of lists.
var (
	ItemList    = ListKind{[]Field{StaffNo, Name, First, Last, Item, On, Trainer, Qualification, Content, Evidence, Expires, Job}, []Field{Item, On, Evidence}}
	EarlierList = ListKind{[]Field{StaffNo, Name, First, Last, Competency, On, SignedBy, Evidence, Due, Site, ShownHere}, []Field{Competency, On, SignedBy, Evidence}}
)

// ListWords are the headers that stand for a field in lists of a kind, in small letters.
func (k ListKind) Words(f Field) []string {
	if list, ok := listWords[f]; ok {
		return list
	}
	return words[f]
}

// days are the fields that hold one.
var days = map[Field]bool{On: true, Expires: true, Due: true}

// Line is a row of a list. What it does not say is "".
type Line struct {
	Row  int
	Says map[Field]string // days as 2006-01-02
	Text map[Field]string // days as they stand in the file
	Bad  bool             // there is a fault in it
}

// List is what a file of a kind says.
type List struct {
	File
	Kind  ListKind
	Lines []Line
}

// ReadList reads a list of a kind. What is wrong with it is in its faults; an error is only
// that it cannot be read at all. Dates are of people who may have begun long ago, and of days
// up to ten years ahead: what is right for a field its reader knows.
func ReadList(r io.ReaderAt, size int64, kind ListKind, today time.Time, order Order) (*List, error) {
	l := &List{File: File{columns: &columns{}}, Kind: kind}
	t, err := open(r, size)
	if err == nil {
		in := reader{File: &l.File, table: t, dates: dates{day(today), order, t.date1904, &l.Example}}
		err = t.Each(func(row int, cells []string) error { return l.take(&in, row, cells) })
		if err == nil && l.Header == nil && len(l.Faults) == 0 {
			err = wholeFile("The file is empty. Save the list again and choose that file.")
		}
	}
	var at *cellError
	if errors.As(err, &at) {
		l.Faults, err = append(l.Faults, l.faultAt(at)), nil
	}
	return l, ended(err)
}

func (l *List) take(in *reader, row int, cells []string) error {
	if l.Header == nil {
		return l.takeHeader(row, cells)
	}
	line := Line{Row: row, Says: map[Field]string{}, Text: map[Field]string{}}
	if line.Bad = in.misshaped(row, cells); line.Bad {
		l.Lines = append(l.Lines, line)
		return nil
	}
	for _, f := range l.Kind.Fields {
		text := asWritten(trim(l.columns.cell(cells, f)))
		says, do := text, ""
		switch {
		case formulaError.MatchString(text):
			do = "The spreadsheet could not work out this cell. Write the value itself."
		case days[f]:
			says, do = in.dates.read(text, yearsToEnd)
		}
		if line.Says[f], line.Text[f] = says, text; do != "" {
			line.Bad = true
			l.Faults = append(l.Faults, Fault{row, l.columns.title(f), clip(text), do})
		}
	}
	if _, whole := l.columns.at[Name]; !whole {
		line.Says[Name] = trim(line.Says[First] + " " + line.Says[Last])
	}
	l.Lines = append(l.Lines, line)
	return nil
}

func (l *List) takeHeader(row int, cells []string) error {
	if row != 1 {
		cells = nil // it stands further down
	}
	known := map[string]Field{}
	for _, f := range l.Kind.Fields {
		for _, w := range l.Kind.Words(f) {
			known[plain(w)] = f
		}
	}
	c, faults := matchBy(cells, func(_ int, h string) (Field, bool) { f, ok := known[plain(h)]; return f, ok })
	l.columns, l.Header, l.Columns = c, c.header, map[int]Field{}
	for f, i := range c.at {
		l.Columns[i] = f
	}
	l.Faults = append(faults, l.missing()...)
	if len(l.Faults) > 0 {
		return errStop
	}
	return nil
}

// missing tells the columns that a list cannot be without.
func (l *List) missing() []Fault {
	has := func(f Field) bool { _, ok := l.columns.at[f]; return ok }
	var without []string
	if !has(StaffNo) && !has(Name) && !(has(First) && has(Last)) {
		without = append(without, "Staff number or Name")
	}
	for _, f := range l.Kind.Needed {
		if !has(f) {
			without = append(without, strings.ToUpper(string(f[:1]))+string(f[1:]))
		}
	}
	if len(without) == 0 {
		return nil
	}
	return []Fault{{1, "", clip(strings.Join(l.Header, ", ")), "Row 1 must be the header, which names the columns. Not found: " + strings.Join(without, ", ") + ". Add what is missing, or delete what stands above the header."}}
}
