package training

import (
	"cmp"
	"context"
	"slices"
)

// ItemReader finds other annual items.
type ItemReader interface {
	// Items are all as they are now, by title; ItemVersions one in all its versions, oldest first.
	Items(ctx context.Context) ([]Item, error)
	ItemVersions(ctx context.Context, itemID string) ([]Item, error)
	// ItemEntries are the latest day first, also those that hold no longer.
	ItemEntries(ctx context.Context, q ItemEntryQuery) ([]ItemEntry, error)
	ItemVersionsAt(ctx context.Context, leaves []int64) ([]Item, error)
	ItemEntriesAt(ctx context.Context, leaves []int64) ([]ItemEntry, error)
}

// ItemWriter keeps them.
type ItemWriter interface {
	AddItemVersion(ctx context.Context, i Item) error
	AddItemEntry(ctx context.Context, e ItemEntry) error
}

// ItemEntryQuery narrows ItemEntries; empty fields do not.
type ItemEntryQuery struct {
	ID, ItemID, PersonID string
	Corrects             string // id of the one that it stands for
	Since                Day    // only of this day and later ones
}

// ItemSum is an item with how many stand how in it.
type ItemSum struct {
	Item   Item
	Counts map[ItemWord]int // of who needs it
}

// Items are all items with how many people stand how. Educators and managers only.
func (s *Service) Items(ctx context.Context, actor Actor) (all []ItemSum, err error) {
	if err := need(actor, Educator, Manager); err != nil {
		return nil, err
	}
	err = s.Records.Snapshot(ctx, func(r Reader) error {
		items, standings, _, err := s.itemStandings(ctx, r, ItemEntryQuery{})
		for _, i := range items {
			sum := ItemSum{Item: i, Counts: map[ItemWord]int{}}
			for _, st := range standings {
				if st.Item.ID == i.ID && st.Needed {
					sum.Counts[st.Word]++
				}
			}
			all = append(all, sum)
		}
		return err
	})
	return all, err
}

// itemStandings are how people stand in items on the clinic's day, of the entries that a
// query asks for: by what is to be done, then by name.
func (s *Service) itemStandings(ctx context.Context, r Reader, q ItemEntryQuery) ([]Item, []ItemStanding, []ItemEntry, error) {
	items, err := r.Items(ctx)
	if err != nil {
		return nil, nil, nil, err
	}
	entries, err := r.ItemEntries(ctx, q)
	if err != nil {
		return nil, nil, nil, err
	}
	people, err := r.People(ctx)
	if q.PersonID != "" {
		people = slices.DeleteFunc(people, func(p Person) bool { return p.ID != q.PersonID })
	}
	return items, foldItems(items, people, entries, s.Today()), entries, err
}

// foldItems are how people stand in items on a day.
func foldItems(items []Item, people []Person, entries []ItemEntry, today Day) (all []ItemStanding) {
	type of struct{ item, person string }
	by := map[of][]ItemEntry{}
	for _, e := range entries {
		by[of{e.ItemID, e.PersonID}] = append(by[of{e.ItemID, e.PersonID}], e)
	}
	for _, i := range items {
		for _, p := range people {
			if st, any := FoldItem(p, i, by[of{i.ID, p.ID}], today); any {
				all = append(all, st)
			}
		}
	}
	slices.SortStableFunc(all, func(a, b ItemStanding) int {
		return cmp.Or(cmp.Compare(slices.Index(ItemWords, a.Word), slices.Index(ItemWords, b.Word)), cmp.Compare(a.Due, b.Due), cmp.Compare(a.Person.Name, b.Person.Name))
	})
	return all
}

// ItemPage is an item with who has it and who is to.
type ItemPage struct {
	Item      Item
	Versions  []Item // oldest first
	Standings []ItemStanding
	Entries   []ItemEntry // the latest day first
	People    []Person    // who works here now, by name
	Names     map[string]string
}

// Item is one item. Educators and managers only.
func (s *Service) Item(ctx context.Context, actor Actor, id string) (page ItemPage, err error) {
	if err := need(actor, Educator, Manager); err != nil {
		return page, err
	}
	err = s.Records.Snapshot(ctx, func(r Reader) error {
		items, standings, entries, err := s.itemStandings(ctx, r, ItemEntryQuery{ItemID: id})
		if err != nil {
			return err
		}
		n := slices.IndexFunc(items, func(i Item) bool { return i.ID == id })
		if n < 0 {
			return refuse(ErrNotFound, "There is no such item.")
		}
		page = ItemPage{Item: items[n], Entries: entries, Names: map[string]string{}}
		for _, st := range standings {
			if st.Item.ID == id && st.Person.EmployedIn(s.Today(), s.Today()) {
				page.Standings = append(page.Standings, st)
			}
		}
		if page.Versions, err = r.ItemVersions(ctx, id); err != nil {
			return err
		}
		people, err := r.People(ctx)
		for _, p := range people {
			if page.Names[p.ID] = p.Name; !s.gone(p) {
				page.People = append(page.People, p)
			}
		}
		return err
	})
	return page, err
}

// ItemsOf is how somebody stands in items, and what was entered for them.
type ItemsOf struct {
	Standings []ItemStanding
	Entries   []ItemEntry // the latest day first
	Titles    map[string]string
}

// ItemsOfPerson is one's own, or anyone's for preceptors, educators and managers.
func (s *Service) ItemsOfPerson(ctx context.Context, actor Actor, personID string) (of ItemsOf, err error) {
	if err := need(actor, everybody...); err != nil {
		return of, err
	}
	if !mayRead(actor, personID) {
		return of, refuse(ErrNotFound, "There is no such person.")
	}
	err = s.Records.Snapshot(ctx, func(r Reader) error {
		p, err := r.Person(ctx, personID)
		if err != nil {
			return said(err, ErrNotFound, "There is no such person.")
		}
		of, err = s.itemsOf(ctx, r, p)
		return err
	})
	return of, err
}

func (s *Service) itemsOf(ctx context.Context, r Reader, p Person) (of ItemsOf, err error) {
	items, err := r.Items(ctx)
	if err != nil {
		return of, err
	}
	of.Titles = titlesOf(items)
	if of.Entries, err = r.ItemEntries(ctx, ItemEntryQuery{PersonID: p.ID}); err != nil {
		return of, err
	}
	of.Standings = foldItems(items, []Person{p}, of.Entries, s.Today())
	return of, nil
}

func titlesOf(items []Item) map[string]string {
	titles := map[string]string{}
	for _, i := range items {
		titles[i.ID] = i.Title
	}
	return titles
}

// ItemEntryPage is one entry with the item, the person, and what it was corrected from and by.
type ItemEntryPage struct {
	Entry  ItemEntry
	Item   Item
	Person Person
	Items  []Item // that a correction may choose from
	People []Person
}

// ItemEntry is an entry of oneself, or of anyone for preceptors, educators and managers.
func (s *Service) ItemEntry(ctx context.Context, actor Actor, id string) (page ItemEntryPage, err error) {
	if err := need(actor, everybody...); err != nil {
		return page, err
	}
	err = s.Records.Snapshot(ctx, func(r Reader) error {
		e, err := entryOf(ctx, r, id)
		if err == nil && !mayRead(actor, e.PersonID) {
			err = refuse(ErrNotFound, "There is no such entry.")
		}
		if err != nil {
			return err
		}
		page.Entry = e
		if page.Item, err = s.item(ctx, r, e.ItemID); err != nil {
			return err
		}
		if page.Person, err = r.Person(ctx, e.PersonID); err != nil || !actor.Person.Has(Educator) {
			return err
		}
		if page.Items, err = r.Items(ctx); err != nil {
			return err
		}
		page.People, err = r.People(ctx)
		return err
	})
	return page, err
}

// ItemRow is a row of the workbook: a standing with the entry that holds, or without a word
// an entry that another one has followed, or that holds no longer.
type ItemRow struct {
	Item   Item
	Person Person
	Needed bool
	Word   ItemWord
	Due    Day
	Entry  *ItemEntry
}

// itemRows are the standings in items on a day of who was employed in the year, then the
// other entries of its days, latest first.
func (s *Service) itemRows(ctx context.Context, r Reader, people []Person, a *Annual) (rows []ItemRow, err error) {
	items, err := r.Items(ctx)
	if err != nil {
		return nil, err
	}
	entries, err := r.ItemEntries(ctx, ItemEntryQuery{})
	if err != nil {
		return nil, err
	}
	told := map[string]bool{}
	for _, st := range foldItems(items, people, entries, a.AsOf) {
		if !st.Person.EmployedIn(a.From, a.AsOf) {
			continue
		}
		if rows = append(rows, ItemRow(st)); st.Entry != nil {
			told[st.Entry.ID] = true
		}
	}
	by := map[string]Item{}
	for _, i := range items {
		by[i.ID] = i
	}
	for n, e := range entries {
		if e.On >= a.From && e.On <= a.To && !told[e.ID] {
			rows = append(rows, ItemRow{Item: by[e.ItemID], Person: a.People[e.PersonID], Entry: &entries[n]})
		}
	}
	return rows, nil
}
