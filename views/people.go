package views

import (
	"net/url"
	"slices"
	"strings"

	"stillwet/internal/training"
)

// People is the educator's first page.
type People struct {
	All     []training.Standing // everyone, in every competency
	Filter  Filter
	Years   []string
	Added   *Added
	Problem string
	Draft   NewPerson
}

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

// standingWords are the standings in the order in which somebody has to act.
var standingWords = []training.StandingWord{
	training.Lapsed, training.DueSoon, training.ReadyToSign, training.InTraining, training.NotStarted, training.Current,
}

// Shown are the rows the filter leaves.
func (p People) Shown() (rows []training.Standing) {
	search := strings.ToLower(strings.TrimSpace(p.Filter.Search))
	for _, s := range p.All {
		if p.Filter.Standing != "" && !stands(s, p.Filter.Standing) {
			continue
		}
		if search != "" && !strings.Contains(strings.ToLower(s.Person.Name+" "+s.Person.StaffNo), search) {
			continue
		}
		rows = append(rows, s)
	}
	slices.SortStableFunc(rows, func(a, b training.Standing) int {
		return slices.Index(standingWords, a.Word) - slices.Index(standingWords, b.Word)
	})
	return rows
}

// stands reports whether somebody belongs under a word. Who has all that the
// next sign-off takes is ready to sign, however long the last one still holds.
func stands(s training.Standing, w training.StandingWord) bool {
	return s.Word == w || w == training.ReadyToSign && s.Ready
}

// readyAgain reports what the word of a standing does not say: that the next
// sign-off can be given already.
func readyAgain(s training.Standing) bool { return s.Ready && s.Word != training.ReadyToSign }

func (p People) count(w training.StandingWord) (n int) {
	for _, s := range p.All {
		if stands(s, w) {
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
