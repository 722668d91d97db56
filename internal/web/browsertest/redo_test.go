package browsertest

import (
	"crypto/rand"
	"testing"

	"github.com/stretchr/testify/require"
)

// atFinish is the board's own list of what has to be done again, and going on after it.
func (b *tab) atFinish() string {
	b.t.Helper()
	b.sent()
	b.click("#end")
	defer b.click("#finish [data-close]")
	if !b.shown("#undone") {
		return ""
	}
	return b.text("#undone")
}

// What is known to be left at the station is told before the tablet is put down: surfaces,
// the bucket, gloves and hands; and what is then done is recorded on.
func TestTheBoardListsWhatIsLeft(t *testing.T) {
	c := staffed(t)
	b, id := c.recording(tablet)
	for _, tap := range []string{"gloves-on", "bucket-off", "fresh-wipe", "wipe-top"} {
		b.click(tapOf(tap))
	}
	left := b.atFinish()
	require.Regexp(t, `^Station not ready: redo .+ before the next patient; tell the charge nurse\.$`, left)
	for _, part := range []string{"Pole", "(not noted as wiped)", "Machine top (time not reached)", "Prime bucket (not emptied, not put back)", "gloves (still on)"} {
		require.Contains(t, left, part)
	}
	require.NotContains(t, left, "hands")

	for _, tap := range []string{"bucket-empty", "bucket-aside"} {
		b.click(tapOf(tap))
	}
	require.Contains(t, b.atFinish(), "Prime bucket (not put back)", "it stands aside")
	pause()
	for _, tap := range []string{"bucket-back", "gloves-off"} {
		b.click(tapOf(tap))
	}
	left = b.atFinish()
	require.NotContains(t, left, "Prime bucket (")
	require.NotContains(t, left, "gloves (")
	require.Contains(t, left, "hands (not cleaned since the gloves came off)")
	b.click(tapOf("rub-hands"))
	require.NotContains(t, b.atFinish(), "hands")

	// Of what nobody could see nothing is said.
	pause()
	b.click(tapOf("gloves-on"))
	b.click("#unseen")
	b.click(tapOf("gloves-on"))
	b.answer("Take off gloves")
	b.click("#unseen")
	b.click(tapOf("rub-hands"))
	left = b.atFinish()
	require.NotContains(t, left, "gloves")
	require.NotContains(t, left, "hands")
	require.Equal(t, []string{"not seen gloves-off", "not seen rub-hands"}, c.recorded(id)[10:])
}

// What may have been done before the watching began is not said to be left.
func TestTheBoardListsNothingOfBefore(t *testing.T) {
	c := staffed(t)
	d, err := c.StartDemonstration(t.Context(), c.In("pia"), rand.Text(), c.In("tess").Person.ID, turnover, "station-wipe")
	require.NoError(t, err)
	b := c.signedIn("pia", tablet)
	b.reload(d.ID)
	b.watchFrom("lines-off")
	b.saved(0)
	b.click(tapOf("fresh-wipe"))
	require.NotContains(t, b.atFinish(), "Prime bucket (not emptied")
}
