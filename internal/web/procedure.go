package web

import (
	"strconv"

	"stillwet/internal/course"
	"stillwet/internal/procedure"
	"stillwet/internal/simulate"
	"stillwet/internal/training"
	"stillwet/views"
)

// readProcedure shows a procedure as a person reads it: the one in force, the one that a
// record names by its hash, or that of a version of the set.
func readProcedure(v *visit) error {
	if in := v.Query("in"); in != "" {
		return v.readVersion(v.Params("id"), in)
	}
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
	page := views.ProcedureView{Procedure: p, Older: older}
	if older != "" {
		return v.read(nil, page)
	}
	version, err := v.Service.VersionInForce(v.ctx, v.actor)
	if err != nil {
		return err
	}
	page.Version = version
	return v.read(v.Library, page)
}

// readVersion shows a procedure as a version of the set has it: who has to read what changed
// reads it before it holds. The draft is for educators.
func (v *visit) readVersion(id, in string) error {
	lib, note, err := v.libraryOf(in)
	if err != nil {
		return err
	}
	p, ok := lib.Procedure(id)
	if !ok {
		return problem{404, "This version has no such procedure."}
	}
	return v.read(lib, views.ProcedureView{Procedure: p, Older: note})
}

// libraryOf is what a version has, with a sentence that says which it is.
func (v *visit) libraryOf(in string) (training.Library, string, error) {
	sets, err := v.Service.Sets(v.ctx, v.actor)
	if err != nil {
		return nil, "", err
	}
	if in == views.InDraft && v.actor.Person.Has(training.Educator) {
		b, none, err := v.bench(proved)
		if err == nil && (none || b.lib == nil || !b.draft.Open) {
			err = problem{404, "There is no draft that could be read."}
		}
		if err != nil {
			return nil, "", err
		}
		return b.lib, views.DraftNote, nil
	}
	for _, x := range sets.Versions {
		if strconv.Itoa(x.Number) == in {
			lib, err := v.Service.SetLibrary(v.ctx, v.actor, x.Number)
			return lib, views.VersionNote(x, sets.InForce), err
		}
	}
	return nil, "", problem{404, "There is no such version of the clinic's procedure."}
}

// read shows a procedure, with a right order where a library has one of it.
func (v *visit) read(lib training.Library, page views.ProcedureView) (err error) {
	page.Asked = course.Asked(page.Procedure)
	if lib != nil {
		if page.Steps, err = v.rightOrder(lib, page.Procedure); err != nil {
			return err
		}
		if base, ok := lib.Procedure(page.Procedure.VariantOf); ok {
			href := views.ProcedureURL(base.ID, "")
			if in := v.Query("in"); in != "" {
				href = views.ProcedureIn(base.ID, in)
			}
			page.Base = &views.Link{Href: href, Text: base.Definition.Title}
		}
	}
	return v.page(200, views.ProcedurePage(v.frame(page.Procedure.Definition.Title, views.AtHelp), page))
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
