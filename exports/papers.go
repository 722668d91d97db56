package exports

import (
	"stillwet/internal/training"
)

const papersName = "From paper"

// papers are the sign-offs from before this program, of whatever year, with what became of
// them.
func (b *book) papers(a training.Annual) error {
	type row = training.EarlierLine
	return write(b, table[row]{name: papersName, rows: a.Earlier, whose: []column[row]{
		{"Person", 18, text, func(l row) any { return l.Name }},
	}, pages: [][]column[row]{{
		{"Competency", 20, text, func(l row) any { return a.Title(l.Competency) }},
		{"Signed on", 12, date, func(l row) any { return day(l.On) }},
		{"Signed by, on paper", 18, text, func(l row) any { return l.SignedBy }},
		{"Due", 12, date, func(l row) any { return day(l.Due) }},
		{"Where the paper lies", 24, prose, func(l row) any { return l.Evidence }},
		{"Other site", 16, prose, func(l row) any { return l.Site }},
		{"Shown here", 8, text, func(l row) any { return map[bool]string{true: "yes", false: "no"}[l.Here] }},
		{"Put right", 22, prose, func(l row) any { return b.paperState(l) }},
	}}, keys: []column[row]{
		{"Staff no.", 8, text, func(l row) any { return l.StaffNo }},
		{"Confirmed by", 18, text, func(l row) any { return l.Batch.ByName }},
		{"Confirmed on", 12, date, func(l row) any { return day(l.Batch.At.Day(b.zone)) }},
		{ledgerNo, 9, count, func(l row) any { return l.Batch.Leaf }},
		{"Earlier sign-off id", 37, id, func(l row) any { return l.ID }},
	}})
}

// paperState says what became of one, and what it stands for.
func (b *book) paperState(l training.EarlierLine) string {
	switch {
	case l.By != "":
		return "Corrected " + b.endWords(l.End)
	case l.End.At != "":
		return "Withdrawn " + b.endWords(l.End)
	case l.Corrects != "":
		return "Stands for one that was wrong: " + l.Why
	}
	return ""
}
