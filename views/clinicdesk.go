package views

import (
	"cmp"
	"strconv"

	"stillwet/internal/training"
)

// Waits is the page of what waits in the whole clinic.
type Waits struct {
	training.ClinicDesk
	Titles map[string]string // of competencies
}

// WaitsURL is the page of what waits.
const WaitsURL = "/people/waits"

func (w Waits) title(competency string) string { return cmp.Or(w.Titles[competency], competency) }

func (w Waits) whose(d training.Demonstration) string {
	return Whose(w.People[d.TraineeID].Name, d.Setting)
}

// deskNumber is a number of the desk, with the way to just the rows that it counts.
type deskNumber struct {
	N          int
	Text, Href string
	Here       bool // these rows are shown now
}

// dueWindows are the spans of days in which somebody asks who is due.
var dueWindows = []int{30, 60, 90}

// deskNumbers are what is counted besides the standings: of people under the page's filter,
// and of the whole clinic.
func (p People) deskNumbers() (all []deskNumber) {
	for _, days := range dueWindows {
		f := p.Filter.lens()
		f.DueIn = days
		all = append(all, deskNumber{p.counted(f), "Due in " + count(days, "day", "days"), f.address(), p.Filter.DueIn == days})
	}
	f := p.Filter.lens()
	f.NotAlone = true
	all = append(all, deskNumber{p.counted(f), "May not work alone", f.address(), p.Filter.NotAlone})
	if n := p.Waits; n != nil {
		all = append(all,
			deskNumber{n.Unsigned, "Waiting for a signature", WaitsURL + "#unsigned", false},
			deskNumber{n.Open, "Demonstrations not finished", WaitsURL + "#open", false},
			deskNumber{n.Ending, "Entitlements that end", WaitsURL + "#ending", false},
			deskNumber{n.Asked, "Asked and overdue", WaitsURL + "#asked", false},
			deskNumber{n.Accounts, "Cannot sign in yet", "/people/links", false})
	}
	if p.Observed.Month != "" {
		all = append(all, deskNumber{p.Observed.N, p.observedText(), observationsOf(p.Observed.Month), false})
	}
	return all
}

// observedText stands behind the number of this month's observations.
func (p People) observedText() string {
	month := " in " + p.Observed.Month.First().Time().Format("January")
	if p.Observed.Target == 0 {
		return either(p.Observed.N == 1, "Station observation", "Station observations") + month
	}
	return "of " + strconv.Itoa(p.Observed.Target) + " station observations" + month
}

// counted is how many rows a filter leaves.
func (p People) counted(f Filter) int {
	search, n := f.search(), 0
	for i := range p.Standings {
		s := &p.Standings[i]
		n += btoi(f.among(s, search) && f.asks(s, p.Today))
	}
	return n
}

// lapsedBeside is who is due already and past it, where the page shows who will be: whoever
// plans needs both. The address leads to them.
func (p People) lapsedBeside() (n int, address string) {
	if p.Filter.DueIn == 0 {
		return 0, ""
	}
	f := p.Filter.lens()
	f.Standing = training.Lapsed
	return p.counted(f), f.address()
}

// lens is the filter without what it asks of standings.
func (f Filter) lens() Filter {
	f.Standing, f.DueIn, f.NotAlone, f.Left = "", 0, false, false
	return f
}

// asks reports whether a standing is one that the filter asks for.
func (f Filter) asks(s *training.Standing, today training.Day) bool {
	if f.DueIn > 0 && (s.Due < today || s.Due > today.AddDays(f.DueIn) || s.Leave != nil) {
		return false
	}
	if f.NotAlone {
		if may, _ := s.MayWorkAlone(); may {
			return false
		}
	}
	return f.Standing == "" || s.Under(f.Standing)
}
