package training

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"strings"

	"stillwet/internal/procedure"
	"stillwet/internal/roster"
)

// plannedEntry is a row of a list of items that is entered.
type plannedEntry struct {
	row    int
	entry  ItemEntry
	person Person
}

// PreviewItems compares a list with what was entered. Educators only; nothing is written.
func (s *Service) PreviewItems(ctx context.Context, actor Actor, f *roster.List) (plan ListPlan, err error) {
	if err := need(actor, Educator); err != nil {
		return plan, err
	}
	return s.OwnersItems(ctx, f)
}

// OwnersItems is the same for whoever owns the data folder.
func (s *Service) OwnersItems(ctx context.Context, f *roster.List) (plan ListPlan, err error) {
	err = s.Records.Snapshot(ctx, func(r Reader) error {
		plan, _, err = s.planItems(ctx, r, f)
		return err
	})
	return plan, err
}

// ConfirmItems enters all that a list says, or nothing: ErrInvalid when there is a fault in
// it, ErrConflict when it would do something else than what was seen. Educators only.
func (s *Service) ConfirmItems(ctx context.Context, actor Actor, key string, f *roster.List, seen string) (done ListCount, err error) {
	if err := need(actor, Educator); err != nil {
		return done, err
	}
	a, err := ask(actor.Person.ID, key, "import items", f.Lines, len(f.Faults), seen)
	if err != nil {
		return done, err
	}
	answer, _, err := s.once(ctx, a, nil, func(u Unit) (string, error) {
		plan, rows, err := s.planItems(ctx, u, f)
		switch {
		case err != nil:
			return "", err
		case len(plan.Faults) > 0:
			return "", refuse(ErrInvalid, "There are %s in the list. Nothing was imported.", countOf(len(plan.Faults), "fault", "faults"))
		case plan.Seen != seen:
			return "", refuse(ErrConflict, "Something was entered or changed since this was shown. Look through it again; nothing was imported.")
		}
		text, _ := json.Marshal(ListCount{len(plan.New), plan.Same}) // two numbers
		return string(text), s.keepItems(ctx, u, rows, actor.Person)
	})
	if err == nil {
		err = json.Unmarshal([]byte(answer), &done)
	}
	return done, err
}

// ImportItems is ConfirmItems by whoever owns the data folder, who has seen nothing before.
func (s *Service) ImportItems(ctx context.Context, f *roster.List) (plan ListPlan, err error) {
	err = s.Records.Write(ctx, func(u Unit) error {
		var rows []plannedEntry
		if plan, rows, err = s.planItems(ctx, u, f); err != nil || len(plan.Faults) > 0 {
			return err
		}
		return s.keepItems(ctx, u, rows, Person{})
	})
	return plan, err
}

func (s *Service) keepItems(ctx context.Context, u Unit, rows []plannedEntry, by Person) error {
	for _, x := range rows {
		if err := s.keepEntry(ctx, u, x.entry, x.person, Person{}, by); err != nil {
			return fmt.Errorf("row %d: %w", x.row, err)
		}
	}
	return nil
}

func (s *Service) planItems(ctx context.Context, r Reader, f *roster.List) (plan ListPlan, rows []plannedEntry, err error) {
	l, err := newLister(ctx, r, f)
	if err != nil {
		return plan, nil, err
	}
	items, err := r.Items(ctx)
	if err != nil {
		return plan, nil, err
	}
	had, err := r.ItemEntries(ctx, ItemEntryQuery{})
	if err != nil {
		return plan, nil, err
	}
	by := map[string][]ItemEntry{}
	for _, e := range had {
		by[e.PersonID] = append(by[e.PersonID], e)
	}
	for _, line := range f.Lines {
		x, item, ok := s.entryOfLine(l, items, line)
		if !ok || l.again(line, strings.Join([]string{x.person.ID, item.ID, string(x.entry.On)}, " ")) {
			continue
		}
		if i := slices.IndexFunc(by[x.person.ID], x.entry.sameDay); i >= 0 {
			if was := by[x.person.ID][i]; was.Holds() && !x.entry.agreesWith(was) {
				l.wrong(line, roster.On, "There is an entry of this day for %s already, and it says something else. Correct that entry on its page, or make the row as it is there.", x.person.Name)
			} else {
				plan.Same++ // also what was put right here since
			}
			continue
		}
		rows = append(rows, x)
		plan.New = append(plan.New, Listed{Row: x.row, Person: x.person, On: x.entry.On, Of: item.Title,
			Facts: factsOf("given by", x.entry.Trainer, "qualification", x.entry.Qualification, "evidence", x.entry.Evidence, "expires", x.entry.Expires.Said())})
	}
	plan.Faults = l.sorted()
	text, err := json.Marshal([]any{plan.New, plan.Same, rowsText(rows)})
	plan.Seen = procedure.Digest(text)
	return plan, rows, err
}

func rowsText(rows []plannedEntry) (all []ItemEntry) {
	for _, x := range rows {
		all = append(all, x.entry)
	}
	return all
}

// factsOf are terms with what they say, where they say anything.
func factsOf(pairs ...string) (all []string) {
	for i := 0; i+1 < len(pairs); i += 2 {
		if pairs[i+1] != "" {
			all = append(all, pairs[i]+" "+pairs[i+1])
		}
	}
	return all
}

// sameDay reports whether another entry is of the same item, person and day. Of several the
// one that was entered last comes first.
func (e ItemEntry) sameDay(o ItemEntry) bool {
	return e.ItemID == o.ItemID && e.PersonID == o.PersonID && e.On == o.On
}

// agreesWith reports whether a row says nothing else than an entry; what it leaves empty, it
// does not say.
func (e ItemEntry) agreesWith(o ItemEntry) bool {
	for _, x := range [][2]string{{e.Job, o.Job}, {e.Trainer, o.Trainer}, {e.Qualification, o.Qualification}, {e.Content, o.Content}, {e.Evidence, o.Evidence}, {string(e.Expires), string(o.Expires)}} {
		if x[0] != "" && x[0] != x[1] {
			return false
		}
	}
	return true
}

// entryOfLine makes an entry of a line; what is wrong is noted.
func (s *Service) entryOfLine(l *lister, items []Item, line roster.Line) (x plannedEntry, item Item, ok bool) {
	if line.Bad {
		return x, item, false
	}
	p, whose := l.whose(line)
	says := line.Says[roster.Item]
	i := slices.IndexFunc(items, func(i Item) bool { return strings.EqualFold(i.Title, says) || i.ID == says })
	switch {
	case says == "":
		l.wrong(line, roster.Item, "The item is missing. Write its title.")
	case i < 0:
		l.wrong(line, roster.Item, "There is no such item here. Write its title as it is here, or add the item first.")
	case items[i].Retired:
		l.wrong(line, roster.Item, "This item is retired: nothing more is entered for it.")
	default:
		item, ok = items[i], true
	}
	x = plannedEntry{row: line.Row, person: p, entry: ItemEntry{ItemID: item.ID, Version: item.Seq, PersonID: p.ID, On: Day(line.Says[roster.On]), Job: line.Says[roster.Job],
		Trainer: line.Says[roster.Trainer], Qualification: line.Says[roster.Qualification], Content: line.Says[roster.Content], Evidence: line.Says[roster.Evidence],
		Expires: Day(line.Says[roster.Expires])}}
	field := roster.Evidence
	if on := x.entry.On; on == "" || on > s.Today() || on < firstHired {
		field = roster.On
	} else if x.entry.Expires != "" && x.entry.Expires < on {
		field = roster.Expires
	}
	return x, item, l.sentences(line, field, s.checkEntry(&x.entry)) && whose && ok
}
