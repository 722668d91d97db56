package exports

import (
	"cmp"
	"strings"

	"stillwet/internal/training"
)

const itemsName = "Other annual items"

// items is how people stand in other annual items, and what was entered of days of the
// period. A row without a standing is an entry that another has followed, or that holds no
// longer.
func (b *book) items(a training.Annual) error {
	type row = training.ItemRow
	entry := func(value func(*training.ItemEntry) any) func(row) any {
		return func(i row) any {
			if i.Entry == nil {
				return nil
			}
			return value(i.Entry)
		}
	}
	return write(b, table[row]{name: itemsName, rows: a.Items, whose: []column[row]{
		{"Person", 18, text, func(i row) any { return i.Person.Name }},
	}, pages: [][]column[row]{{
		{"Item", 20, text, func(i row) any { return i.Item.Title }},
		{"Standing", 11, strong, func(i row) any { return i.Word }},
		{"Due", 12, date, func(i row) any { return day(i.Due) }},
		{"Day", 12, date, entry(func(e *training.ItemEntry) any { return day(e.On) })},
		{"Job title then", 15, text, entry(func(e *training.ItemEntry) any { return e.Job })},
		{"Trainer", 19, prose, entry(func(e *training.ItemEntry) any {
			return strings.Join(withoutEmpty(e.Trainer, e.Qualification), ", ")
		})},
		{"Content", 18, prose, entry(func(e *training.ItemEntry) any { return e.Content })},
		{"Evidence", 20, prose, entry(func(e *training.ItemEntry) any { return e.Evidence })},
		{"Put right", 20, prose, entry(func(e *training.ItemEntry) any { return b.entryState(*e) })},
	}}, keys: []column[row]{
		{"Entered by", 18, text, entry(func(e *training.ItemEntry) any { return cmp.Or(e.ByName, "who runs the server") })},
		{ledgerNo, 9, count, entry(func(e *training.ItemEntry) any { return e.Leaf })},
		{"Entry id", 37, id, func(i row) any {
			if i.Entry == nil {
				return i.Item.ID + "/" + i.Person.ID
			}
			return i.Entry.ID
		}},
	}})
}

func withoutEmpty(texts ...string) (some []string) {
	for _, t := range texts {
		if t != "" {
			some = append(some, t)
		}
	}
	return some
}

// entryState says what became of an entry, and what it stands for.
func (b *book) entryState(e training.ItemEntry) string {
	switch {
	case e.End.At != "":
		return "Withdrawn " + b.endWords(e.End)
	case e.CorrectedBy != "":
		return "Corrected: another entry stands for it"
	case e.Corrects != "":
		return "Stands for an entry that was wrong: " + e.Why
	}
	return ""
}
