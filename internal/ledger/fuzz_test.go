package ledger

import (
	"crypto/rand"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// A head that is read is written again as it was.
func FuzzParseHead(f *testing.F) {
	f.Add(Head{7, Hash{1, 2}}.text("stillwet/x"))
	f.Add("stillwet/x\n007\n\n")
	f.Add(strings.Replace(Head{7, Hash{1, 2}}.text("stillwet/x"), "A", "\rA", 1)) // found so
	f.Add("stillwet/x\n9223372036854775808\nAA==\n")
	f.Fuzz(func(t *testing.T, text string) {
		if h, err := parseHead(text, "stillwet/x"); err == nil {
			require.Equal(t, text, h.text("stillwet/x"))
			require.GreaterOrEqual(t, h.Size, int64(0))
		}
	})
}

// Nothing but what the key signed is a head of it, whatever is put around it.
func FuzzOpenHead(f *testing.F) {
	key, err := NewKey(rand.Reader, "x")
	require.NoError(f, err)
	signed, err := key.Sign(Head{7, Hash{1, 2}})
	require.NoError(f, err)
	f.Add(signed, "")
	f.Add(signed, "\n")
	f.Add("", signed)
	f.Fuzz(func(t *testing.T, before, after string) {
		h, err := OpenHead(before+after, key.Public())
		if err == nil {
			require.Equal(t, Head{7, Hash{1, 2}}, h, "no other was signed")
		}
	})
}

// A key file that is read is written again as it was.
func FuzzParseKey(f *testing.F) {
	key, err := NewKey(rand.Reader, "x")
	require.NoError(f, err)
	f.Add(key.File())
	f.Add("\n")
	f.Fuzz(func(t *testing.T, text string) {
		if k, err := ParseKey(text); err == nil {
			again, err := ParseKey(k.File())
			require.NoError(t, err)
			require.Equal(t, k.File(), again.File())
		}
	})
}
