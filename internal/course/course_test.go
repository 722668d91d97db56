package course_test

import (
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/action"
	"stillwet/internal/course"
	"stillwet/scenarios"
)

// example is the worked example of a built-in scenario.
func example(t *testing.T, id string) []course.Shown {
	lib, err := scenarios.Load()
	require.NoError(t, err)
	s, ok := lib.Scenario(id)
	require.True(t, ok)
	p, ok := lib.Procedure(s.Procedure)
	require.True(t, ok)
	shown, err := course.Example(p, s)
	require.NoError(t, err)
	return shown
}

// of is the first act with these words.
func of(t *testing.T, all []course.Shown, text string) course.Shown {
	i := slices.IndexFunc(all, func(x course.Shown) bool { return strings.HasPrefix(x.Act.Text(), text) })
	require.GreaterOrEqual(t, i, 0, text)
	return all[i]
}

func TestAnExampleSaysWhatEachActChanges(t *testing.T) {
	all := example(t, "blood-on-the-machine")
	for text, change := range map[string]string{
		"rub hands": "Hands are clean.", "check patient stable": "Hands are used on the patient.", "help patient out": "The station is empty.",
		"put on gloves": "Gloves are fresh.", "take off lines": "Gloves are used.", "put on gown": "The gown is on.",
		"blood on front": "Machine front panel: blood on it.", "clean front": "Machine front panel: no blood on it any more, and not disinfected yet.",
		"wipe front": "Machine front panel: wet.", "empty bucket": "Prime bucket: empty.", "put bucket back": "Prime bucket: back in its place.",
		"discard lines": "Used blood lines: gone where it belongs.", "wait": "What was wet has had its contact time.",
	} {
		require.Contains(t, of(t, all, text).Changes, change, text)
	}
	require.Contains(t, of(t, all, "take off gloves").Changes, "Hands have to be cleaned next.")
}

// The clock: a surface is wet since the moment at which its wipe was finished.
func TestAnExampleWithAClock(t *testing.T) {
	for _, x := range example(t, "against-the-clock") {
		if x.Act.Verb == action.Wipe {
			require.Contains(t, strings.Join(x.Changes, " "), ": wet since "+(x.Act.At/1000*1000).String(), x.Act.Text())
			return
		}
	}
	t.Fatal("nothing is wiped")
}

// Why an act comes is what the engine finds in the same work without it; what happens by
// itself has no reason.
func TestAnExampleSaysWhyEachActComes(t *testing.T) {
	all := example(t, "blood-on-the-machine")
	for text, rule := range map[string]string{
		"rub hands": "hands-before-patient", "check patient stable": "patient-ready", "put on eye-protection": "ppe-order", "clean front": "soil-first",
		"look at station": "looked-first", "discard lines": "torn-down-first", "wipe screen": "every-surface",
	} {
		x := of(t, all, text)
		require.NotNil(t, x.Without, text)
		require.Equal(t, rule, x.Without.Rule, text)
	}
	require.Nil(t, of(t, all, "blood on front").Without)
	for _, x := range all {
		if x.Without != nil {
			require.NotEqual(t, "not-possible", x.Without.Rule)
			require.NotEmpty(t, x.Without.Why)
		}
	}
}

// What is to be seen is said with a question: blood, and whether the patient is there.
func TestAQuestionSaysWhatIsSeen(t *testing.T) {
	lib, err := scenarios.Load()
	require.NoError(t, err)
	sees := func(lesson, question string) []string {
		for _, m := range lib.Modules() {
			for i := range m.Parts {
				if n := m.Parts[i].Lesson; n != nil && n.ID == lesson {
					q, ok := n.Question(question)
					require.True(t, ok)
					return q.Sees
				}
			}
		}
		return nil
	}
	require.Equal(t, []string{"The patient sits in the chair."}, sees("order-of-work", "patient-first"))
	require.Equal(t, []string{"The patient has left.", "Blood can be seen on: front panel."}, sees("visible-blood", "clean-first"))
	require.Equal(t, []string{"The patient has left."}, sees("visible-blood", "after-clean"), "it was cleaned off")
}

// An act is named by the step that the learner will press.
func TestAnExampleKnowsItsSteps(t *testing.T) {
	for _, id := range []string{"ordinary-turnover", "against-the-clock"} {
		all := example(t, id)
		require.Equal(t, "rub-hands", all[0].Step, id)
		require.Equal(t, "declare-ready", all[len(all)-1].Step, id)
		require.Equal(t, "lines-off", of(t, all, "take off dialyzer").Step, "a step of two acts")
	}
	require.Empty(t, of(t, example(t, "called-away"), "alarm").Step, "it happens by itself")
}
