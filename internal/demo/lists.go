package demo

import "stillwet/internal/training"

// What the demo clinic asks for by date and evidence only; titles are invented.
const (
	pathogens = "Blood-borne pathogens, yearly class"
	licence   = "Technician's certificate"
)

// dayAgo is a day so many days before today.
func (f *filler) dayAgo(n int) training.Day {
	return training.InstantOf(f.Today.AddDate(0, 0, -n)).Day(f.Zone)
}

// asksForItems adds two items.
func asksForItems(f *filler) {
	for _, i := range []training.Item{
		{Title: pathogens, EveryMonths: 12, NoticeDays: 60, Everybody: true, KeepYears: 3, Content: "The clinic's exposure control plan, protective clothing, what to do after a splash, questions and answers."},
		{Title: licence, EveryMonths: 0, NoticeDays: 60, Jobs: "Technician", KeepYears: 3, Content: "The certificate of the state, with its own expiry day."},
	} {
		saved, err := f.service.SaveItem(f.ctx, f.as(educatorNo), f.key(), i)
		if f.ok(err) {
			f.items[i.Title] = saved.ID
		}
	}
}

// hadItem enters an item for some people: a class list.
func hadItem(title string, daysAgo int, expiresIn int, numbers ...string) func(*filler) {
	return func(f *filler) {
		var ids []string
		for _, n := range numbers {
			ids = append(ids, f.actors[n].Person.ID)
		}
		e := training.ItemEntry{ItemID: f.items[title], On: f.dayAgo(daysAgo), Trainer: "Dorle Imhaus", Qualification: "Infection control nurse",
			Content: "As the item says, with a tour of the dirty room.", Evidence: "Sign-in sheet, blue folder, page 2"}
		if expiresIn > 0 {
			e.Trainer, e.Qualification, e.Content, e.Evidence, e.Expires = "", "", "", "Copy in the staff file", f.dayAgo(-expiresIn)
		}
		f.ok(f.service.EnterItem(f.ctx, f.as(educatorNo), f.key(), e, ids))
	}
}

// correctsItem says that somebody's last entry was of another day.
func correctsItem(number string, daysAgo int) func(*filler) {
	return func(f *filler) {
		of, err := f.service.ItemsOfPerson(f.ctx, f.as(educatorNo), f.actors[number].Person.ID)
		if !f.ok(err) {
			return
		}
		is := of.Entries[0]
		is.On = f.dayAgo(daysAgo)
		_, err = f.service.CorrectItemEntry(f.ctx, f.as(educatorNo), f.key(), of.Entries[0].ID, is, "The sign-in sheet has the date of the second group.", training.DemoPassword)
		f.ok(err)
	}
}

// fromPaper enters a sign-off of before the program.
func fromPaper(number string, daysAgo int, site string) func(*filler) {
	return func(f *filler) {
		f.ok(f.service.EnterEarlier(f.ctx, f.as(educatorNo), f.key(), training.EarlierLine{PersonID: f.actors[number].Person.ID, Competency: f.competency.ID, On: f.dayAgo(daysAgo),
			SignedBy: "Henrike Osthoff", Evidence: "Old checklists, green folder", Site: site, Here: site == ""}, training.DemoPassword))
	}
}
