package web

import "stillwet/views"

// today is who may work alone, for whoever has the right to that list.
func today(v *visit) error {
	list, err := v.Service.TodayFor(v.ctx, v.actor, v.Query("team"))
	if err != nil {
		return err
	}
	at := views.AtPeople
	if v.actor.Person.SeesToday {
		at = views.AtToday
	}
	f := v.frame("Today", at)
	f.Script = printScript
	return v.page(200, views.TodayPage(f, views.Today{TodayList: list, Team: v.Query("team")}))
}
