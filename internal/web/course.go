package web

import (
	"errors"

	"stillwet/internal/assess"
	"stillwet/internal/course"
	"stillwet/internal/training"
	"stillwet/views"
)

// coursePart shows what is read or watched; what is practised or tested is a scenario.
func coursePart(v *visit) error { return v.showPart(200, "") }

func (v *visit) showPart(status int, wrong string) error {
	page, err := v.Service.CoursePart(v.ctx, v.actor, v.Params("module"), v.Params("part"))
	if err != nil {
		return err
	}
	part := page.Way.Parts[page.Part].Part
	f := v.frame(part.Title(), views.AtPractice)
	onward := views.OnwardFrom(page.Ways, page.Way.Module.ID, page.Part)
	switch part.Kind {
	case course.Read:
		return v.page(status, views.LessonPage(f, views.Lesson{Page: page, Said: v.Query("said"), Problem: wrong, Onward: onward}))
	case course.Watch:
		p, err := v.procedureOf(part.Scenario.Procedure)
		if err != nil {
			return err
		}
		example, err := part.Example()
		if err != nil {
			return err
		}
		f.Script = "player.js"
		return v.page(status, views.WatchPartPage(f, views.WatchPart{Page: page, Procedure: p, Example: example, Onward: onward}))
	}
	return v.goTo(views.PartURL(page.Way.Module, part))
}

// courseModule shows a module with all its parts.
func courseModule(v *visit) error {
	way, err := v.Service.CourseModule(v.ctx, v.actor, v.Params("module"))
	if err != nil {
		return err
	}
	return v.page(200, views.ModulePage(v.frame(way.Module.Title, views.AtPractice), views.ModuleView{Way: way}))
}

// onward is where the actor goes on in the course after an attempt at a scenario of it, and
// the module that it is a test of, where that is passed.
func (v *visit) onward(a training.Attempt) (on *views.Onward, passed string, err error) {
	ways, err := v.Service.CourseWays(v.ctx, v.actor)
	module, part := training.PartOf(ways, a.ScenarioID, a.Guided)
	for _, w := range ways {
		if w.Module.ID == module && w.Passed && !a.Guided && a.Outcome == assess.Pass {
			passed = w.Module.Title
		}
	}
	return views.OnwardFrom(ways, module, part), passed, err
}

func answerQuestion(v *visit) error {
	in, err := v.form("key", "question")
	if err != nil {
		return err
	}
	choice, err := number(in["choice"])
	if in["choice"] == "" {
		choice, err = 0, nil // nothing was chosen, which the services refuse in words
	}
	if err != nil {
		return err
	}
	_, err = v.Service.Answer(v.ctx, v.actor, in["key"], v.Params("module"), v.Params("part"), in["question"], choice)
	if errors.Is(err, training.ErrInvalid) {
		status, text := explain(err)
		return v.showPart(status, text)
	}
	if err != nil {
		return err
	}
	return v.goTo("/course/" + v.Params("module") + "/" + v.Params("part") + "?said=" + queryText(in["question"]) + "#answer")
}

func seenExample(v *visit) error {
	in, err := v.form("key")
	if err != nil {
		return err
	}
	if err := v.Service.Seen(v.ctx, v.actor, in["key"], v.Params("module"), v.Params("part")); err != nil {
		return err
	}
	return v.goTo("/course/" + v.Params("module") + "/" + v.Params("part") + "#question")
}

func setOrientation(v *visit) error {
	in, err := v.form("key", "preceptor", "last-day")
	if err != nil {
		return err
	}
	o := training.Orientation{PersonID: v.Params("id"), PreceptorID: in["preceptor"], LastDay: training.Day(in["last-day"])}
	_, err = v.Service.SetOrientation(v.ctx, v.actor, in["key"], o)
	if errors.Is(err, training.ErrInvalid) {
		status, text := explain(err)
		return v.showRecord(status, views.Record{WrongFor: views.OrientationCard, Wrong: text, Given: o})
	}
	if err != nil {
		return err
	}
	return v.goTo("/people/" + v.Params("id") + "#course")
}
