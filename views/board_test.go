package views

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/action"
	"stillwet/internal/procedure"
	"stillwet/internal/station"
	"stillwet/internal/training"
	"stillwet/scenarios"
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
	require.Equal(t, []string{"all dry", "hands soiled", "alarm"}, texts(), "the spent wipe is a step; nobody and no blood circuit is here")
	require.Equal(t, []note{{"blood on", "There is blood on:"}}, aboutNotes(p))
	p.Begins, p.Items[0].Kind = procedure.PatientThere, procedure.Circuit
	require.Equal(t, []string{"all dry", "hands soiled", "alarm", "patient leaves", "patient comes back", "patient cannot leave", "patient sits", "blood leak", "protector wet"}, texts())
	require.Equal(t, "The patient touches:", aboutNotes(p)[1].Words)
	for _, n := range aboutNotes(p) {
		_, err := action.ParseAct(n.Text+" "+p.Surfaces[0].ID, p.Words)
		require.NoError(t, err, "the log has no such line")
	}
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

// A face with its parts is one tile, and so is gear: what puts it on takes it off again.
func TestTilesOfTheBoard(t *testing.T) {
	lib, err := scenarios.Load()
	require.NoError(t, err)
	p, _ := lib.Procedure("between-patients")
	var offered []string
	for _, s := range p.Steps {
		if s.ID != "wait" {
			offered = append(offered, s.ID)
		}
	}
	b := boardOf(p, offered, false)
	steps := map[string]string{}
	cells := map[[2]int]string{}
	for _, tiles := range [][]tile{b.Hands, b.Picture, b.Rest, b.Foot} {
		for _, x := range tiles {
			steps[x.Title] = ids(x.Steps)
			if x.Col > 0 {
				require.Empty(t, cells[[2]int{x.Col, x.Row}], "two tiles in one cell")
				cells[[2]int{x.Col, x.Row}] = x.Title
			}
		}
	}
	require.Equal(t, "wipe-controls wipe-front wipe-latches", steps["Machine front"])
	require.Equal(t, "gloves-on gloves-off", steps["Fresh gloves on"])
	require.Equal(t, "bucket-off bucket-back", steps["Bucket off"])
	require.Equal(t, "gloves-away", ids(b.Hands[2].Ends), "thrown away, the next are put on")
	require.LessOrEqual(t, len(b.Hands), procedure.MostHands)
	require.LessOrEqual(t, len(b.Rest), mostRest)

	// The station stands as in the picture: the machine's left side left of its right one, its
	// top above its front, the bucket on the machine's left and the chair on its right.
	at := func(title string) (col, row int) {
		for c, name := range cells {
			if name == title {
				return c[0], c[1]
			}
		}
		t.Fatalf("no tile %q", title)
		return 0, 0
	}
	left, _ := at("Machine left")
	right, _ := at("Machine right")
	_, top := at("Machine top")
	front, below := at("Machine front")
	bucket, _ := at("Prime bucket")
	chair, _ := at("Chair")
	require.Less(t, left, right)
	require.Less(t, top, below)
	require.Less(t, bucket, front)
	require.Greater(t, chair, front)

	// Every step can be tapped once: on a tile, or under More.
	seen := map[string]int{}
	for _, list := range steps {
		for _, id := range strings.Fields(list) {
			seen[id]++
		}
	}
	for _, g := range b.Seldom {
		for _, s := range g.Steps {
			seen[s.ID]++
		}
	}
	for _, id := range offered {
		require.Equal(t, 1, seen[id], id)
	}
}

// The list form has the same tiles, in groups named by the areas; a step is on it once, or under
// More.
func TestTheListHasTheTilesOfThePicture(t *testing.T) {
	lib, err := scenarios.Load()
	require.NoError(t, err)
	built, _ := lib.Procedure("between-patients")
	steps := func(b stationBoard) (all []string) {
		for _, tiles := range b.all() {
			for _, x := range *tiles {
				all = append(all, ids(x.Steps))
			}
		}
		return all
	}
	p := *built
	p.Settings.Board = procedure.ListBoard
	list, picture := boardOf(&p, watchable(&p), false), boardOf(built, watchable(built), false)
	for _, tile := range steps(picture) {
		require.Contains(t, steps(list), tile)
	}
	titles := map[string]bool{}
	for _, a := range p.Areas {
		titles[a.Title] = true
	}
	for _, g := range list.Groups {
		require.True(t, titles[g.Title], g.Title)
		require.LessOrEqual(t, len(list.Hands)+len(list.Wipes)+len(g.Tiles), procedure.MostListed)
	}
	require.Equal(t, "fresh-wipe", ids(list.Wipes[0].Steps), "it is needed whatever is wiped")
}

// Where a board has more than there is room for, faces stay and the rest is found under More.
func TestWhatHasNoRoomIsUnderMore(t *testing.T) {
	p := drawn(t)
	b := stationBoard{p: p}
	wipe := tile{Kind: procedure.FaceTile, Title: "Screen", Steps: []procedure.Step{p.Steps[p.StepIndex("wipe-screen")]}}
	leave := tile{Kind: procedure.StepTile, Title: "Leave", Steps: []procedure.Step{p.Steps[p.StepIndex("leave")]}}
	kept := b.most([]tile{wipe, leave}, 1)
	require.Equal(t, "Screen", kept[0].Title)
	require.Len(t, kept, 1)
	require.Equal(t, []string{"Leave"}, labelsOf(b.Seldom))
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

// The pack carries the products in use; where several are, no step says of which its wipe is.
func TestThePackCarriesTheProductsInUse(t *testing.T) {
	lib, err := scenarios.Load()
	require.NoError(t, err)
	p, _ := lib.Procedure("after-visible-blood") // some steps take wipes of other products
	r := Recorder{Procedure: p, Demonstration: training.Demonstration{Product: "station-wipe"}}
	fresh := func() stepData {
		pack, err := r.Pack(t.Context(), Frame{})
		require.NoError(t, err)
		require.Equal(t, r.inUse(), pack.Data.InUse)
		return pack.Data.Steps["fresh-wipe"]
	}
	require.True(t, fresh().Shelf)
	require.Equal(t, []string{"station-wipe"}, r.inUse())
	require.Contains(t, fresh().Label, p.Title("station-wipe"))
	r.Products = []string{"station-wipe", "blood-wipe"}
	require.NotContains(t, fresh().Label, p.Title("station-wipe"))
	require.False(t, stepsData(p, watchable(p), "station-wipe")["take-blood-wipe"].Shelf, "its product is its own")
}
