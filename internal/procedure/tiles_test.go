package procedure_test

import (
	"fmt"
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/action"
	"stillwet/internal/procedure"
)

// listed is a procedure with the list form, so many steps in its one area besides taking a wipe
// and wiping, and so many further areas of one step.
func listed(steps, areas int) procedure.Definition {
	d := small()
	d.Settings.Board = procedure.ListBoard
	add := func(area string) {
		d.Steps = append(d.Steps, procedure.Step{ID: fmt.Sprintf("s%d", len(d.Steps)), Label: "Look", Area: area, Acts: procedure.Acts{{Verb: action.LeaveStation, At: action.Untimed}}})
	}
	for range steps {
		add("all")
	}
	for i := range areas {
		area := fmt.Sprintf("a%d", i)
		d.Areas = append(d.Areas, procedure.Area{ID: area, Title: "Area"})
		add(area)
	}
	return d
}

// A list has room for 19 tiles at a time, 16 of them beside those of the hands, here one of which
// takes wipes, and for eight groups; the loader says which has more.
func TestAListHasRoomForAllOrSaysSo(t *testing.T) {
	made(t, listed(14, 7)) // with the wiping 15 beside the wipes, and eight groups
	text := func(d procedure.Definition) string {
		_, faults := procedure.New(d, rules)
		require.Len(t, faults, 1)
		require.Equal(t, "settings.board", faults[0].Path)
		return faults[0].Text
	}
	require.Contains(t, text(listed(15, 0)), `the group "All" has 16 tiles, and beside the 1 of hands and wipes 15 fit`)
	require.Contains(t, text(listed(0, 8)), "9 groups, and 8 fit")
	wheel := small()
	wheel.Settings.Board = "wheel"
	require.Contains(t, text(wheel), "no form of a board")
	picture := listed(40, 10)
	picture.Settings.Board = procedure.PictureBoard
	made(t, picture)
}

// A choice that came later is left out while it is none, so that what is stored keeps its
// hash.
func TestTheFormOfTheBoardIsLeftOutWhileItIsThePicture(t *testing.T) {
	require.NotContains(t, string(made(t, small()).Text), `"Board"`)
	require.Contains(t, string(made(t, listed(0, 0)).Text), `"Board":"list"`)
}
