package wettime_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/action"
	"stillwet/internal/wettime"
)

const s = action.Millis(1000)
const need = 120 * s

var run = wettime.Rule{Witness: action.Order | action.Clock | action.Drying}
var watched = wettime.Rule{Witness: action.Order | action.Clock}

// Label time 120 s: dry at 119 s is a breach, at 120 s it passes (guidance,
// checkable fact 6, after EPA DIS/TSS-15).
func TestLabelTimeIsNeverRounded(t *testing.T) {
	for dry, want := range map[action.Millis]wettime.Status{
		119 * s: wettime.TooShort, 119_999: wettime.TooShort, 120 * s: wettime.Reached, 121 * s: wettime.Reached,
	} {
		var c wettime.Contact
		c.Wipe(10*s, need, run)
		c.Dry(10*s+dry, run)
		require.Equal(t, want, c.Status(run, 1000*s), "dry after %v ms", dry)
	}
}

func TestReWipeKeepsTheClockAndAGapRestartsIt(t *testing.T) {
	var c wettime.Contact
	c.Wipe(0, need, run)
	c.Wipe(100*s, need, run) // still wet: the spell goes on
	require.Equal(t, wettime.TooShort, c.Status(run, 119*s))
	require.Equal(t, wettime.Reached, c.Status(run, 120*s))

	var gap wettime.Contact
	gap.Wipe(0, need, run)
	gap.Dry(80*s, run)
	gap.Wipe(90*s, need, run)
	gap.Dry(170*s, run)
	require.Equal(t, wettime.TooShort, gap.Status(run, 300*s), "80 s + 80 s is not 120 s in one spell")
	require.True(t, gap.Broke)
	sum := run
	sum.AddsUp = true
	require.Equal(t, wettime.Reached, gap.Status(sum, 300*s), "the clinic's setting adds spells up")
	require.Equal(t, 80*s, gap.Longest(run, 300*s))
	require.Equal(t, 160*s, gap.Longest(sum, 300*s))
}

func TestObserverMustHaveSeenItWet(t *testing.T) {
	var c wettime.Contact
	c.Wipe(0, need, watched)
	require.Equal(t, wettime.Unknown, c.Status(watched, 200*s), "nobody looked")
	c.See(119 * s)
	require.Equal(t, wettime.Unknown, c.Status(watched, 200*s), "seen too early to tell")
	c.See(120 * s)
	require.Equal(t, wettime.Reached, c.Status(watched, 200*s))

	var early wettime.Contact
	early.Wipe(0, need, watched)
	early.Dry(119*s, watched)
	require.Equal(t, wettime.TooShort, early.Status(watched, 200*s), "dry before the label time is certain")
	var late wettime.Contact
	late.Wipe(0, need, watched)
	late.Dry(150*s, watched)
	require.Equal(t, wettime.Unknown, late.Status(watched, 200*s), "it dried some time before it was seen dry")
	require.Equal(t, wettime.TooShort, (&wettime.Contact{Wet: true, Need: need}).Status(watched, 60*s), "declared ready before the time can have passed")
}

func TestWaitStandsForTimeOnlyWithoutAClock(t *testing.T) {
	order := wettime.Rule{Witness: action.Order}
	var c wettime.Contact
	c.Wipe(action.Untimed, need, order)
	require.Equal(t, wettime.TooShort, c.Status(order, action.Untimed))
	c.Wait()
	require.Equal(t, wettime.Reached, c.Status(order, action.Untimed))
	c.Wipe(action.Untimed, need, order)
	require.Equal(t, wettime.Reached, c.Status(order, action.Untimed), "what was reached stays reached until the surface is unclean")
	require.True(t, c.Wet, "but it is wet again")
}
