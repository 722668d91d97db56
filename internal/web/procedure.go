package web

import (
	"stillwet/internal/course"
	"stillwet/internal/procedure"
	"stillwet/internal/simulate"
	"stillwet/views"
)

// readProcedure shows a procedure as a person reads it: the one in force, or one that a
// record names by its hash.
func readProcedure(v *visit) error {
	id, hash := v.Params("id"), v.Query("as")
	var older string
	p, ok := v.Library.Procedure(id)
	if hash != "" && (!ok || hash != p.Hash) {
		then, text, whole, err := v.judgedBy(id, hash)
		if err != nil {
			return err
		}
		if !whole || then.Definition.ID != id {
			return problem{404, "The text of that version was not kept here."}
		}
		p, ok, older = then, true, text
	}
	if !ok {
		return problem{404, "There is no such procedure. Cautions and help shows those in force."}
	}
	page := views.ProcedureView{Procedure: p, Asked: course.Asked(p), Older: older}
	if older == "" {
		var err error
		if page.Steps, err = v.rightOrder(p); err != nil {
			return err
		}
	}
	return v.page(200, views.ProcedurePage(v.frame(p.Definition.Title, views.AtHelp), page))
}

// rightOrder is the model of the easiest order of a procedure.
func (v *visit) rightOrder(p *procedure.Procedure) ([]course.StepRow, error) {
	for _, s := range v.Library.Scenarios() {
		if s.Procedure == p.Definition.ID && s.Kind == simulate.BuildOrder {
			return v.orders.get(p.Hash+s.Hash, func() ([]course.StepRow, error) { return course.RightOrder(p, s) })
		}
	}
	return nil, nil
}
