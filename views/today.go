package views

import "stillwet/internal/training"

// TodayURL is the page of who may work alone today.
const TodayURL = "/today"

// Today is the list for a charge nurse, of one team or of all.
type Today struct {
	training.TodayList
	Team string
}

func (t Today) heading() string {
	if t.Team == "" {
		return "Today: who may work alone"
	}
	return "Today, " + t.Team + ": who may work alone"
}

func (t Today) menu() Menu {
	return teamMenu(t.Team, t.Teams)
}

// todayColumn is one of the three lists of a competency.
type todayColumn struct {
	heading string
	names   []training.TodayName
}

func todayColumns(p training.TodayPart) []todayColumn {
	return []todayColumn{{"May work alone", p.Alone}, {"Only with a preceptor", p.Watched}, {"May not do this work", p.Not}}
}
