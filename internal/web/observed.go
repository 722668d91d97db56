package web

import (
	"strconv"
	"strings"

	"stillwet/views"
)

func observationRoutes() []route {
	return []route{
		{"GET", views.ObservationsURL, counters, observations, noBody, ""},
		{"POST", views.ObservationsURL + "/target", teachers, setObservationTarget, aComment, "target of observations changed"},
	}
}

// observations is the page of a month's station observations.
func observations(v *visit) error {
	return v.showObservations(200, v.Query("month"), views.Observations{})
}

func (v *visit) showObservations(status int, month string, o views.Observations) (err error) {
	if o.Observing, err = v.Service.ObservedIn(v.ctx, v.actor, month); err != nil {
		return err
	}
	o.Titles = map[string]string{}
	for _, c := range v.Library.Competencies() {
		o.Titles[c.ID] = c.Title
	}
	return v.page(status, views.ObservationsPage(v.frame("Station observations", views.AtPeople), o))
}

// setObservationTarget keeps another target of a month; what is refused is told at the form.
func setObservationTarget(v *visit) error {
	in, err := v.form("key", "seen", "month", "monthly", "why")
	if err != nil {
		return err
	}
	again := views.Observations{Typed: typed(in)}
	seen, err := strconv.Atoi(in["seen"])
	if err != nil {
		return problem{400, "The form comes without the version that was seen. Load the page again."}
	}
	monthly, err := strconv.Atoi(strings.TrimSpace(in["monthly"]))
	if err != nil {
		again.Wrong = "The target is no whole number. Write it as 10."
		return v.showObservations(422, in["month"], again)
	}
	if again.Wrong = patientWarning(in, "why"); again.Wrong != "" {
		again.Typed = typed(in)
		return v.showObservations(422, in["month"], again)
	}
	err = v.Service.SetObservationTarget(v.ctx, v.actor, in["key"], seen, monthly, in["why"])
	if status, text, is := atForm(err); is {
		again.Wrong = text
		return v.showObservations(status, in["month"], again)
	}
	if err != nil {
		return err
	}
	return v.goTo(views.ObservationsURL)
}
