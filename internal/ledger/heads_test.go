package ledger

import (
	"crypto/rand"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

func heads(text string) (notes []string, err error) {
	for note, err := range EachHead(strings.NewReader(text)) {
		if err != nil {
			return nil, err
		}
		notes = append(notes, note)
	}
	return notes, nil
}

// Wherever a file of heads is cut off, those before the cut are found, and nothing else.
func TestEachHead(t *testing.T) {
	key, err := NewKey(rand.Reader, "x")
	require.NoError(t, err)
	var notes []string
	for i := range 3 {
		note, err := key.Sign(Head{int64(i + 1), Hash{byte(i)}})
		require.NoError(t, err)
		require.EqualValues(t, i+1, SizeOf(note))
		notes = append(notes, note)
	}
	all := strings.Join(notes, "\n")
	for at := range len(all) + 1 {
		var want []string
		for i := range notes {
			if at >= len(strings.Join(notes[:i+1], "\n")) {
				want = notes[:i+1]
			}
		}
		got, err := heads(all[:at])
		require.NoError(t, err)
		require.Equal(t, want, got, "cut off at %d", at)
		got, err = heads(all[:at] + "\n" + notes[0])
		require.NoError(t, err)
		require.Equal(t, notes[0], got[len(got)-1], "what follows a cut begins on a line of its own")
	}
	got, err := heads(all[200:])
	require.NoError(t, err)
	require.Equal(t, notes[2], got[len(got)-1], "the beginning may be cut off")
	for _, none := range []string{"", "\n", "x\n1\ny\n\n", strings.Repeat("\x00", 4096), "\n\u2014 x\n", strings.Repeat("\u2014 \n", 9), strings.Repeat("x", 1<<20)} {
		got, err := heads(none)
		require.NoError(t, err)
		require.Empty(t, got)
	}
}

// Whatever a file of heads holds, what is found in it is a part of it.
func FuzzEachHead(f *testing.F) {
	key, err := NewKey(rand.Reader, "x")
	require.NoError(f, err)
	note, err := key.Sign(Head{7, Hash{1, 2}})
	require.NoError(f, err)
	f.Add(note + "\n" + note[:20])
	f.Add("")
	f.Fuzz(func(t *testing.T, text string) {
		found, err := heads(text)
		require.NoError(t, err)
		for _, note := range found {
			require.Contains(t, text, note)
		}
	})
}
