package views

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/course"
	"stillwet/internal/procedure"
	"stillwet/scenarios"
)

// Whatever a surface can come to has its row in the table of states.
func TestFilmsAreStates(t *testing.T) {
	for _, f := range []course.Film{course.NotWiped, course.StillWet, course.Reached, course.ThenDry, course.TooShort, course.Spoilt, course.NotSeen} {
		require.Equal(t, string(f), string(lookOf(SurfaceState(f)).State), f)
	}
}

// What the script gets is enough for every act of every example: each state has a look,
// the first act tells every surface, and all rows come with each act that changed one.
func TestWhatTheScriptPlays(t *testing.T) {
	lib, err := scenarios.Load()
	require.NoError(t, err)
	for _, id := range []string{"ordinary-turnover", "against-the-clock", "blood-on-the-machine"} {
		s, _ := lib.Scenario(id)
		p, _ := lib.Procedure(s.Procedure)
		acts, err := course.Example(p, s)
		require.NoError(t, err)
		w := WorkedExample{p, acts}
		got := w.played()
		require.Len(t, got.Acts, len(acts))
		require.Len(t, got.Acts[0].Surfaces, len(p.Surfaces))
		list := rendered(t, WorkedExampleList(w))
		rows := got.Start
		for i, a := range got.Acts {
			if a.Rows != nil {
				rows = a.Rows
			}
			require.Len(t, rows, len(acts[i].Rows))
			for n, r := range acts[i].Rows {
				require.Equal(t, r.Is, rows[n], "what was told last is so")
			}
			require.Contains(t, list, templEscape(a.Text), "the list says the same")
			for surface, now := range a.Surfaces {
				require.NotEmpty(t, got.Titles[surface])
				require.Contains(t, got.Looks, SurfaceState(now[0].(course.Film)))
			}
		}
	}
}

func templEscape(text string) string {
	return strings.NewReplacer("&", "&amp;", "'", "&#39;", `"`, "&#34;", "<", "&lt;").Replace(text)
}

// Each shape of the picture has what every state may need.
func TestAPlayedPictureHasWaterAndSigns(t *testing.T) {
	lib, err := scenarios.Load()
	require.NoError(t, err)
	s, _ := lib.Scenario("ordinary-turnover")
	p, _ := lib.Procedure(s.Procedure)
	w := WorkedExample{Procedure: p}
	page := rendered(t, Picture(w.drawing(false)))
	drawn := strings.Count(page, "data-surface=")
	require.Greater(t, drawn, 15)
	require.Equal(t, drawn, strings.Count(page, `class="water"`))
	require.Equal(t, drawn, strings.Count(page, `class="waterline"`))
	for _, x := range p.Picture.Shapes {
		if x.Surface != "" && p.SurfaceIndex(x.Surface) >= 0 {
			require.Contains(t, page, `data-of="`+x.Surface+`"`)
		}
	}
}

// Who has the stations mirrored sees the example so.
func TestAPlayedPictureIsMirroredWhereAsked(t *testing.T) {
	p := sides(shapeOf("left"), shapeOf("right")).Picture
	w := WorkedExample{Procedure: &procedure.Procedure{Definition: procedure.Definition{Picture: p}}}
	require.True(t, w.drawing(true).Mirrored)
	require.False(t, w.drawing(false).Mirrored)
}
