package web

import "stillwet/views"

// waits is what waits in the whole clinic.
func waits(v *visit) error {
	desk, err := v.Service.ClinicDesk(v.ctx, v.actor)
	if err != nil {
		return err
	}
	w := views.Waits{ClinicDesk: desk, Titles: map[string]string{}}
	for _, c := range v.Library.Competencies() {
		w.Titles[c.ID] = c.Title
	}
	return v.page(200, views.WaitsPage(v.frame("What waits in the clinic", views.AtPeople), w))
}
