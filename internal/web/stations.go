package web

import (
	"stillwet/internal/procedure"
	"stillwet/internal/training"
	"stillwet/scenarios"
	"stillwet/views"
)

// stationsOf are the names of the variants by whose procedures some demonstrations were
// shown, as far as they are in force.
func (v *visit) stationsOf(all []training.Demonstration) map[string]string {
	names := map[string]string{}
	for _, d := range all {
		if p, ok := v.Library.Procedure(d.Procedure); ok && p.Variant != "" {
			names[d.Procedure] = p.Variant
		}
	}
	return names
}

// withItsVariants is a procedure of whatever holds it, with its variants behind it: who
// works by it stands at either station.
func withItsVariants(of training.Library, id string) []*procedure.Procedure {
	p, ok := of.Procedure(id)
	if !ok {
		return nil
	}
	if shelf, ok := of.(*training.Shelf); ok {
		of = shelf.Current()
	}
	lib, ok := of.(*scenarios.Library)
	if !ok {
		return []*procedure.Procedure{p}
	}
	return withVariants(lib, []*procedure.Procedure{p})
}

// withVariants are procedures with the variants of each behind it.
func withVariants(lib *scenarios.Library, all []*procedure.Procedure) (with []*procedure.Procedure) {
	for _, p := range all {
		with = append(append(with, p), lib.Variants(p.ID)...)
	}
	return with
}

// variantForm is the form of a variant of the station, or of a new one.
func (b *bench) variantForm(form *views.EditForm, all []*procedure.Procedure) bool {
	if form.New {
		form.Title, form.Fields = "Another station", views.VariantFields(scenarios.StationVariant{}, all, true)
		form.Standing = "A machine of another make, or a bed instead of a chair. It has the settings and marks of the procedure that it is of."
		form.Aside = views.VariantAside
		return true
	}
	for _, x := range b.set.StationVariants() {
		if x.ID == form.Row {
			form.Title, form.Fields, form.Off, form.Aside = x.Title, views.VariantFields(x, all, false), x.Hidden, views.VariantAside
			return true
		}
	}
	return false
}

// coverField asks, where there are variants of a station, whether one covers all.
func (b *bench) coverField(of string) []views.EditField {
	if len(b.lib.Variants(of)) == 0 {
		return nil
	}
	each := false
	for _, c := range b.lib.Competencies() {
		each = each || c.Procedure == of && c.EachVariant
	}
	return []views.EditField{views.CoverField(each)}
}
