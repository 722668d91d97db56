package rules_test

import (
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/action"
	"stillwet/internal/assess/rules"
)

// TestTheBucketsGapSaysWhatWasNotNoted: who saw it wet for its time is told only
// of the drying that nobody noted.
func TestTheBucketsGapSaysWhatWasNotNoted(t *testing.T) {
	_, p := builtIn(t)
	seen, err := os.ReadFile("../../../testdata/checks/logs/bucket-back-observed.log")
	require.NoError(t, err)
	side := strings.Replace(string(seen), "3:00 still wet bucket-sides\n", "", 1)
	for text, reason := range map[string]string{
		string(seen): "Nobody noted whether the prime bucket was dry when it was put back: ",
		side:         "Nobody noted whether the prime bucket was disinfected for its time and dry: ",
	} {
		log, err := action.Parse("bucket.log", text, p.Words)
		require.NoError(t, err)
		result, err := rules.Assess(p, log, "bucket.log")
		require.NoError(t, err)
		var told []string
		for _, g := range result.NotAssessed {
			if g.Rule == "bucket-dry" {
				told = append(told, g.Reason)
			}
		}
		require.Len(t, told, 1)
		require.Contains(t, told[0], reason)
		for _, part := range []string{"inside", "sides", "outside"} {
			require.Contains(t, told[0], part)
		}
	}
}
