package ledger

import (
	"bytes"
	"crypto/rand"
	"encoding/json"
	"golang.org/x/text/unicode/norm"
	"strings"
	"testing"
	"unicode/utf8"

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

// The canonical text is that of the general encoder of the standard library, which
// sorts keys and escapes as RFC 8259 lets it.
func FuzzCanonical(f *testing.F) {
	f.Add("a", "Zoë \u2028 <b> \"x\" \\ \x01", int64(-7), true)
	f.Add("key_1", "plain", int64(1)<<53, false)
	f.Fuzz(func(t *testing.T, key, text string, n int64, yes bool) {
		fields := Fields{key: text, "n": n, "yes": yes, "list": []string{text, "b"}, "deep": Fields{"x": text}, "many": []Fields{{"y": n}}, "none": []string{}}
		got, err := Canonical(fields)
		if !utf8.ValidString(text) || !keyAllowed(key) || n > safeInteger || n < -safeInteger {
			if key != "n" && key != "yes" && key != "list" && key != "deep" && key != "many" && key != "none" {
				require.Error(t, err)
			}
			return
		}
		require.NoError(t, err)
		clean := norm.NFC.String(text)
		same := map[string]any{key: clean, "n": n, "yes": yes, "list": []string{clean, "b"}, "deep": map[string]any{"x": clean}, "many": []map[string]any{{"y": n}}, "none": []string{}}
		var want bytes.Buffer
		e := json.NewEncoder(&want)
		e.SetEscapeHTML(false)
		require.NoError(t, e.Encode(same))
		require.Equal(t, strings.TrimSuffix(want.String(), "\n"), string(got))
	})
}
