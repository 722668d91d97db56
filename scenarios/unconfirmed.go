package scenarios

import (
	"maps"
	"slices"

	"stillwet/internal/procedure"
)

// Value is a row without a published source that nobody of the clinic has confirmed, or a
// product whose label nobody has checked.
type Value struct {
	List, Row  string // as edits name them
	What       string
	Standing   procedure.BasisKind
	Procedures []string // ids of those that have it so
}

// Unconfirmed are all of them, those that procedures share once.
func (l *Library) Unconfirmed() (all []Value) {
	for _, id := range slices.Sorted(maps.Keys(l.procedures)) {
		for _, v := range UnconfirmedOf(l.procedures[id]) {
			i := slices.IndexFunc(all, func(x Value) bool {
				return x.List == v.List && x.Row == v.Row && x.What == v.What && x.Standing == v.Standing
			})
			if i < 0 {
				i, all = len(all), append(all, v)
			}
			all[i].Procedures = append(all[i].Procedures, id)
		}
	}
	return all
}

// UnconfirmedOf are those of one procedure.
func UnconfirmedOf(p *procedure.Procedure) (all []Value) {
	add := func(list, row, what string, b procedure.Basis, c procedure.Confirmed) {
		if b.Custom(c) {
			all = append(all, Value{List: list, Row: row, What: what, Standing: b.Kind})
		}
	}
	if p.VariantOf == "" { // a variant has those of the procedure that it is of
		add("settings", p.ID, "Settings of "+quote(p.Definition.Title), p.Settings.Basis, p.Settings.Confirmed)
		add("settings", p.ID, "Lowest score that passes "+quote(p.Definition.Title), p.MarkSheet.Basis, p.MarkSheet.Confirmed)
	}
	for _, s := range p.Surfaces {
		add("surfaces", s.ID, s.Title, s.Basis, s.Confirmed)
	}
	for _, it := range p.Items {
		add("items", it.ID, it.Title, it.Basis, it.Confirmed)
	}
	for _, pl := range p.Places {
		add("places", pl.ID, pl.Title, pl.Basis, pl.Confirmed)
	}
	for _, pr := range p.Products {
		if pr.CheckedBy == "" { // whatever its row rests on: the label is what counts
			all = append(all, Value{List: "products", Row: pr.ID, What: pr.Title, Standing: procedure.ClinicToConfirm})
			continue
		}
		add("products", pr.ID, pr.Title, pr.Basis, pr.Confirmed)
	}
	for _, o := range p.Order {
		add("order", o.Earlier+" "+o.Later, quote(p.Title(o.Earlier))+" before "+quote(p.Title(o.Later)), o.Basis, o.Confirmed)
	}
	for _, c := range p.Closing {
		add("closing", c.Step, p.Title(c.Step), c.Basis, c.Confirmed)
	}
	for i := range p.MarkSheet.Marks {
		if m := &p.MarkSheet.Marks[i]; customMark(m) { // as its rule, whatever it is worth
			add("marks", m.ID, m.Title, procedure.Basis{Kind: procedure.CommonPractice}, m.Confirmed)
		}
	}
	return all
}

// NotOwnYet names what a demonstration towards a sign-off waits for: that somebody of the
// clinic confirms the procedure's settings, and compares the label of each product in use.
func NotOwnYet(p *procedure.Procedure, products []string) (open []string) {
	if p.Settings.Basis.Custom(p.Settings.Confirmed) {
		open = append(open, "the settings of "+quote(p.Definition.Title))
	}
	for _, id := range products {
		if i := p.ProductIndex(id); i >= 0 && p.Products[i].CheckedBy == "" && p.Products[i].Confirmed.By == "" {
			open = append(open, "the label of "+p.Products[i].Title)
		}
	}
	return open
}
