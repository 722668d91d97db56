package ledger

import (
	"crypto/rand"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestLastHead(t *testing.T) {
	key, err := NewKey(rand.Reader, "x")
	require.NoError(t, err)
	var notes []string
	for i := range 3 {
		note, err := key.Sign(Head{int64(i + 1), Hash{byte(i)}})
		require.NoError(t, err)
		notes = append(notes, note)
	}
	all := strings.Join(notes, "\n")
	for at := range len(all) + 1 { // cut off anywhere
		want := ""
		for i := range notes {
			if at >= len(strings.Join(notes[:i+1], "\n")) {
				want = notes[i]
			}
		}
		got, ok := LastHead(all[:at])
		require.Equal(t, want, got, "cut off at %d", at)
		require.Equal(t, want != "", ok)
		again, _ := LastHead(all[:at] + "\n" + notes[0])
		require.Equal(t, notes[0], again, "what follows a cut begins on a line of its own")
	}
	got, ok := LastHead(all[200:])
	require.True(t, ok)
	require.Equal(t, notes[2], got, "the beginning may be cut off")
	for _, none := range []string{"", "\n", "x\n1\ny\n\n", strings.Repeat("\x00", 4096), "\n\u2014 x\n", strings.Repeat("\u2014 \n", 9)} {
		_, ok := LastHead(none)
		require.False(t, ok, "%q", none)
	}
}

// Whatever a file of heads holds, what is found in it is a part of it.
func FuzzLastHead(f *testing.F) {
	key, err := NewKey(rand.Reader, "x")
	require.NoError(f, err)
	note, err := key.Sign(Head{7, Hash{1, 2}})
	require.NoError(f, err)
	f.Add(note + "\n" + note[:20])
	f.Add("")
	f.Fuzz(func(t *testing.T, text string) {
		note, ok := LastHead(text)
		require.Equal(t, ok, note != "")
		require.Contains(t, text, note)
	})
}
