package exports

import "stillwet/internal/training"

const askedName = "Asked of people"

// asked is what educators asked of people besides what follows from a version.
func (b *book) asked(a training.Annual) error {
	type row = training.DutyState
	return write(b, table[row]{name: askedName, rows: dutiesThat(a, func(d row) bool { return !d.FromVersion() }), whose: []column[row]{
		{"Person", 18, text, func(d row) any { return d.Name }},
	}, pages: [][]column[row]{{
		{"What", 28, prose, askedWords},
		{"By", 12, date, func(d row) any { return day(d.Due) }},
		{"How far", 13, strong, func(d row) any { return howFar(d, a.AsOf) }},
		{"Done on", 12, date, func(d row) any { return day(d.DoneAt.Day(b.zone)) }},
		{"Why", 24, prose, func(d row) any { return d.Why }},
		{"Asked by", 15, text, func(d row) any { return d.AssignedBy }},
		{"Asked on", 12, date, func(d row) any { return day(d.AssignedAt.Day(b.zone)) }},
		{"Staff no.", 8, text, func(d row) any { return d.StaffNo }},
		{"Taken back", 18, prose, takenBack},
	}}, keys: []column[row]{
		{"Ledger no.", 9, count, func(d row) any { return d.Leaf }},
		{"Taken back no.", 9, count, func(d row) any { return endLeaf(d) }},
		{"Demonstration id", 37, id, func(d row) any { return d.Demonstration }},
		{"Asked id", 37, id, func(d row) any { return d.ID }},
	}})
}

// dutiesThat are the duties of the year that are so.
func dutiesThat(a training.Annual, is func(training.DutyState) bool) (all []training.DutyState) {
	for _, d := range a.Duties {
		if is(d) {
			all = append(all, d)
		}
	}
	return all
}

func askedWords(d training.DutyState) any {
	switch d.Kind {
	case training.ModuleDuty:
		return "Module: " + d.Title
	case training.DemonstrationDuty:
		return "Demonstration: " + d.Title
	}
	return "Annual item: " + d.Title
}
