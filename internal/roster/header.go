package roster

import (
	"strings"
	"unicode"
)

// Field is what a column of a roster says.
type Field string

// The fields.
const (
	StaffNo Field = "staff number"
	Name    Field = "name"
	First   Field = "first name" // with Last in place of Name
	Last    Field = "last name"
	Role    Field = "role"
	Hired   Field = "hired"
	Left    Field = "last day"
	Job     Field = "job title"
	Team    Field = "team"
	Email   Field = "e-mail"
)

// Fields are all, in the order in which people are told of them.
var Fields = []Field{StaffNo, Name, First, Last, Role, Hired, Left, Job, Team, Email}

// words are the headers that stand for a field. The guide has the same table.
var words = map[Field][]string{
	StaffNo: {"staff number", "staff no", "staff #", "staff id", "employee number", "employee no", "employee #", "employee id", "personnel number", "personnel no", "payroll number", "badge number", "number", "id"},
	Name:    {"name", "full name", "staff name", "employee name", "employee", "person"},
	First:   {"first name", "given name", "forename", "first"},
	Last:    {"last name", "family name", "surname", "last"},
	Role:    {"role", "training role"},
	Hired:   {"hired", "hire date", "hired on", "date hired", "date of hire", "start date", "started", "employed since", "works here since"},
	Left:    {"last day", "left", "left on", "end date", "leaves on", "date left", "last day here", "contract end"},
	Job:     {"job title", "job", "position", "title", "discipline"},
	Team:    {"team", "shift", "group", "unit", "crew"},
	Email:   {"e-mail", "email", "mail", "e-mail address", "email address"},
}

// Words are the headers that stand for a field, in small letters.
func Words(f Field) []string { return words[f] }

var fieldOfWord = func() map[string]Field {
	all := map[string]Field{}
	for f, list := range words {
		for _, w := range list {
			all[plain(w)] = f
		}
	}
	return all
}()

// fieldOf finds what a header stands for; case, dots, strokes and blanks do not matter.
func fieldOf(header string) (Field, bool) {
	f, ok := fieldOfWord[plain(header)]
	return f, ok
}

// plain is a word without what people write in different ways.
func plain(text string) string {
	return strings.ToLower(strings.Join(strings.FieldsFunc(text, func(r rune) bool {
		return unicode.IsSpace(r) || r == '.' || r == '_' || r == '-' || r == ':' || r == '\ufeff'
	}), " "))
}

// trim takes blanks from around a text and makes one of several inside it. Line ends and
// tabs inside stay: they are told.
func trim(text string) string {
	text = strings.TrimFunc(text, func(r rune) bool { return unicode.IsSpace(r) || r == '\ufeff' })
	return strings.Join(strings.FieldsFunc(text, func(r rune) bool { return unicode.Is(unicode.Zs, r) }), " ")
}

// columns is where each field stands.
type columns struct {
	header []string
	at     map[Field]int
}

func (c *columns) title(f Field) string {
	if i, ok := c.at[f]; ok {
		return c.header[i]
	}
	if i, ok := c.at[Last]; ok && f == Name {
		return c.header[i]
	}
	return strings.ToUpper(string(f[:1])) + string(f[1:])
}

func (c *columns) cell(cells []string, f Field) string {
	if i, ok := c.at[f]; ok && i < len(cells) {
		return cells[i]
	}
	return ""
}

const noHeader = "Row 1 must be the header, which names the columns. One is called Name (or two First name and Last name); Staff number, Role, Hired and others are read as well. Delete what stands above the header, or add it."

// match finds the columns by their headers, or as somebody said.
func match(header []string, o Options) (*columns, []Fault) {
	c, faults := matchBy(header, func(i int, h string) (Field, bool) {
		f, known := fieldOf(h)
		if was, is := o.Meant[plain(h)]; is {
			f, known = was, was != ""
		}
		if o.Columns != nil {
			f, known = o.Columns[i]
		}
		return f, known
	})
	_, name := c.at[Name]
	_, first := c.at[First]
	_, last := c.at[Last]
	if !name && !(first && last) {
		faults = append(faults, Fault{1, "Name", clip(strings.Join(c.header, ", ")), noHeader})
	}
	return c, faults
}

// matchBy finds the columns by what each header says.
func matchBy(header []string, says func(i int, header string) (Field, bool)) (*columns, []Fault) {
	for len(header) > 0 && trim(header[len(header)-1]) == "" {
		header = header[:len(header)-1]
	}
	c := &columns{at: map[Field]int{}}
	var faults []Fault
	for i, h := range header {
		h = trim(h)
		c.header = append(c.header, h)
		f, known := says(i, h)
		if !known {
			continue
		}
		if _, twice := c.at[f]; twice {
			faults = append(faults, Fault{1, h, clip(h), "Two columns say the " + string(f) + ". Keep one of them."})
			continue
		}
		c.at[f] = i
	}
	return c, faults
}
