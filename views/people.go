package views

import (
	"net/url"
	"strconv"
	"strings"

	"stillwet/internal/training"
)

// People is the educator's first page.
type People struct {
	All      []training.Standing // everyone, in every competency
	Filter   Filter
	Years    []string
	Added    *Added
	Problem  string
	Draft    NewPerson
	Now      training.Instant
	Behind   training.Instant // what was ledgered last, when the server's clock stands before it
	Copies   []Copy
	Desk     []DeskLine // what waits for an educator
	Duties   DutyList   // one's own, because the procedure changed
	LowSpace string     // how little is left on the disk, "" while it is enough
}

// Copy is how a copy of the records stands that is kept outside the data file.
type Copy struct {
	What string           // as a sentence begins
	Last training.Instant // when the last good one was made, "" for none
	Err  string           // why the last try failed
	Old  bool             // too long ago
}

func (c Copy) bad() bool { return c.Old || c.Err != "" }

// Filter is what the page is narrowed to; it lives in the address.
type Filter struct {
	Standing training.StandingWord
	Search   string
}

// Added is a person just added, with the password that is told once.
type Added struct {
	Person                  training.Person
	Username, FirstPassword string
}

// NewPerson is the form to add somebody.
type NewPerson struct {
	Name, StaffNo, Username, Hired string
	Role                           training.Role
}

// Shown are the rows the filter leaves, those first for whom somebody has to act.
func (p People) Shown() (rows []training.Standing) {
	search := strings.ToLower(strings.TrimSpace(p.Filter.Search))
	rows = make([]training.Standing, 0, len(p.All))
	for _, s := range training.InOrder(p.All) {
		if p.Filter.Standing != "" && !s.Under(p.Filter.Standing) {
			continue
		}
		if search != "" && !strings.Contains(strings.ToLower(s.Person.Name+" "+s.Person.StaffNo), search) {
			continue
		}
		rows = append(rows, s)
	}
	return rows
}

func (p People) count(w training.StandingWord) (n int) {
	for i := range p.All {
		if p.All[i].Under(w) {
			n++
		}
	}
	return n
}

// address is the page with a filter, for links that can be kept and sent.
func (f Filter) address() string {
	q := url.Values{}
	if f.Standing != "" {
		q.Set("standing", string(f.Standing))
	}
	if f.Search != "" {
		q.Set("search", f.Search)
	}
	if len(q) == 0 {
		return "/people"
	}
	return "/people?" + q.Encode()
}

// toggled is the filter with a standing chosen, or let go when it was chosen.
func toggled(f Filter, w training.StandingWord) Filter {
	if f.Standing == w {
		w = ""
	}
	return Filter{Standing: w, Search: f.Search}
}

func rowsTitle(p People) string {
	n, one, many := len(p.Shown()), "person", "people"
	if p.several() {
		one, many = "row", "rows"
	}
	if p.Filter == (Filter{}) {
		return count(n, one, many)
	}
	return strconv.Itoa(n) + " of " + count(len(p.All), one, many)
}

// several reports whether people are in more than one competency.
func (p People) several() bool {
	for i := range p.All {
		if p.All[i].Competency.ID != p.All[0].Competency.ID {
			return true
		}
	}
	return false
}

// caption names the one competency where there is no column for it.
func (p People) caption() string {
	if len(p.All) == 0 || p.several() {
		return ""
	}
	return p.All[0].Competency.Title
}

func (p People) columns() []Column {
	if p.several() {
		return heads("Name", "Role", "Competency", "Standing", "Due", "Clean demonstrations", "Last sign-off")
	}
	return heads("Name", "Role", "Standing", "Due", "Clean demonstrations", "Last sign-off")
}
