package web

import (
	"fmt"

	"stillwet/internal/course"
	"stillwet/internal/procedure"
	"stillwet/internal/simulate"
	"stillwet/internal/training"
	"stillwet/views"
)

// readProcedure shows a procedure as a person reads it: the one in force, or one that a
// record names by its hash.
func readProcedure(v *visit) error {
	id, hash := v.Params("id"), v.Query("as")
	lib, older, err := v.libraryAsked()
	if err != nil {
		return err
	}
	p, ok := lib.Procedure(id)
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
	if older == "" || v.Query("version") != "" {
		if page.Steps, err = v.rightOrder(lib, p); err != nil {
			return err
		}
	}
	return v.page(200, views.ProcedurePage(v.frame(p.Definition.Title, views.AtHelp), page))
}

// libraryAsked is what holds, or the version that the address names: who has to read what
// changed reads it before it holds.
func (v *visit) libraryAsked() (lib training.Library, note string, err error) {
	if v.Query("version") == "" {
		return v.Library, "", nil
	}
	n, err := number(v.Query("version"))
	if err != nil {
		return nil, "", problem{404, "There is no such version of the clinic's procedure."}
	}
	lib, err = v.Service.SetLibrary(v.ctx, v.actor, n)
	return lib, fmt.Sprintf("This is the procedure as version %d of the clinic's set has it.", n), err
}

// rightOrder is the model of the easiest order of a procedure.
func (v *visit) rightOrder(lib training.Library, p *procedure.Procedure) ([]course.StepRow, error) {
	for _, s := range lib.Scenarios() {
		if s.Procedure == p.Definition.ID && s.Kind == simulate.BuildOrder {
			return v.orders.get(p.Hash+s.Hash, func() ([]course.StepRow, error) { return course.RightOrder(p, s) })
		}
	}
	return nil, nil
}
