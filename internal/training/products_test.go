package training_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/training"
)

// Of several products in use the watcher says of which a wipe from the shelf was; a product that
// the procedure does not have is refused, and so is one for a step that takes nothing.
func TestAWipeFromTheShelfIsOfTheProductThatWasSaid(t *testing.T) {
	w := staffed(t)
	d, err := w.StartDemonstration(ctx, w.preceptor, w.Key(), w.trainee.Person.ID, turnover, "station-wipe")
	require.NoError(t, err)
	take := func(step, text string) error {
		return w.Send(ctx, w.preceptor, d.ID, training.Watched{Key: w.Key(), AtMs: 1000, Step: step, Text: text})
	}
	require.NoError(t, take("fresh-wipe", "take wipe w of blood-wipe"))
	require.NoError(t, take("fresh-wipe", ""))
	require.NoError(t, take("fresh-wipe", "take wipe w of station-wipe"))
	require.ErrorContains(t, take("fresh-wipe", "take wipe w of lemonade"), "lemonade")
	require.ErrorContains(t, take("wipe-top", "take wipe w of blood-wipe"), "neither a cleaning of hands nor a wipe from the shelf")
	_, lines, err := w.Observations(ctx, w.preceptor, d.ID)
	require.NoError(t, err)
	var texts []string
	for _, l := range lines {
		require.Equal(t, "fresh-wipe", l.Step)
		texts = append(texts, l.Text)
	}
	require.Equal(t, []string{"take wipe w1 of blood-wipe", "take wipe w2 of station-wipe", "take wipe w3 of station-wipe"}, texts)
}
