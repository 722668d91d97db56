package views

import (
	"cmp"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"stillwet/internal/procedure"
	"stillwet/internal/training"
)

// People is the educator's first page.
type People struct {
	training.Roll
	Filter   Filter
	Years    []string
	Now      training.Instant
	Behind   training.Instant // what was ledgered last, when the server's clock stands before it
	Copies   []Copy
	Desk     []DeskLine // what waits for an educator
	Duties   DutyList   // one's own, because the procedure changed
	Today    training.Day
	Waits    *training.DeskCounts   // in the whole clinic; for educators
	Observed training.ObservedCount // this month; no month for preceptors
	LowSpace string                 // how little is left on the disk, "" while it is enough
}

// begins reports whether the reader is an educator whose clinic has nobody to be trained yet.
func (p People) begins(f Frame) bool {
	return len(p.Standings) == 0 && !p.Filter.Narrow() && f.is(training.Educator)
}

// Copy is how a copy of the records stands that is kept outside the data file.
type Copy struct {
	What string           // as a sentence begins
	Last training.Instant // when the last good one was made, "" for none
	Err  string           // why the last try failed
	Old  bool             // too long ago
}

func (c Copy) bad() bool { return c.Old || c.Err != "" }

// Filter is what the page is narrowed to, and how it is sorted; it lives in the address.
type Filter struct {
	Standing   training.StandingWord
	Search     string
	Team       string
	Role       training.Role
	Competency string // id
	DueIn      int    // so many days from today on, 0 for any
	NotAlone   bool   // only who may not work alone
	Left       bool   // who left, and whose account is closed, instead
	Sort       Sorted
	Whole      bool // all rows, however many
}

// Sorted is the order of the rows; "" is those first for whom somebody has to act.
type Sorted string

// The other orders.
const (
	ByName Sorted = "name"
	ByDue  Sorted = "due"
	ByTeam Sorted = "team"
)

// lensWords says what the filter asks of standings, "" when nothing that has no word in the counts.
func (f Filter) lensWords() string {
	switch {
	case f.DueIn > 0:
		return "Due within " + count(f.DueIn, "day", "days")
	case f.NotAlone:
		return "May not work alone"
	}
	return ""
}

// chosenForm is the form of the people whose rows are ticked.
const chosenForm = "chosen"

// mostPeople are on the page unless all are asked for.
const mostPeople = 300

// Added is a person just added, with the password that is told once.
type Added struct {
	Person                  training.Person
	Username, FirstPassword string
	Until                   training.Instant // the end of the password
}

// Narrow reports whether the filter leaves anything out.
func (f Filter) Narrow() bool {
	return f.Standing != "" || f.DueIn != 0 || f.NotAlone || f.Search != "" || f.Team != "" || f.Role != "" || f.Competency != "" || f.Left
}

// has reports whether a person is of those that the filter asks for; search is ready to be
// compared.
func (f Filter) has(p *training.Person, search string) bool {
	return (f.Team == "" || strings.EqualFold(p.Team, f.Team)) && (f.Role == "" || p.Has(f.Role)) &&
		(search == "" || strings.Contains(strings.ToLower(p.Name+" "+p.StaffNo+" "+p.Job), search))
}

func (f Filter) search() string { return strings.ToLower(strings.TrimSpace(f.Search)) }

// Rows are what the filter leaves, in its order, and how many stand under each word when
// what it asks of standings is let go.
func (p People) Rows() (rows []training.Standing, counts map[training.StandingWord]int) {
	counts, search := map[training.StandingWord]int{}, p.Filter.search()
	for _, s := range training.InOrder(p.Standings) {
		if !p.Filter.among(&s, search) {
			continue
		}
		for _, w := range training.StandingWords {
			counts[w] += btoi(s.Under(w))
		}
		if p.Filter.asks(&s, p.Today) {
			rows = append(rows, s)
		}
	}
	order := p.Filter.Sort
	if order == "" && p.Filter.DueIn > 0 {
		order = ByDue
	}
	order.sort(rows)
	return rows, counts
}

// among reports whether a standing is of the people and the competency of a filter.
func (f Filter) among(s *training.Standing, search string) bool {
	return f.has(&s.Person, search) && (f.Competency == "" || s.Competency.ID == f.Competency)
}

func (o Sorted) sort(rows []training.Standing) {
	by := map[Sorted]func(a, b training.Standing) int{
		ByName: func(a, b training.Standing) int { return 0 },
		ByDue:  func(a, b training.Standing) int { return compareEmptyLast(string(a.Due), string(b.Due)) },
		ByTeam: func(a, b training.Standing) int {
			return compareEmptyLast(strings.ToLower(a.Person.Team), strings.ToLower(b.Person.Team))
		},
	}[o]
	if by == nil {
		return // they stand by what is to be done
	}
	slices.SortStableFunc(rows, func(a, b training.Standing) int {
		return cmp.Or(by(a, b), cmp.Compare(strings.ToLower(a.Person.Name), strings.ToLower(b.Person.Name)), cmp.Compare(a.Person.ID, b.Person.ID))
	})
}

// compareEmptyLast orders texts, those that say nothing behind the others.
func compareEmptyLast(a, b string) int {
	return cmp.Or(cmp.Compare(btoi(a == ""), btoi(b == "")), cmp.Compare(a, b))
}

func btoi(b bool) int {
	if b {
		return 1
	}
	return 0
}

// Under are those who work here and whom the filter leaves, by id.
func (p People) Under() map[string]bool {
	all := map[string]bool{}
	rows, _ := p.Rows()
	for i := range rows {
		all[rows[i].Person.ID] = true
	}
	for _, x := range p.others() {
		all[x.ID] = true
	}
	return all
}

// others are who is in no training here, of those that the filter asks for.
func (p People) others() (all []training.Person) {
	if p.Filter.Standing != "" || p.Filter.Competency != "" || p.Filter.DueIn > 0 || p.Filter.NotAlone {
		return nil
	}
	search := p.Filter.search()
	for _, x := range p.Others {
		if p.Filter.has(&x, search) {
			all = append(all, x)
		}
	}
	return all
}

// away are who left and whose account is closed, of those that the filter asks for.
func (p People) away() (all []training.Away) {
	search := p.Filter.search()
	for _, x := range p.Away {
		if p.Filter.has(&x.Person, search) {
			all = append(all, x)
		}
	}
	return all
}

// fields are what the filter puts into an address, by name.
func (f Filter) fields() (all []Option) {
	add := func(name, value string) {
		if value != "" {
			all = append(all, Option{name, value})
		}
	}
	add("alone", either(f.NotAlone, "no", ""))
	add("competency", f.Competency)
	if f.DueIn > 0 {
		add("due", strconv.Itoa(f.DueIn))
	}
	add("left", either(f.Left, "yes", ""))
	add("role", string(f.Role))
	add("rows", either(f.Whole, "all", ""))
	add("search", f.Search)
	add("sort", string(f.Sort))
	add("standing", string(f.Standing))
	add("team", f.Team)
	return all
}

// address is the page with a filter, for links that can be kept and sent.
func (f Filter) address() string { return f.addressOf("/people") }

// addressOf is another page that takes the filter.
func (f Filter) addressOf(page string) string {
	q := url.Values{}
	for _, x := range f.fields() {
		q.Set(x.Value, x.Text)
	}
	if len(q) == 0 {
		return page
	}
	return page + "?" + q.Encode()
}

// toggled is the filter with a standing chosen, or let go when it was chosen.
func toggled(f Filter, w training.StandingWord) Filter {
	if f.Standing == w {
		w = ""
	}
	f = f.lens()
	f.Standing = w
	return f
}

// shown are the rows of a page.
func (p People) shown(rows []training.Standing) []training.Standing {
	if p.cut(rows) {
		return rows[:mostPeople]
	}
	return rows
}

func (p People) cut(rows []training.Standing) bool { return !p.Filter.Whole && len(rows) > mostPeople }

func (f Filter) whole() Filter { f.Whole = true; return f }

func (f Filter) left(yes bool) Filter {
	return Filter{Search: f.Search, Team: f.Team, Role: f.Role, Left: yes}
}

func (p People) rowsTitle(n int) string {
	one, many := "person", "people"
	if p.several() {
		one, many = "row", "rows"
	}
	if !p.Filter.Narrow() {
		return count(n, one, many)
	}
	text := strconv.Itoa(n) + " of " + count(len(p.Standings), one, many)
	for _, asked := range []string{p.Filter.lensWords(), procedure.Capital(string(p.Filter.Standing)), p.Filter.Team} {
		if asked != "" {
			text += " · " + asked
		}
	}
	return text
}

// several reports whether people are in more than one competency.
func (p People) several() bool {
	for i := range p.Standings {
		if p.Standings[i].Competency.ID != p.Standings[0].Competency.ID {
			return true
		}
	}
	return false
}

// caption names the one competency where there is no column for it.
func (p People) caption() string {
	if len(p.Standings) == 0 || p.several() {
		return ""
	}
	return p.Standings[0].Competency.Title
}

func (p People) columns(ticks bool) []Column {
	titles := []string{"Name", "Role"}
	if p.teams() != nil {
		titles = append(titles, "Team")
	}
	if p.several() {
		titles = append(titles, "Competency")
	}
	all := heads(append(titles, "Standing", "Due", "Clean demonstrations", "Last sign-off")...)
	if ticks {
		all = slices.Insert(all, 0, Column{Text: "Chosen", Tick: true})
	}
	return all
}

// teams are the words for teams that there are, in order.
func (p People) teams() (all []string) {
	for i := range p.Standings {
		all = append(all, p.Standings[i].Person.Team)
	}
	for _, x := range p.Others {
		all = append(all, x.Team)
	}
	for _, x := range p.Away {
		all = append(all, x.Team)
	}
	return training.EachWord(all)
}

// menus are the filter's questions that have more than one answer.
func (p People) menus() (all []Menu) {
	if teams := p.teams(); len(teams) > 0 {
		all = append(all, teamMenu(p.Filter.Team, teams))
	}
	roles := Menu{ID: "role", Label: "Role", Value: string(p.Filter.Role), Options: []Option{{"", "Every role"}}}
	for _, r := range Roles {
		roles.Options = append(roles.Options, Option{string(r), roleWord(r)})
	}
	all = append(all, roles)
	if p.Filter.Left {
		return all
	}
	if p.several() {
		m := Menu{ID: "competency", Label: "Competency", Value: p.Filter.Competency, Options: []Option{{"", "Every competency"}}}
		for i := range p.Standings {
			c := p.Standings[i].Competency
			if o := (Option{c.ID, c.Title}); !slices.Contains(m.Options, o) {
				m.Options = append(m.Options, o)
			}
		}
		all = append(all, m)
	}
	sorts := []Option{{"", "what is to be done"}, {string(ByName), "name"}, {string(ByDue), "due day"}}
	if p.teams() != nil {
		sorts = append(sorts, Option{string(ByTeam), "team"})
	}
	return append(all, Menu{ID: "sort", Label: "Sorted by", Value: string(p.Filter.Sort), Options: sorts})
}

// awayText says why somebody is in no count.
func awayText(x training.Away) string {
	if x.Closed {
		return "account closed"
	}
	return "left " + day(x.Left)
}

// Roles are all roles in the order of forms.
var Roles = []training.Role{training.Trainee, training.Preceptor, training.Educator, training.Manager}

// roleWord names a role on a form.
func roleWord(r training.Role) string {
	if r == training.Trainee {
		return "New hire or staff"
	}
	return procedure.Capital(r.Title(false))
}
