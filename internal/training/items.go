package training

import (
	"context"
	"fmt"
	"slices"
	"strings"

	"stillwet/internal/ledger"
)

// Limits of other annual items.
const (
	maxItemTitle  = 120
	maxContent    = 1000
	mostMonths    = 120
	mostNotice    = 366
	LeastKept     = 3 // years that entries are kept at the least
	mostKeepYears = 100
	maxNeededBy   = 600
)

// Item is a thing that people have to have done by a day, known by date and evidence only. A
// version is what it asks for since a moment; Seq counts from 1.
type Item struct {
	ID          string
	Seq         int
	Title       string
	EveryMonths int // 0 is once
	NoticeDays  int // before the due day
	Everybody   bool
	Roles       Roles  // who has one of them needs it, or
	Jobs, Teams string // one of these, with commas between them
	Content     string // what it is about, in short
	KeepYears   int    // that entries are kept at the least
	Retired     bool   // nobody needs it any more; entries stay

	At                Instant
	ByID, ByName, Why string
	Leaf              int64
}

// NeededBy reports whether somebody has to have an item, while they work here.
func (i Item) NeededBy(p Person) bool {
	one := func(list string, is func(string) bool) bool { return slices.ContainsFunc(words(list, ","), is) }
	return !i.Retired && (i.Everybody || p.HasAny(i.Roles.All()...) ||
		one(i.Jobs, func(job string) bool {
			return slices.ContainsFunc(p.Jobs(), func(has string) bool { return strings.EqualFold(has, job) })
		}) ||
		p.Team != "" && one(i.Teams, func(team string) bool { return strings.EqualFold(p.Team, team) }))
}

func itemFields(i Item) ledger.Fields {
	return ledger.Fields{"seq": i.Seq, "title": i.Title, "every_months": i.EveryMonths, "notice_days": i.NoticeDays, "everybody": i.Everybody,
		"roles": string(i.Roles), "jobs": i.Jobs, "teams": i.Teams, "content": i.Content, "keep_years": i.KeepYears, "retired": i.Retired,
		"by_id": i.ByID, "by_name": i.ByName, "why": i.Why}
}

// SaveItem keeps a new item, or with the id of one its next version; seq is the version that
// was read. A change needs a reason. Educators only.
func (s *Service) SaveItem(ctx context.Context, actor Actor, key string, is Item) (Item, error) {
	if err := need(actor, Educator); err != nil {
		return Item{}, err
	}
	a, err := ask(actor.Person.ID, key, "save an item", is)
	if err != nil {
		return Item{}, err
	}
	id, _, err := s.once(ctx, a, func() (err error) { is, err = checkedItem(is); return err }, func(u Unit) (string, error) {
		all, err := u.Items(ctx)
		if err != nil {
			return "", err
		}
		if err := is.follows(all); err != nil {
			return "", err
		}
		if is.Seq++; is.ID == "" {
			is.ID = s.NewID()
		}
		is.At, is.ByID, is.ByName = s.Now(), actor.Person.ID, actor.Person.Name
		about := LeafAbout{Kind: ItemLeaf, Record: is.ID, At: is.At, People: []Named{named(PartBy, actor.Person)}}
		if is.Leaf, err = s.ledgered(ctx, u, about, itemFields(is)); err != nil {
			return "", err
		}
		return is.ID, u.AddItemVersion(ctx, is)
	})
	if err != nil {
		return Item{}, err
	}
	return s.item(ctx, s.Records, id)
}

// checkedItem brings the texts of an item into order and says all that is wrong at once.
func checkedItem(is Item) (Item, error) {
	var wrong []string
	for _, l := range []line{{"The title", &is.Title, maxItemTitle}, {"The job titles", &is.Jobs, maxNeededBy}, {"The teams", &is.Teams, maxNeededBy},
		{"The content", &is.Content, maxContent}, {"The reason", &is.Why, maxReason}} {
		wrong = append(wrong, sentencesOf(tidyLines(l))...)
	}
	is.Jobs, is.Teams = strings.Join(words(is.Jobs, ","), ", "), strings.Join(words(is.Teams, ","), ", ")
	for _, r := range is.Roles.All() {
		if !slices.Contains(everybody, r) {
			wrong = append(wrong, fmt.Sprintf("There is no role %q.", clip(string(r))))
		}
	}
	switch {
	case !legible(is.Title):
		wrong = append(wrong, illegible(is.Title, "The title", "The title is missing.")...)
	case is.ID != "" && is.Why == "":
		wrong = append(wrong, "Say why it changes: it stands in the log of changes.")
	}
	if is.EveryMonths < 0 || is.EveryMonths > mostMonths {
		wrong = append(wrong, fmt.Sprintf("It comes again after 1 to %d months, or 0 for once.", mostMonths))
	}
	if is.NoticeDays < 0 || is.NoticeDays > mostNotice {
		wrong = append(wrong, fmt.Sprintf("The notice is 0 to %d days.", mostNotice))
	}
	if is.KeepYears < LeastKept || is.KeepYears > mostKeepYears {
		wrong = append(wrong, fmt.Sprintf("Entries are kept for %d to %d years at the least.", LeastKept, mostKeepYears))
	}
	if !is.Everybody && is.Roles == "" && is.Jobs == "" && is.Teams == "" && !is.Retired {
		wrong = append(wrong, "Say who needs it: everybody, or who has a role, a job or is in a team.")
	}
	if len(wrong) > 0 {
		return is, refuse(ErrInvalid, "%s", strings.Join(wrong, " "))
	}
	return is, nil
}

// follows says why an item cannot be the next version among all.
func (i Item) follows(all []Item) error {
	for _, x := range all {
		switch {
		case x.ID == i.ID && x.Seq != i.Seq:
			return refuse(ErrConflict, "%s changed it since this page was loaded. Look at it again; nothing was changed.", x.ByName)
		case x.ID != i.ID && strings.EqualFold(x.Title, i.Title):
			return refuse(ErrConflict, "There is an item called %s already.", x.Title)
		}
	}
	if i.ID != "" && !slices.ContainsFunc(all, func(x Item) bool { return x.ID == i.ID }) {
		return refuse(ErrNotFound, "There is no such item.")
	}
	return nil
}

// item is an item as it is now.
func (s *Service) item(ctx context.Context, r ItemReader, id string) (Item, error) {
	all, err := r.Items(ctx)
	if err != nil {
		return Item{}, err
	}
	for _, i := range all {
		if i.ID == id {
			return i, nil
		}
	}
	return Item{}, refuse(ErrNotFound, "There is no such item.")
}

// ItemWord says how somebody stands in an item.
type ItemWord string

// The words.
const (
	ItemCurrent ItemWord = "current"
	ItemDue     ItemWord = "due"
	ItemLapsed  ItemWord = "lapsed" // since the day after the due day
	ItemNotDone ItemWord = "not done"
)

// ItemWords are all, those first for which something is to be done.
var ItemWords = []ItemWord{ItemLapsed, ItemNotDone, ItemDue, ItemCurrent}

// ItemStanding is how somebody stands in an item on a day.
type ItemStanding struct {
	Item   Item
	Person Person
	Needed bool // they have to have it
	Word   ItemWord
	Due    Day        // "" when it does not come again, and while it is not done
	Entry  *ItemEntry // that holds; nil while it is not done
}

// FoldItem works out how somebody
// stands in an item on a day: the latest day of an entry that holds counts; of two of one day
// the one entered last. An expiry day is the due day, else it comes again after the item's
// months by Day.AddMonths. It is due NoticeDays before that day, included, and lapsed the day
// after it. Nobody stands in what they neither need nor have.
func FoldItem(p Person, i Item, entries []ItemEntry, today Day) (st ItemStanding, any bool) {
	st = ItemStanding{Item: i, Person: p, Word: ItemNotDone, Needed: i.NeededBy(p) && p.EmployedIn(today, today)}
	for n := range entries {
		e := &entries[n]
		if e.ItemID != i.ID || e.PersonID != p.ID || e.On > today || !e.Holds() {
			continue
		}
		if st.Entry == nil || e.On > st.Entry.On || e.On == st.Entry.On && e.Leaf > st.Entry.Leaf {
			st.Entry = e
		}
	}
	if st.Entry == nil {
		return st, st.Needed
	}
	if st.Due = st.Entry.Expires; st.Due == "" && i.EveryMonths > 0 {
		st.Due = st.Entry.On.AddMonths(i.EveryMonths)
	}
	switch {
	case st.Due != "" && today > st.Due:
		st.Word = ItemLapsed
	case st.Due != "" && today >= st.Due.AddDays(-i.NoticeDays):
		st.Word = ItemDue
	default:
		st.Word = ItemCurrent
	}
	return st, true
}
