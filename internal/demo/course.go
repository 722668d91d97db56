package demo

import (
	"time"

	"stillwet/internal/course"
	"stillwet/internal/training"
)

// orientation sets who looks after a new hire, for so many days from now.
func orientation(number, preceptor string, days int) func(*filler) {
	return func(f *filler) {
		_, err := f.service.SetOrientation(f.ctx, f.as(educatorNo), f.key(), training.Orientation{
			PersonID: f.actors[number].Person.ID, PreceptorID: f.actors[preceptor].Person.ID, LastDay: f.service.Today().AddDays(days),
		})
		f.ok(err)
	}
}

// studies reads the lessons and watches the examples of the nth module, where the library
// has one; the first answer of each lesson is wrong.
func studies(number string, n int) func(*filler) {
	return func(f *filler) {
		if n >= len(f.Library.Modules()) {
			return
		}
		m := f.Library.Modules()[n]
		for i := range m.Parts {
			f.pass(2 * time.Minute)
			switch p := &m.Parts[i]; p.Kind {
			case course.Read:
				f.answers(number, m.ID, p)
			case course.Watch:
				f.ok(f.service.Seen(f.ctx, f.as(number), f.key(), m.ID, p.ID()))
			}
		}
	}
}

func (f *filler) answers(number, module string, p *course.Part) {
	slipped := false
	for _, q := range p.Lesson.Questions {
		right := 0
		for i, o := range q.Options {
			f.pass(20 * time.Second)
			switch {
			case o.Right && right == 0:
				right = i + 1
			case !o.Right && !slipped:
				slipped = true
				f.answer(number, module, p, q.ID, i+1)
			}
		}
		f.answer(number, module, p, q.ID, right)
	}
}

func (f *filler) answer(number, module string, p *course.Part, question string, choice int) {
	_, err := f.service.Answer(f.ctx, f.as(number), f.key(), module, p.ID(), question, choice)
	f.ok(err)
}
