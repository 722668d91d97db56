package views

import (
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/action"
	"stillwet/internal/procedure"
	"stillwet/internal/station"
	"stillwet/internal/training"
)

func labelsOf(groups []StepGroup) (labels []string) {
	for _, g := range groups {
		for _, s := range g.Steps {
			labels = append(labels, s.Label)
		}
	}
	return labels
}

func TestUsualAndSeldomStepsStandApart(t *testing.T) {
	p := drawn(t)
	offered := []string{"spent", "leave", "wipe-screen"}
	require.Equal(t, []string{"Wipe the screen"}, labelsOf(Groups(p, offered)))
	require.Equal(t, []string{"Leave", "The wipe is spent"}, labelsOf(SeldomGroups(p, offered)))
	require.Empty(t, SeldomGroups(p, []string{"wipe-screen"}), "only what is offered")
	steps := stepsData(p, offered, "wipe")
	require.True(t, steps["spent"].Happens, "what only happens is nothing that somebody did unseen")
	require.False(t, steps["leave"].Happens)
}

// An area of events alone is what a watcher sees; in a run it is an area as any.
func TestWhatHappensIsFoundAmongWhatWasSeen(t *testing.T) {
	p := drawn(t)
	p.Areas = append(p.Areas, procedure.Area{ID: "seen", Title: "What happens"})
	p.Steps[p.StepIndex("spent")].Area = "seen"
	all := []string{"wipe-screen", "leave", "spent"}
	watching := board{p: p, offered: all}
	require.Equal(t, []string{"The wipe is spent"}, labelsOf(watching.happenings()))
	require.Equal(t, []string{"Leave"}, labelsOf(watching.deeds()))
	require.Equal(t, []string{"Leave", "The wipe is spent"}, labelsOf(board{p: p, offered: all, timed: true}.deeds()))
}

// Everything sayable can be tapped once: as a step, or as a note where no step says it.
func TestNotesAreWhatNoStepSays(t *testing.T) {
	p := drawn(t)
	texts := func() (all []string) {
		for _, n := range notes(p) {
			_, err := action.ParseAct(n.Text, p.Words)
			require.NoError(t, err)
			require.NotEmpty(t, n.Words)
			all = append(all, n.Text)
		}
		return all
	}
	require.Equal(t, []string{"all dry", "hands soiled", "not seen for 30s", "alarm"}, texts(), "the spent wipe is a step; nobody and no blood circuit is here")
	require.Equal(t, "There is blood on: …", surfaceNotes(p)[0].Title)
	require.Equal(t, note{"blood on screen", "screen"}, surfaceNotes(p)[0].Notes[0])
	require.Len(t, surfaceNotes(p), 1)
	p.Begins, p.Items[0].Kind = procedure.PatientThere, procedure.Circuit
	require.Equal(t, []string{"all dry", "hands soiled", "not seen for 30s", "alarm", "patient leaves", "patient comes back", "patient cannot leave", "patient sits", "blood leak", "protector wet"}, texts())
	require.Equal(t, "The patient touches: …", surfaceNotes(p)[1].Title)
}

func TestTheRecorderKnowsTheWordsOfItsDialogs(t *testing.T) {
	p := drawn(t)
	words := Recorder{Procedure: p}.words()
	for text, want := range map[string]string{
		"watching from connected":        "Watching begins: the patient is still connected",
		"stopped called-away":            "Stopped: called away",
		"watcher says friction not-seen": "Watcher: wiped with friction, not seen",
	} {
		require.Equal(t, want, words[text], text)
		_, err := action.ParseAct(text, p.Words)
		require.NoError(t, err, "the log has no such line")
	}
}

func TestWhichSurfacesMustBeSeenIsTold(t *testing.T) {
	p := drawn(t)
	require.Equal(t, []string{"screen", "chair"}, mustSee(p), "where none is marked, all")
	require.Equal(t, "Every surface has to be seen wet for its whole time.", seenText(p))
	p.Surfaces[1].MustSee = true
	p.Surfaces[0].Thing, p.Settings.SeeOneFaceOf = "machine", "machine"
	require.Equal(t, []string{"chair"}, mustSee(p))
	require.Equal(t, "To be seen wet for their whole time: chair; and one whole side of the machine. The others may stay not seen: they are listed beside the result.", seenText(p))
	require.Equal(t, &oneFaceData{"machine", [][]string{{"screen"}}}, Recorder{Procedure: p}.data().OneFace)
}

// The board asks as much later as the engine takes taps to be off.
func TestTheBoardAsksAfterTheEnginesSlack(t *testing.T) {
	require.EqualValues(t, (&station.Machine{Witness: action.Order | action.Clock}).Slack(), Recorder{Procedure: &procedure.Procedure{}}.data().SlackMs)
}

// A button of the recorder says when to tap, that of a run what was done.
func TestButtonsSayWhenToTap(t *testing.T) {
	p := drawn(t)
	rub := procedure.Step{ID: "rub", Label: "Rub hands", Acts: procedure.Acts{{Verb: action.RubHands, Millis: 20_000}}}
	watching, running := board{p: p}, board{p: p, timed: true}
	require.Contains(t, rendered(t, tapButton(watching, p.Steps[0])), tapWhenDone)
	require.Contains(t, rendered(t, tapButton(running, p.Steps[0])), unwiped)
	require.Contains(t, rendered(t, tapButton(watching, rub)), untimed)
	require.NotContains(t, rendered(t, tapButton(running, rub)), untimed)
	require.Equal(t, "rub hands", handsOf(rub), "as the log says it without seconds")
}

func TestOnlyAPatientsProcedureAsksWhereWatchingBegins(t *testing.T) {
	p := drawn(t)
	page := func() string {
		return rendered(t, recorderBoard(Frame{}, Recorder{Procedure: p, Learner: training.Person{Name: "Tess"}}))
	}
	require.NotContains(t, page(), `id="begin"`)
	require.Contains(t, page(), `name="mark-friction"`)
	p.Begins = procedure.PatientThere
	for _, stage := range action.Stages {
		require.Contains(t, page(), `data-from="`+stage+`"`)
	}
	for _, reason := range action.Reasons {
		require.Contains(t, page(), `<option value="`+reason+`"`)
	}
}
