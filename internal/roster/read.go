package roster

import (
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"
)

// Options are what somebody says of a file.
type Options struct {
	Today   time.Time        // the clinic's day; a hire date is judged by it
	Dates   Order            // "" when nobody said
	Columns map[int]Field    // what columns say, from 0; nil is by their headers
	Meant   map[string]Field // what headers meant in an earlier file, as File.Meant has it
}

// Row is a person as a file has them. What it does not say is "".
type Row struct {
	Row           int
	StaffNo, Name string
	Roles         []string // as the program calls them
	Hired         string   // 2006-01-02
	RoleText      string   // as it stands in the file
	HiredText     string
	Left          string // the last day, 2006-01-02
	LeftText      string
	Job, Team     string
	Email         string
	Bad           bool // there is a fault in it
}

// File is what a roster says.
type File struct {
	Header  []string
	Columns map[int]Field // what each column says; others are not read
	Rows    []Row
	Faults  []Fault  // by row
	Example *Example // the first date that could be either of two days
	columns *columns
}

// Example is a date of a file that could be either of two days.
type Example struct {
	Text                 string
	DayFirst, MonthFirst time.Time
}

// Title is how the file calls a column.
func (f *File) Title(of Field) string { return f.columns.title(of) }

// Meant is what each header means here, so that the next file with the same headers can be
// read likewise; "" is not read.
func (f *File) Meant() map[string]Field {
	meant := map[string]Field{}
	for i, h := range f.Header {
		if h != "" {
			meant[plain(h)] = f.Columns[i]
		}
	}
	return meant
}

// Asks reports whether a date could be either of two days, so that whoever knows the
// file has to say which comes first.
func (f *File) Asks() bool {
	return slices.ContainsFunc(f.Faults, Fault.Undecided)
}

// Undecided reports whether a fault is only that nobody said which comes first, the day or
// the month.
func (x Fault) Undecided() bool { return strings.HasPrefix(x.Do, "This could be ") }

// Read reads a roster of either kind. What is wrong with it is in its faults; an error is
// only that it cannot be read at all.
func Read(r io.ReaderAt, size int64, o Options) (*File, error) {
	f := &File{columns: &columns{}}
	t, err := open(r, size)
	if err == nil {
		in := reader{File: f, o: o, table: t, dates: dates{day(o.Today), o.Dates, t.date1904, &f.Example}, numbers: map[string]int{}, names: map[string]int{}}
		err = t.Each(in.take)
		if err == nil && f.Header == nil && len(f.Faults) == 0 {
			err = wholeFile("The file is empty. Save the list again and choose that file.")
		}
	}
	var at *cellError
	if errors.As(err, &at) {
		f.Faults, err = append(f.Faults, f.faultAt(at)), nil
	}
	return f, ended(err)
}

// errStop ends the reading of a file that is no roster.
var errStop = errors.New("stop")

func ended(err error) error {
	if errors.Is(err, errStop) {
		return nil
	}
	return err
}

func day(t time.Time) time.Time {
	return time.Date(t.Year(), t.Month(), t.Day(), 0, 0, 0, 0, time.UTC)
}

// faultAt names the column of a fault by its header, where there is one.
func (f *File) faultAt(e *cellError) Fault {
	column := ""
	switch {
	case e.col >= 0 && e.col < len(f.Header):
		column = f.Header[e.col]
	case e.col >= 0:
		column = fmt.Sprintf("column %d", e.col+1)
	}
	return Fault{e.row, column, clip(e.value), e.do}
}

// reader reads the rows of one file.
type reader struct {
	*File
	o       Options
	table   *Table
	dates   dates
	numbers map[string]int // the row in which each stood first
	names   map[string]int // likewise, of rows without a number
}

func (r *reader) take(row int, cells []string) error {
	if r.Header == nil {
		return r.takeHeader(row, cells)
	}
	p := Row{Row: row}
	wrong := func(f Field, value, do string) {
		if do != "" {
			p.Bad = true
			r.Faults = append(r.Faults, Fault{row, r.columns.title(f), clip(value), do})
		}
	}
	if r.misshaped(row, cells) {
		p.Bad = true
		r.Rows = append(r.Rows, p)
		return nil
	}
	cell := func(f Field) string {
		text := asWritten(trim(r.columns.cell(cells, f)))
		if formulaError.MatchString(text) {
			wrong(f, text, "The spreadsheet could not work out this cell. Write the value itself.")
			return ""
		}
		return text
	}
	p.StaffNo = cell(StaffNo)
	before := p.Bad
	if p.Name = r.name(cell); p.Bad == before {
		wrong(Name, p.Name, wrongName(p.Name))
	}
	text := cell(Role)
	words, do := rolesIn(text)
	p.Roles, p.RoleText = words, text
	wrong(Role, text, do)
	text = cell(Hired)
	when, do := r.dates.read(text, yearsToBegin)
	p.Hired, p.HiredText = when, text
	wrong(Hired, text, do)
	text = cell(Left)
	when, do = r.dates.read(text, yearsToEnd)
	p.Left, p.LeftText = when, text
	wrong(Left, text, do)
	p.Job, p.Team, p.Email = cell(Job), cell(Team), cell(Email)
	r.twice(&p, wrong)
	r.Rows = append(r.Rows, p)
	return nil
}

// name is the name, or first and last put together.
func (r *reader) name(cell func(Field) string) string {
	if _, whole := r.columns.at[Name]; whole {
		return cell(Name)
	}
	return trim(cell(First) + " " + cell(Last))
}

// takeHeader finds the columns. Nothing can be said of rows without them.
func (r *reader) takeHeader(row int, cells []string) error {
	if row != 1 {
		cells = nil // it stands further down
	}
	c, faults := match(cells, r.o)
	r.columns, r.Header, r.Columns = c, c.header, map[int]Field{}
	for f, i := range c.at {
		r.Columns[i] = f
	}
	if r.Faults = faults; len(faults) > 0 {
		return errStop
	}
	return nil
}

// misshaped tells a row that has other cells than the header.
func (r *reader) misshaped(row int, cells []string) bool {
	n, want := len(cells), len(r.Header)
	if n < want && !r.table.noShort {
		r.Faults = append(r.Faults, Fault{row, r.Header[n], "", fmt.Sprintf("The row has %d cells and the header %d. Add what is missing; an empty cell needs its comma as well.", n, want)})
		return true
	}
	for i := want; i < n; i++ {
		if extra := trim(cells[i]); extra != "" {
			r.Faults = append(r.Faults, Fault{row, fmt.Sprintf("column %d", i+1), clip(extra), fmt.Sprintf("The row has more cells than the header (%d). Put a cell that has a comma in quotes, or name the column.", want)})
			return true
		}
	}
	return false
}

// twice tells a person who stands in an earlier row already.
func (r *reader) twice(p *Row, wrong func(Field, string, string)) {
	if p.StaffNo != "" {
		if first, again := r.numbers[p.StaffNo]; again {
			wrong(StaffNo, p.StaffNo, fmt.Sprintf("Row %d has this staff number already. Correct one of them, or delete this row.", first))
			return
		}
		r.numbers[p.StaffNo] = p.Row
		return
	}
	if p.Name == "" {
		return
	}
	if first, again := r.names[p.Name]; again {
		wrong(Name, p.Name, fmt.Sprintf("Row %d has this name already, and neither has a staff number. Give each a staff number, or delete this row.", first))
		return
	}
	r.names[p.Name] = p.Row
}
