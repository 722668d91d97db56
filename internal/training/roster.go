package training

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"
	"unicode"

	"stillwet/internal/procedure"
	"stillwet/internal/roster"
)

// RosterRow is a person of a roster: as they were here, nobody when they are new, and as
// they will be.
type RosterRow struct {
	Row     int
	Was, Is Person
}

// Changes is what a row changes of somebody, in words.
func (x RosterRow) Changes() string {
	var said []string
	say := func(what, was, is string) {
		if was == is {
			return
		}
		if was == "" {
			was = "none"
		}
		said = append(said, what+" "+was+" → "+is)
	}
	say("name", x.Was.Name, x.Is.Name)
	say("staff number", x.Was.StaffNo, x.Is.StaffNo)
	say("role", x.Was.RoleTitle(false), x.Is.RoleTitle(false))
	say("job title", x.Was.Job, x.Is.Job)
	say("team", x.Was.Team, x.Is.Team)
	say("e-mail", x.Was.Email, x.Is.Email)
	say("last day", x.Was.Left.Said(), x.Is.Left.Said())
	say("here since", x.Was.Hired.Said(), x.Is.Hired.Said())
	return strings.Join(said, "; ")
}

// RosterPlan is what a roster would do. With faults in it nothing is done.
type RosterPlan struct {
	New, Changed []RosterRow
	Same         int
	Faults       []roster.Fault // by row
	Doubts       []roster.Fault // by row: what may be a mistake, and comes in all the same
	Absent       []Person       // who works here and is not in it; nothing becomes of them
	Seen         string         // what a confirmation names, so that it is of this plan

	left []RosterRow // those of Absent who were said to have left
}

// RosterDone counts what a roster did.
type RosterDone struct {
	New     int `json:"new"`
	Changed int `json:"changed"`
	Same    int `json:"same"`
	Left    int `json:"left,omitempty"` // who was said to have left
}

// PreviewRoster compares a roster with who is here. Educators only; nothing is written.
func (s *Service) PreviewRoster(ctx context.Context, actor Actor, f *roster.File) (plan RosterPlan, err error) {
	if err := need(actor, Educator); err != nil {
		return plan, err
	}
	return s.OwnersRoster(ctx, f)
}

// OwnersRoster is the same for whoever owns the data folder.
func (s *Service) OwnersRoster(ctx context.Context, f *roster.File) (plan RosterPlan, err error) {
	err = s.Records.Snapshot(ctx, func(r Reader) error {
		plan, err = s.planRoster(ctx, r, f)
		return err
	})
	return plan, err
}

// ConfirmRoster does all that a roster says, or nothing: ErrInvalid when there is a fault
// in it, ErrConflict when it would do something else than what was seen. New people get no
// account. left are the last days of those of RosterPlan.Absent who have left, by id.
// Educators only, who have just given their password: it may change who is one.
func (s *Service) ConfirmRoster(ctx context.Context, actor Actor, key string, f *roster.File, seen string, left map[string]Day) (done RosterDone, err error) {
	if err := need(actor, Educator); err != nil {
		return done, err
	}
	a, err := ask(actor.Person.ID, key, "import people", f.Rows, len(f.Faults), seen, left)
	if err != nil {
		return done, err
	}
	answer, _, err := s.once(ctx, a, func() error { return s.proved(actor) }, func(u Unit) (string, error) {
		plan, err := s.planRoster(ctx, u, f)
		if err == nil && plan.Seen != seen && len(plan.Faults) == 0 {
			err = refuse(ErrConflict, "Somebody changed people since this was shown. Look through it again; nothing was imported.")
		}
		if err == nil {
			err = s.takeLeft(ctx, u, &plan, left)
		}
		if err != nil {
			return "", err
		}
		done, err := s.keepRoster(ctx, u, plan, actor.Person)
		text, _ := json.Marshal(done) // three numbers
		return string(text), err
	})
	if err == nil {
		err = json.Unmarshal([]byte(answer), &done)
	}
	return done, err
}

// ImportRoster is ConfirmRoster by whoever owns the data folder, who has seen nothing
// before. It is refused while there is no educator: the first one is made by a link, which
// is only for a clinic without people.
func (s *Service) ImportRoster(ctx context.Context, f *roster.File) (plan RosterPlan, err error) {
	err = s.Records.Write(ctx, func(u Unit) error {
		n, err := u.EducatorsBut(ctx, s.Today())
		if err == nil && n == 0 {
			err = refuse(ErrConflict, "There is no educator here who can sign in. Start the server and open the link that it prints; then import.")
		}
		if err != nil {
			return err
		}
		if plan, err = s.planRoster(ctx, u, f); err != nil || len(plan.Faults) > 0 {
			return err
		}
		_, err = s.keepRoster(ctx, u, plan, Person{})
		return err
	})
	return plan, err
}

// keepRoster keeps a plan, each person with a leaf of their own. by is nobody for the
// owner of the folder.
func (s *Service) keepRoster(ctx context.Context, u Unit, plan RosterPlan, by Person) (RosterDone, error) {
	done := RosterDone{len(plan.New), len(plan.Changed), plan.Same, len(plan.left)}
	if n := len(plan.Faults); n > 0 {
		return done, refuse(ErrInvalid, "There are %s in the list. Nothing was imported.", countOf(n, "fault", "faults"))
	}
	last, err := u.LastLedgered(ctx)
	if err != nil {
		return done, err
	}
	now := s.Now()
	leaf := func(p Person, change string) error {
		f := personFields(p)
		f["change"], f["through"] = change, "roster"
		about := LeafAbout{Kind: PersonLeaf, Record: p.ID, At: now, ClockBehind: clockBehind(now, last), People: withBy(p, by)}
		_, err := appendLeaf(ctx, u, about, f)
		return err
	}
	for _, x := range plan.New {
		x.Is.ID = s.NewID()
		if err := errors.Join(u.AddPerson(ctx, x.Is, now), leaf(x.Is, "added")); err != nil {
			return done, fmt.Errorf("row %d: %w", x.Row, err)
		}
	}
	change := func(rows []RosterRow, word string) error {
		for _, x := range rows {
			err := errors.Join(u.SavePerson(ctx, x.Is), leaf(x.Is, word))
			if err == nil && s.gone(x.Is) && !s.gone(x.Was) {
				err = s.shut(ctx, u, x.Was, by)
			}
			if err != nil {
				return fmt.Errorf("row %d (%s): %w", x.Row, x.Was.Name, err)
			}
		}
		return nil
	}
	return done, errors.Join(change(plan.Changed, "changed"), change(plan.left, "last day"))
}

// takeLeft adds to a plan who has left of those who are not in the list.
func (s *Service) takeLeft(ctx context.Context, r PeopleReader, plan *RosterPlan, left map[string]Day) error {
	var going []string
	for id, last := range left {
		i := slices.IndexFunc(plan.Absent, func(p Person) bool { return p.ID == id })
		if i < 0 {
			return refuse(ErrConflict, "Somebody who was ticked as having left is in the list, or has left already. Look through it again; nothing was imported.")
		}
		was := plan.Absent[i]
		is := was
		is.Left = last
		wrong := s.wrongDays(is)
		if last == "" {
			wrong = []string{"Give the last day."}
		}
		if len(wrong) > 0 {
			return refuse(ErrInvalid, "%s: %s Nothing was imported.", was.Name, strings.Join(wrong, " "))
		}
		if was.Has(Educator) {
			going = append(going, id)
		}
		plan.left = append(plan.left, RosterRow{Was: was, Is: is})
	}
	slices.SortFunc(plan.left, func(a, b RosterRow) int { return strings.Compare(a.Was.ID, b.Was.ID) })
	if len(going) == 0 {
		return nil
	}
	for _, x := range plan.Changed { // who goes by the list goes at the same time
		if x.Was.Has(Educator) && (!x.Is.Has(Educator) || x.Is.Left != "") {
			going = append(going, x.Was.ID)
		}
	}
	return s.keepsAnEducator(ctx, r, s.Today().AddDays(1), going...)
}

func countOf(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

// planner compares the rows of a roster with who is here. What it finds does not hang on
// the order of the rows.
type planner struct {
	s         *Service
	file      *roster.File
	plan      RosterPlan
	byNo      map[string]Person
	byName    map[string][]Person
	bare      map[string]string       // staff numbers without the noughts before them, of here and of new rows
	rowsNamed map[string][]roster.Row // rows by name
	taken     map[string]int          // the row of a person here
	demoted   map[string]roster.Row   // educators who would be none any more, or leave
}

func (s *Service) planRoster(ctx context.Context, r PeopleReader, f *roster.File) (RosterPlan, error) {
	people, err := r.People(ctx)
	if err != nil {
		return RosterPlan{}, err
	}
	p := &planner{s: s, file: f, byNo: map[string]Person{}, byName: map[string][]Person{}, bare: map[string]string{}, rowsNamed: map[string][]roster.Row{}, taken: map[string]int{}, demoted: map[string]roster.Row{}}
	p.plan.Faults = slices.Clone(f.Faults)
	for _, x := range people {
		p.byName[x.Name] = append(p.byName[x.Name], x)
		if x.StaffNo != "" {
			p.byNo[x.StaffNo] = x
			p.bare[bareNo(x.StaffNo)] = x.StaffNo
		}
	}
	rows := slices.Clone(f.Rows)
	for i, row := range rows {
		if name, err := tidy("The name", row.Name, maxName); err == nil {
			rows[i].Name = name
		}
		p.rowsNamed[rows[i].Name] = append(p.rowsNamed[rows[i].Name], rows[i])
	}
	for _, numbered := range []bool{true, false} { // a name says less than a number
		for _, row := range rows {
			if (row.StaffNo != "") == numbered {
				p.take(row)
			}
		}
	}
	if err := p.keepAnEducator(ctx, r); err != nil {
		return RosterPlan{}, err
	}
	for _, x := range people {
		if _, there := p.taken[x.ID]; !there && !s.gone(x) {
			p.plan.Absent = append(p.plan.Absent, x)
		}
	}
	return p.done()
}

// done brings the plan into the order of rows.
func (p *planner) done() (RosterPlan, error) {
	byRow := func(a, b RosterRow) int { return a.Row - b.Row }
	slices.SortStableFunc(p.plan.New, byRow)
	slices.SortStableFunc(p.plan.Changed, byRow)
	slices.SortStableFunc(p.plan.Faults, func(a, b roster.Fault) int { return a.Row - b.Row })
	p.doubtNames()
	text, err := json.Marshal([]any{p.plan.New, p.plan.Changed, p.plan.Same})
	p.plan.Seen = procedure.Digest(text)
	return p.plan, err
}

// doubtNames tells of who is new and has the name of somebody else: one person with two staff
// numbers is on record twice.
func (p *planner) doubtNames() {
	rows, here := map[string][]RosterRow{}, map[string][]Person{}
	for _, x := range p.plan.New {
		rows[plainWords(x.Is.Name)] = append(rows[plainWords(x.Is.Name)], x)
	}
	for _, same := range p.byName {
		here[plainWords(same[0].Name)] = append(here[plainWords(same[0].Name)], same...)
	}
	for _, x := range p.plan.New {
		others := p.namedLike(x, here[plainWords(x.Is.Name)], rows[plainWords(x.Is.Name)])
		if len(others) > 0 {
			p.plan.Doubts = append(p.plan.Doubts, p.fault(roster.Row{Row: x.Row}, roster.Name, x.Is.Name, "%s. If this is the same person, leave one of them out of the list, or give both the same number.", strings.Join(others, "; "))...)
		}
	}
}

// namedLike says who else has the name of a new row.
func (p *planner) namedLike(x RosterRow, here []Person, rows []RosterRow) (others []string) {
	for _, o := range here {
		others = append(others, "This name is here already"+withNumber(o.StaffNo))
	}
	slices.Sort(others) // whatever the order of the people
	for _, o := range rows {
		if o.Row != x.Row {
			others = append(others, fmt.Sprintf("Row %d has the same name%s", o.Row, withNumber(o.Is.StaffNo)))
		}
	}
	return others
}

func withNumber(no string) string {
	if no == "" {
		return ", without a staff number"
	}
	return ", with the staff number " + no
}

func bareNo(no string) string { return strings.TrimLeft(no, "0") }

// take finds whose a row is. One with a fault is looked up as well, so that its person is
// not told as absent.
func (p *planner) take(row roster.Row) {
	was, wrong := p.whose(row)
	if was.ID != "" {
		p.taken[was.ID] = row.Row
	}
	if row.Bad {
		return
	}
	is, more := p.become(row, was)
	if wrong = append(wrong, more...); len(wrong) > 0 {
		p.plan.Faults = append(p.plan.Faults, wrong...)
		return
	}
	switch {
	case was.ID == "":
		p.plan.New = append(p.plan.New, RosterRow{Row: row.Row, Is: is})
	case is == was:
		p.plan.Same++
	default:
		p.plan.Changed = append(p.plan.Changed, RosterRow{row.Row, was, is})
		if was.Has(Educator) && (!is.Has(Educator) || is.Left != "") {
			p.demoted[was.ID] = row
		}
	}
}

func (p *planner) fault(row roster.Row, f roster.Field, value, do string, args ...any) []roster.Fault {
	return []roster.Fault{{Row: row.Row, Column: p.file.Title(f), Value: value, Do: fmt.Sprintf(do, args...)}}
}

// whose finds who a row is here; nobody is somebody new.
func (p *planner) whose(row roster.Row) (Person, []roster.Fault) {
	if row.StaffNo == "" {
		return p.named(row)
	}
	if !staffNoPattern.MatchString(row.StaffNo) {
		return Person{}, p.fault(row, roster.StaffNo, row.StaffNo, "A staff number has up to 20 letters, digits, dots, strokes and hyphens. Correct it.")
	}
	if x, here := p.byNo[row.StaffNo]; here {
		return x, nil
	}
	if other, alike := p.bare[bareNo(row.StaffNo)]; alike && other != row.StaffNo {
		return Person{}, p.fault(row, roster.StaffNo, row.StaffNo, "There is %s already, which differs in the noughts before it only; spreadsheets drop them. Write the number as it is on the other.", other)
	}
	p.bare[bareNo(row.StaffNo)] = row.StaffNo
	without := slices.DeleteFunc(slices.Clone(p.byName[row.Name]), func(x Person) bool { return x.StaffNo != "" })
	if len(without) == 1 && len(p.rowsNamed[row.Name]) == 1 && !p.s.gone(without[0]) {
		return without[0], nil // who had no number yet
	}
	return Person{}, nil
}

// named finds who a row without a staff number is.
func (p *planner) named(row roster.Row) (Person, []roster.Fault) {
	if row.Name == "" {
		return Person{}, nil
	}
	for _, other := range p.rowsNamed[row.Name] {
		if other.StaffNo != "" {
			return Person{}, p.fault(row, roster.Name, row.Name, "Row %d has the same name and a staff number. Give this row its staff number, or delete it.", other.Row)
		}
	}
	here := p.byName[row.Name]
	if len(here) > 1 {
		return Person{}, p.fault(row, roster.Name, row.Name, "%d people here have this name. Give the row a staff number.", len(here))
	}
	if len(here) == 0 {
		return Person{}, nil
	}
	if first, again := p.taken[here[0].ID]; again {
		return Person{}, p.fault(row, roster.Name, row.Name, "By its staff number row %d is this person. Give this row a staff number, or delete it.", first)
	}
	if p.s.gone(here[0]) && Day(row.Left) != here[0].Left {
		return Person{}, p.fault(row, roster.Name, row.Name, "Somebody of this name left on %s. Give the row a staff number, so that it is clear who this is.", here[0].Left.Said())
	}
	return here[0], nil
}

// become is a person as a row says; what it does not say stays.
func (p *planner) become(row roster.Row, was Person) (is Person, wrong []roster.Fault) {
	is = was
	is.Name = row.Name
	if row.StaffNo != "" {
		is.StaffNo = row.StaffNo
	}
	if row.Hired != "" && !was.workedOn(Day(row.Hired)) { // a list often keeps the first day of all
		is.Hired = Day(row.Hired)
	}
	if row.Left != "" {
		is.Left = Day(row.Left)
	}
	wrong = append(wrong, p.wrongDays(row, is, was)...)
	for _, x := range []struct {
		of   roster.Field
		into *string
		is   string
		most int
	}{{roster.Job, &is.Job, row.Job, maxJob}, {roster.Team, &is.Team, row.Team, maxTeam}, {roster.Email, &is.Email, row.Email, maxEmail}} {
		if x.is == "" {
			continue
		}
		if *x.into = x.is; strings.ContainsFunc(x.is, unicode.IsControl) {
			wrong = append(wrong, p.fault(row, x.of, x.is, "There is a line end, a tab or another control character in it. Write it in one line.")...)
		} else if err := tidyLines(line{"It", x.into, x.most}); err != nil {
			wrong = append(wrong, p.fault(row, x.of, x.is, "%s Shorten it.", sentenceOf(err))...)
		}
	}
	if is.Job = strings.Join(is.Jobs(), ", "); is.Email != "" && row.Email != "" && !emailPattern.MatchString(is.Email) {
		wrong = append(wrong, p.fault(row, roster.Email, row.Email, "This is no e-mail address: it needs an @ with something before and behind it. Correct it, or leave the cell empty.")...)
	}
	switch {
	case len(row.Roles) > 0:
		is = is.WithRoles(rolesOf(row.Roles)...)
	case was.ID == "":
		wrong = append(wrong, p.fault(row, roster.Role, "", "This person is new here. Write a role: new hire, staff, preceptor, educator or manager.")...)
	}
	return is, wrong
}

// wrongDays says what is wrong with the days of a row.
func (p *planner) wrongDays(row roster.Row, is, was Person) []roster.Fault {
	of, text := roster.Hired, row.HiredText
	if row.Hired == "" {
		of, text = roster.Left, row.LeftText
	}
	switch {
	case row.Hired == "" && row.Left == "":
		return nil
	case p.s.gone(was) && is.Left < is.Hired:
		return p.fault(row, of, text, "This person left on %s. If they came back, say so on their page first; else correct the day.", was.Left.Said())
	case is.Left != "" && is.Left < is.Hired:
		return p.fault(row, of, text, "The last day here, %s, is before the first, %s. Correct one of them.", is.Left.Said(), is.Hired.Said())
	}
	if wrong := p.s.wrongDays(is); len(wrong) > 0 {
		return p.fault(row, of, text, "%s", wrong[0])
	}
	return nil
}

// rolesOf are the words of a roster as roles.
func rolesOf(words []string) (all []Role) {
	for _, w := range words {
		all = append(all, Role(w))
	}
	return all
}

// keepAnEducator tells the rows that would leave nobody to run the program.
func (p *planner) keepAnEducator(ctx context.Context, r PeopleReader) error {
	if len(p.demoted) == 0 {
		return nil
	}
	var ids []string
	for id := range p.demoted {
		ids = append(ids, id)
	}
	err := p.s.keepsAnEducator(ctx, r, p.s.Today(), ids...)
	if !errors.Is(err, ErrConflict) {
		return err
	}
	for _, row := range p.demoted {
		column, text := roster.Role, row.RoleText
		if row.Left != "" {
			column, text = roster.Left, row.LeftText
		}
		p.plan.Faults = append(p.plan.Faults, p.fault(row, column, text, "No educator would be left who can sign in and has no last day. Leave this person as they are, or make another educator first.")...)
	}
	return nil
}
