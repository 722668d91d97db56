package views

import (
	"slices"
	"strconv"
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/course"
	"stillwet/internal/training"
	"stillwet/scenarios"
)

// lesson is one of the built-in course as somebody has it.
func lesson(t *testing.T, id, person string, answers ...training.CourseAnswer) Lesson {
	lib, err := scenarios.Load()
	require.NoError(t, err)
	for _, m := range lib.Modules() {
		way := training.ModuleWay{Module: &m, Next: 0}
		for i := range m.Parts {
			way.Parts = append(way.Parts, training.PartWay{Part: &m.Parts[i]})
		}
		for i := range m.Parts {
			if n := m.Parts[i].Lesson; n != nil && n.ID == id {
				return Lesson{Page: training.PartPage{PersonID: person, Way: way, Part: i, Answers: answers}}
			}
		}
	}
	t.Fatal("no lesson " + id)
	return Lesson{}
}

// Nobody tells another that “it is always the second one”; rows keep their order.
func TestOptionsStandForEachPersonInAnOrderOfHerOwn(t *testing.T) {
	orders := map[string]map[string]bool{}
	for i := range 40 {
		for _, q := range lesson(t, "order-of-work", "person "+strconv.Itoa(i)).questions() {
			order := q.shown()
			sorted := slices.Clone(order)
			slices.Sort(sorted)
			for place, at := range sorted {
				require.Equal(t, place, at, "each option once")
			}
			if q.Ask == course.Wrong {
				require.True(t, slices.IsSorted(order), q.ID)
				continue
			}
			if orders[q.ID] == nil {
				orders[q.ID] = map[string]bool{}
			}
			orders[q.ID][q.Options[order[0]].Step] = true
		}
	}
	for id, first := range orders {
		require.Len(t, first, 3, "%s: each of three options stands first for somebody", id)
	}
	again := lesson(t, "order-of-work", "person 1").questions()[0]
	require.Equal(t, lesson(t, "order-of-work", "person 1").questions()[0].shown(), again.shown(), "and for her it stays")
}

// What was asked, what was answered first and last, and what each answer would have been
// stays to be read.
func TestAnAnsweredQuestionStaysWhole(t *testing.T) {
	one := lesson(t, "order-of-work", "person")
	n := one.lesson()
	q, ok := n.Question("patient-first")
	require.True(t, ok)
	answer := func(choice int) training.CourseAnswer {
		return training.CourseAnswer{Question: q.ID, Choice: choice, Step: q.Options[choice-1].Step, Right: q.Options[choice-1].Right}
	}
	html := rendered(t, LessonPage(Frame{}, lesson(t, "order-of-work", "person", answer(1), answer(2))))
	require.Contains(t, html, "Question 1 of 7 · Which of these may come next? · right after 2 answers")
	for _, want := range []string{n.Procedure.Title("rub-hands"), "The patient sits in the chair.", "(your first answer)", "(your last answer)",
		n.Procedure.Title("help-out"), n.Procedure.Title("check-stable"), n.Procedure.Title("lines-off"), q.Options[0].Breaks.Message, q.Options[2].Breaks.Message} {
		require.Contains(t, html, want)
	}
}
