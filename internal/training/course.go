package training

import (
	"context"
	"errors"
	"slices"

	"stillwet/internal/course"
)

// CourseAnswer is an answer to a question of a lesson. The first one of each question is
// kept with the others, for the numbers.
type CourseAnswer struct {
	PersonID, Module, Part, Question string
	Seq                              int // of the answers to this question, from 1
	At                               Instant
	Choice                           int // place of the option, from 1
	Step                             string
	Right                            bool
}

// PartPage is a part of a module as a person has it.
type PartPage struct {
	PersonID string
	Way      ModuleWay
	Part     int
	Ways     []ModuleWay    // of the whole course
	Answers  []CourseAnswer // oldest first, of this round
}

// Latest is the newest answer to a question.
func (p *PartPage) Latest(question string) (a CourseAnswer, ok bool) {
	for _, x := range p.Answers {
		if x.Question == question {
			a, ok = x, true
		}
	}
	return a, ok
}

// First is the first answer to a question, and how many there are.
func (p *PartPage) First(question string) (a CourseAnswer, tries int) {
	for _, x := range p.Answers {
		if x.Question == question {
			if tries++; tries == 1 {
				a = x
			}
		}
	}
	return a, tries
}

// part finds a part of a module, of a kind or of any.
func (s *Service) part(moduleID, partID string, kinds ...course.Kind) (*course.Module, *course.Part, error) {
	if m, ok := s.Library.Module(moduleID); ok {
		if n := m.Part(partID); n >= 0 && (len(kinds) == 0 || slices.Contains(kinds, m.Parts[n].Kind)) {
			return m, &m.Parts[n], nil
		}
	}
	return nil, nil, refuse(ErrNotFound, "There is no such part of the course. Your first page shows what there is.")
}

// CoursePart is a part of the course as the actor has it.
func (s *Service) CoursePart(ctx context.Context, actor Actor, moduleID, partID string) (PartPage, error) {
	if err := need(actor); err != nil {
		return PartPage{}, err
	}
	m, _, err := s.part(moduleID, partID)
	if err != nil {
		return PartPage{}, err
	}
	page := PartPage{PersonID: actor.Person.ID, Part: m.Part(partID)}
	err = s.Records.Snapshot(ctx, func(r Reader) error {
		ways, standings, err := s.ownWays(ctx, r, actor)
		if err != nil {
			return err
		}
		page.Ways, page.Way = ways, ways[slices.IndexFunc(ways, func(w ModuleWay) bool { return w.Module.ID == m.ID })]
		page.Answers, err = answersSince(ctx, r, actor.Person.ID, m, partID, standings)
		return err
	})
	return page, err
}

// CourseModule is a module as the actor has it.
func (s *Service) CourseModule(ctx context.Context, actor Actor, moduleID string) (ModuleWay, error) {
	ways, err := s.CourseWays(ctx, actor)
	if err != nil {
		return ModuleWay{}, err
	}
	i := slices.IndexFunc(ways, func(w ModuleWay) bool { return w.Module.ID == moduleID })
	if i < 0 {
		return ModuleWay{}, refuse(ErrNotFound, "There is no such module of the course. Your first page shows what there is.")
	}
	return ways[i], nil
}

// CourseWays are all modules as the actor has them.
func (s *Service) CourseWays(ctx context.Context, actor Actor) (ways []ModuleWay, err error) {
	if err := need(actor); err != nil {
		return nil, err
	}
	err = s.Records.Snapshot(ctx, func(r Reader) (err error) {
		ways, _, err = s.ownWays(ctx, r, actor)
		return err
	})
	return ways, err
}

// ownWays are the actor's ways, and the standings that they follow from.
func (s *Service) ownWays(ctx context.Context, r Reader, actor Actor) ([]ModuleWay, []Standing, error) {
	k, err := s.known(ctx, r, s.Today(), actor.Person.ID)
	if err != nil {
		return nil, nil, err
	}
	by, err := r.CourseOf(ctx, []string{actor.Person.ID})
	if err != nil {
		return nil, nil, err
	}
	standings := k.all(actor.Person)
	ways, err := s.ways(ctx, r, by[actor.Person.ID], standings)
	return ways, standings, err
}

// answersSince are the answers of this round: a module that starts with its test is done
// anew after each sign-off.
func answersSince(ctx context.Context, r CourseReader, personID string, m *course.Module, partID string, standings []Standing) ([]CourseAnswer, error) {
	all, err := r.CourseAnswers(ctx, personID, m.ID, partID)
	if !m.StartsWithTest {
		return all, err
	}
	since, _ := signedOffIn(m, standings)
	return slices.DeleteFunc(all, func(a CourseAnswer) bool { return a.At <= since }), err
}

// Answer keeps an answer to a question of a lesson, and the mark of the lesson once all
// its questions are answered rightly. choice is the option's place, from 1.
func (s *Service) Answer(ctx context.Context, actor Actor, key, moduleID, partID, questionID string, choice int) (right bool, err error) {
	if err := need(actor); err != nil {
		return false, err
	}
	a, err := ask(actor.Person.ID, key, "answer", moduleID, partID, questionID, choice)
	if err != nil {
		return false, err
	}
	m, p, err := s.part(moduleID, partID, course.Read)
	if err != nil {
		return false, err
	}
	q, ok := p.Lesson.Question(questionID)
	if !ok || choice < 1 || choice > len(q.Options) {
		return false, refuse(ErrInvalid, "Choose one of the answers, then send it again.")
	}
	said, _, err := s.once(ctx, a, nil, func(u Unit) (string, error) {
		option := q.Options[choice-1]
		given := CourseAnswer{PersonID: actor.Person.ID, Module: m.ID, Part: partID, Question: q.ID, At: s.Now(), Choice: choice, Step: option.Step, Right: option.Right}
		return word(option.Right), s.keepAnswer(ctx, u, actor, m, p, given)
	})
	return said == word(true), err
}

func word(right bool) string {
	if right {
		return "right"
	}
	return "wrong"
}

func (s *Service) keepAnswer(ctx context.Context, u Unit, actor Actor, m *course.Module, p *course.Part, given CourseAnswer) error {
	all, err := u.CourseAnswers(ctx, given.PersonID, m.ID, given.Part)
	if err != nil {
		return err
	}
	given.Seq = 1
	for _, a := range all {
		if a.Question == given.Question {
			given.Seq = a.Seq + 1
		}
	}
	if err := u.AddCourseAnswer(ctx, given); err != nil {
		return err
	}
	k, err := s.known(ctx, u, s.Today(), actor.Person.ID)
	if err != nil {
		return err
	}
	round, err := answersSince(ctx, u, given.PersonID, m, given.Part, k.all(actor.Person))
	if err != nil {
		return err
	}
	mark, done := read(p.Lesson, round)
	if !done || !given.Right {
		return nil
	}
	mark.PersonID, mark.Module, mark.Part, mark.DoneAt = given.PersonID, m.ID, given.Part, given.At
	return again(u.AddCourseMark(ctx, mark))
}

// again lets a part be done twice in one moment: the mark is there.
func again(err error) error {
	if errors.Is(err, ErrConflict) {
		return nil
	}
	return err
}

// read reports whether every question of a lesson was answered rightly, with how many of
// the first answers were right.
func read(n *course.Lesson, answers []CourseAnswer) (m CourseMark, done bool) {
	m.Questions, done = len(n.Questions), true
	for _, q := range n.Questions {
		first, right := true, false
		for _, a := range answers {
			if a.Question != q.ID {
				continue
			}
			if first && a.Right {
				m.RightFirst++
			}
			first, right = false, right || a.Right
		}
		done = done && right
	}
	return m, done
}

// Seen keeps that the actor has watched the worked example of a part to its end.
func (s *Service) Seen(ctx context.Context, actor Actor, key, moduleID, partID string) error {
	if err := need(actor); err != nil {
		return err
	}
	a, err := ask(actor.Person.ID, key, "seen", moduleID, partID)
	if err != nil {
		return err
	}
	m, _, err := s.part(moduleID, partID, course.Watch)
	if err != nil {
		return err
	}
	_, _, err = s.once(ctx, a, nil, func(u Unit) (string, error) {
		return partID, again(u.AddCourseMark(ctx, CourseMark{PersonID: actor.Person.ID, Module: m.ID, Part: partID, DoneAt: s.Now()}))
	})
	return err
}
