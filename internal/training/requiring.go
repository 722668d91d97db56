package training

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
)

// Limits of requirements.
const (
	maxDemonstrations = 20
	maxHireDays       = 730
	maxInterval       = 60 // months, as in the clinic's set
	maxNoticeDays     = 365
	maxEarlyDays      = 180
	maxWords          = 40 // job titles, or teams
	maxFromMonths     = 12
)

// RequirementFault is a value that cannot be, with the field it stands in: the name of the
// value in the terms' JSON, with a stroke between the parts ("first-clean").
type RequirementFault struct{ Field, Text string }

// RequirementFaults is a refusal of requirements with all that is wrong with them.
type RequirementFaults []RequirementFault

func (f RequirementFaults) Error() string {
	var texts []string
	for _, x := range f {
		texts = append(texts, x.Text)
	}
	return strings.Join(texts, " ")
}

// Unwrap makes it one of the errors that callers tell apart.
func (f RequirementFaults) Unwrap() error { return ErrInvalid }

// RequirementsOf is what a competency takes, with how it came to that.
type RequirementsOf struct {
	Competency Competency
	Now        Requirements   // in force today
	Newest     int            // version that a change builds on; 0 before the first
	Versions   []Requirements // newest first; none before the first change
}

// Requirements are what every competency takes that people are signed off for. Educators and
// preceptors.
func (s *Service) Requirements(ctx context.Context, actor Actor) (all []RequirementsOf, err error) {
	if err := need(actor, Preceptor, Educator); err != nil {
		return nil, err
	}
	kept, err := s.Records.Requirements(ctx)
	if err != nil {
		return nil, err
	}
	for _, c := range s.asked(kept, s.Today()) {
		all = append(all, s.requirementsOf(c))
	}
	return all, nil
}

func (s *Service) requirementsOf(c Competency) RequirementsOf {
	of := RequirementsOf{Competency: c, Now: c.Requirements(s.Today()), Versions: slices.Clone(c.kept)}
	slices.Reverse(of.Versions)
	if len(of.Versions) > 0 {
		of.Newest = of.Versions[0].Version
	}
	return of
}

// RequirementsFor is the same of one competency.
func (s *Service) RequirementsFor(ctx context.Context, actor Actor, competency string) (RequirementsOf, error) {
	all, err := s.Requirements(ctx, actor)
	if err != nil {
		return RequirementsOf{}, err
	}
	for _, of := range all {
		if of.Competency.ID == competency {
			return of, nil
		}
	}
	return RequirementsOf{}, refuse(ErrNotFound, "There is no competency %q that people are signed off for.", clip(competency))
}

// StandingMove is what other requirements make of one person's standing. A word is "" where
// the competency is not asked of them.
type StandingMove struct {
	Person          Person
	Was, Is         StandingWord
	DueWas, DueIs   Day
	AloneWas, Alone bool
}

// RequirementsPreview is what requirements would make of everybody's standing if they held
// today.
type RequirementsPreview struct {
	Of    RequirementsOf
	Draft Requirements
	Moves []StandingMove // of those whose standing or due day would be another, by name
	All   int            // people of whom it would be asked
}

// PreviewRequirements tells what a draft would do today; nothing is kept. Educators only.
// Wrong values are [RequirementFaults].
func (s *Service) PreviewRequirements(ctx context.Context, actor Actor, draft Requirements) (p RequirementsPreview, err error) {
	if err := need(actor, Educator); err != nil {
		return p, err
	}
	if p.Of, err = s.RequirementsFor(ctx, actor, draft.Competency); err != nil {
		return p, err
	}
	if err := s.checkRequirements(p.Of, &draft); err != nil {
		return p, err
	}
	p.Draft = draft
	err = s.Records.Snapshot(ctx, func(r Reader) error { return s.moves(ctx, r, &p) })
	return p, err
}

// moves compares everybody's standing as it is with what it would be.
func (s *Service) moves(ctx context.Context, r Reader, p *RequirementsPreview) error {
	people, err := r.People(ctx)
	if err != nil {
		return err
	}
	now, err := s.known(ctx, r, s.Today(), "")
	if err != nil {
		return err
	}
	closed, err := r.ClosedAccounts(ctx)
	if err != nil {
		return err
	}
	next := now.with(p.Draft, p.Of)
	if next.by, err = r.Histories(ctx, next.query("")); err != nil { // the draft may ask for more
		return err
	}
	for _, x := range people {
		if s.gone(x) || slices.Contains(closed, x.ID) { // who is in no count
			continue
		}
		m := StandingMove{Person: x}
		if st, ok := now.shown(x, p.Draft.Competency); ok {
			m.Was, m.DueWas = st.Word, st.Due
			m.AloneWas, _ = st.MayWorkAlone()
		}
		if st, ok := next.shown(x, p.Draft.Competency); ok {
			m.Is, m.DueIs = st.Word, st.Due
			m.Alone, _ = st.MayWorkAlone()
			p.All++
		}
		if m.Was != m.Is || m.DueWas != m.DueIs || m.Alone != m.AloneWas {
			p.Moves = append(p.Moves, m)
		}
	}
	return nil
}

// with is what would be known if a draft held today.
func (k known) with(draft Requirements, of RequirementsOf) known {
	draft.From, draft.Version = k.day, max(of.Newest, 1)+1
	asked := slices.Clone(k.asked)
	for i := range asked {
		if c := &asked[i]; c.ID == draft.Competency {
			kept := slices.Clone(c.kept)
			if len(kept) == 0 {
				kept = []Requirements{starting(c)}
			}
			c.kept = append(kept, draft)
		}
	}
	k.asked = asked
	return k
}

// shown is a person's standing in one competency as pages have it.
func (k known) shown(p Person, competency string) (Standing, bool) {
	for _, st := range k.standings(p) {
		if st.Competency.ID == competency {
			return st, true
		}
	}
	return Standing{}, false
}

// starting is the first version: the values that the clinic's set has when they are
// changed here for the first time.
func starting(c *Competency) Requirements {
	return Requirements{Competency: c.ID, Version: 1, Terms: c.startingTerms()}
}

// ChangeRequirements keeps another version of what a competency takes, which builds on the
// version that was seen (0 for the starting values). Educators only, who have just given
// their password.
func (s *Service) ChangeRequirements(ctx context.Context, actor Actor, key string, seen int, draft Requirements) (Requirements, error) {
	if err := need(actor, Educator); err != nil {
		return Requirements{}, err
	}
	a, err := ask(actor.Person.ID, key, "change requirements", draft.Competency, seen, draft.From, draft.Terms, draft.Why)
	if err != nil {
		return Requirements{}, err
	}
	before := func() error { return s.proved(actor) }
	_, _, err = s.once(ctx, a, before, func(u Unit) (string, error) {
		kept, err := u.Requirements(ctx)
		if err != nil {
			return "", err
		}
		c, err := s.askedFor(kept, draft.Competency)
		if err != nil {
			return "", err
		}
		of := s.requirementsOf(c)
		if of.Newest != seen {
			return "", refuse(ErrConflict, "%s changed these requirements meanwhile. Load the page again and look at what holds now.", of.Versions[0].ByName)
		}
		if err := s.checkRequirements(of, &draft); err != nil {
			return "", err
		}
		if of.Newest == 0 {
			if err := s.keepRequirements(ctx, u, starting(&c)); err != nil {
				return "", err
			}
		}
		draft.Version, draft.ByID, draft.ByName = max(of.Newest, 1)+1, actor.Person.ID, actor.Person.Name
		return fmt.Sprint(draft.Version), s.keepRequirements(ctx, u, draft)
	})
	if err != nil {
		return Requirements{}, err
	}
	of, err := s.RequirementsFor(ctx, actor, draft.Competency)
	if err != nil {
		return Requirements{}, err
	}
	return of.Versions[0], nil
}

func (s *Service) askedFor(kept []Requirements, competency string) (Competency, error) {
	for _, c := range s.asked(kept, s.Today()) {
		if c.ID == competency {
			return c, nil
		}
	}
	return Competency{}, refuse(ErrNotFound, "There is no competency %q that people are signed off for.", clip(competency))
}

func (s *Service) keepRequirements(ctx context.Context, u Unit, r Requirements) error {
	r.At = s.Now()
	text, err := r.text()
	if err != nil {
		return err
	}
	r.Text = text
	about := LeafAbout{Kind: RequirementLeaf, Record: r.record(), At: r.At}
	if r.ByID != "" {
		by, err := u.Person(ctx, r.ByID)
		if err != nil {
			return err
		}
		about.People = []Named{named(PartBy, by)}
	}
	f, err := requirementFields(r)
	if err != nil {
		return err
	}
	if r.Leaf, err = s.ledgered(ctx, u, about, f); err != nil {
		return err
	}
	return u.AddRequirements(ctx, r)
}

// record is what the leaf of a version is of.
func (r *Requirements) record() string { return fmt.Sprintf("%s/%d", r.Competency, r.Version) }

// checkRequirements says what is wrong with a draft, all at once, and tidies its texts.
func (s *Service) checkRequirements(of RequirementsOf, draft *Requirements) error {
	var faults RequirementFaults
	say := func(field, format string, args ...any) {
		faults = append(faults, RequirementFault{field, fmt.Sprintf(format, args...)})
	}
	if why, err := s.reason(draft.Why, "Say why: it is kept, and whoever asks later reads it."); err != nil {
		say("why", "%s", sentenceOf(err))
	} else {
		draft.Why = why
	}
	if _, err := ParseDay(string(draft.From)); err != nil {
		say("from", "Say from which day this holds.")
	} else if draft.From < s.Today() || draft.From > s.Today().AddMonths(maxFromMonths) {
		say("from", "%s is not between today and a year from now: what held on days before today stays as it was.", draft.From.Said())
	}
	draft.Terms.check(say)
	same := draft.Terms
	if len(faults) == 0 && len(of.Versions) == 0 && same.equal(of.Now.Terms) || len(of.Versions) > 0 && same.equal(of.Versions[0].Terms) && len(faults) == 0 {
		say("same", "Nothing is different from what holds.")
	}
	if len(faults) > 0 {
		return faults
	}
	return nil
}

// between is a number with what it may be.
type between struct {
	field, what string
	is          int
	least, most int
}

func (t *Terms) check(say func(field, format string, args ...any)) {
	all := []between{
		{"hire_days", "The days since the hire", t.HireDays, 0, maxHireDays},
		{"interval_months", "The months until it is due again", t.IntervalMonths, 1, maxInterval},
		{"early_days", "The days of the early window", t.EarlyDays, 0, min(maxEarlyDays, 27*max(t.IntervalMonths, 1))},
		{"notice_days", "The days of notice", t.NoticeDays, 0, maxNoticeDays},
	}
	for name, x := range map[string]Takes{"first": t.First, "annual": t.Annual, "change": t.Change, "lapsed": t.Lapsed} {
		all = append(all, between{name + "-clean", "The number of clean demonstrations", x.Clean, 1, maxDemonstrations},
			between{name + "-days", "The number of days", x.Days, 1, max(x.Clean, 1)},
			between{name + "-preceptors", "The number of preceptors", x.Preceptors, 1, max(x.Clean, 1)})
		if !slices.Contains([]Again{AgainNone, AgainMissed, AgainAll}, x.Again) {
			say(name+"-again", "Choose which modules are to be passed again.")
		}
	}
	slices.SortFunc(all, func(a, b between) int { return strings.Compare(a.field, b.field) })
	for _, x := range all {
		if x.is < x.least || x.is > x.most {
			say(x.field, "%s: a whole number between %d and %d.", x.what, x.least, x.most)
		}
	}
	if !slices.Contains([]Signer{SignerEntitled, SignerEducator, SignerOther}, t.Signer) {
		say("signer", "Choose who may sign off.")
	}
	t.Needs.check(say)
}

func (n *Needs) check(say func(field, format string, args ...any)) {
	for _, r := range n.Roles {
		if !slices.Contains(rank, r) {
			say("roles", "There is no role %q.", clip(string(r)))
		}
	}
	n.Jobs = wordsIn(n.Jobs, "jobs", "The job titles", say)
	n.Teams = wordsIn(n.Teams, "teams", "The teams", say)
}

// wordsIn are words ready to be kept, each once.
func wordsIn(all []string, field, what string, say func(field, format string, args ...any)) (words []string) {
	for _, w := range all {
		clean, err := tidy(what, w, maxName)
		if err != nil {
			say(field, "%s", sentenceOf(err))
			continue
		}
		clean = strings.Join(strings.Fields(clean), " ")
		if clean != "" && !hasWord(words, clean) {
			words = append(words, clean)
		}
	}
	if len(words) > maxWords {
		say(field, "%s: %d at most.", what, maxWords)
	}
	return words
}

// equal compares terms by what is signed of them.
func (t *Terms) equal(other Terms) bool {
	a, errA := (&Requirements{Terms: *t}).text()
	b, errB := (&Requirements{Terms: other}).text()
	return errors.Join(errA, errB) == nil && a == b
}
