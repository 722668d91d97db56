package training_test

import (
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/training"
)

// A leaf of whatever bytes is read or refused; what is read says a version and has
// nobody twice in one part.
func FuzzReadLeaf(f *testing.F) {
	w := staffed(f)
	w.signedOff()
	for l, err := range w.Store.LedgerLeaves(ctx) {
		require.NoError(f, err)
		f.Add(l.Bytes)
	}
	f.Add([]byte(`{"version":1e9,"people":{"by":[]}}`))
	f.Fuzz(func(t *testing.T, text []byte) {
		l, err := training.ReadLeaf(text)
		if err != nil {
			return
		}
		parts := map[string]bool{}
		for _, n := range l.People {
			require.False(t, parts[n.Part], n.Part)
			parts[n.Part] = true
		}
	})
}
