package views

import (
	"strconv"

	"stillwet/internal/procedure"
	"stillwet/internal/training"
)

// DeskOf are the lines of an educator's desk: change training, days that pass, values that
// nobody confirmed.
func DeskOf(desk training.ChangeDesk, today training.Day, procedures []*procedure.Procedure, unconfirmed, plans int) (all []DeskLine) {
	if plans > 0 {
		all = append(all, DeskLine{count(plans, "plan waits", "plans wait") + " to be opened or declined, after demonstrations that were not met.", "/watch#plans", either(plans == 1, "Look at it", "Look at them"), true})
	}
	for _, v := range desk.Waiting {
		all = append(all, DeskLine{"Version " + strconv.Itoa(v.Number) + " of the procedure waits to be approved.", VersionURL(v.Number), "See what it changes", false})
	}
	for _, c := range desk.Versions {
		if c.Overdue > 0 {
			text := strconv.Itoa(c.Overdue) + " overdue, " + strconv.Itoa(c.Open) + " still to do because of version " + strconv.Itoa(c.Version) + " of the procedure."
			all = append(all, DeskLine{text, VersionURL(c.Version) + "#done", "See who", true})
		}
	}
	for _, v := range desk.Unsaid {
		text := "Version " + strconv.Itoa(v.Number) + " of the procedure was approved. Say what follows from it for whom, or that nothing does."
		all = append(all, DeskLine{text, VersionURL(v.Number) + "#follow", "Say what follows", false})
	}
	if m := desk.Newcomers; m.People > 0 {
		text := "Version " + strconv.Itoa(m.Version) + " of the procedure: " + count(m.People, "person", "people") + " came since and " + either(m.People == 1, "has", "have") + " not been asked."
		all = append(all, DeskLine{text, VersionURL(m.Version) + "#follow", "Add people to it", false})
	}
	for _, p := range procedures {
		if text, late := reviewText(p, today); text != "" {
			all = append(all, DeskLine{text, EditURL("settings", p.ID, p.ID), "Change the day", late})
		}
	}
	for _, c := range desk.Versions {
		if c.Overdue == 0 {
			text := strconv.Itoa(c.Open) + " still to do because of version " + strconv.Itoa(c.Version) + " of the procedure."
			all = append(all, DeskLine{text, VersionURL(c.Version) + "#done", "See who", false})
		}
	}
	if unconfirmed > 0 {
		all = append(all, DeskLine{count(unconfirmed, "value of the procedure is", "values of the procedure are") + " not confirmed yet.", SetURL, "Look at them", false})
	}
	return all
}

// reviewNotice is how many days before its review a procedure is told.
const reviewNotice = 30

func reviewText(p *procedure.Procedure, today training.Day) (text string, late bool) {
	by, err := training.ParseDay(p.ReviewBy)
	if err != nil || by > today.AddDays(reviewNotice) {
		return "", false
	}
	if by < today {
		return "“" + p.Definition.Title + "” was to be reviewed by " + day(by) + ".", true
	}
	return "“" + p.Definition.Title + "” is to be reviewed by " + day(by) + ".", false
}
