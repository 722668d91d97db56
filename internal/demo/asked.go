package demo

import "stillwet/internal/training"

// thing is something that is asked of people, once the clinic has it.
type thing func(f *filler) training.Ask

func theItem(title string) thing {
	return func(f *filler) training.Ask { return training.Ask{Kind: training.ItemDuty, Of: f.items[title]} }
}

// aModule is the second of the course, where there is one.
func aModule(f *filler) (a training.Ask) {
	if all := f.Library.Modules(); len(all) > 1 {
		a = training.Ask{Kind: training.ModuleDuty, Of: all[1].ID}
	}
	return a
}

func aDemonstration(f *filler) training.Ask {
	return training.Ask{Kind: training.DemonstrationDuty, Of: f.competency.ID}
}

// asks has the educator ask something of people, to be done within some days.
func asks(what thing, within int, why string, numbers ...string) func(*filler) {
	return func(f *filler) {
		ask := what(f)
		if ask.Of == "" {
			return
		}
		ask.Due, ask.Why = f.service.Today().AddDays(within), why
		var ids []string
		for _, n := range numbers {
			ids = append(ids, f.actors[n].Person.ID)
		}
		seen, err := f.service.PreviewAssignment(f.ctx, f.as(educatorNo), ask, ids)
		if f.ok(err) {
			_, err = f.service.Assign(f.ctx, f.as(educatorNo), f.key(), ask, ids, seen.Seen)
			f.ok(err)
		}
	}
}
