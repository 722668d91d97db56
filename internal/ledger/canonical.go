package ledger

import (
	"bytes"
	"encoding/json"
	"fmt"
	"unicode/utf8"

	"golang.org/x/text/unicode/norm"
)

// Fields is what a leaf says. Values are strings, booleans, int, int64,
// []string and Fields (and []Fields); numbers lie within ±2^53 so that every
// JSON reader sees the same ones.
type Fields map[string]any

const safeInteger = 1 << 53

// Canonical writes the one JSON text of some fields: keys sorted bytewise, no
// spaces, text NFC-normalised, no HTML escaping, no floats and no null. For
// these values and for keys in lower-case ASCII that is the text RFC 8785 asks
// for, but for U+2028 and U+2029, which encoding/json escapes.
func Canonical(f Fields) ([]byte, error) {
	clean, err := normal(f, "")
	if err != nil {
		return nil, err
	}
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	if err := e.Encode(clean); err != nil {
		return nil, fmt.Errorf("ledger: %w", err)
	}
	return bytes.TrimSuffix(b.Bytes(), []byte("\n")), nil
}

func normal(v any, path string) (any, error) {
	switch v := v.(type) {
	case string:
		if !utf8.ValidString(v) {
			return nil, fmt.Errorf("ledger: %s is not valid UTF-8", path)
		}
		return norm.NFC.String(v), nil
	case bool:
		return v, nil
	case int:
		return integer(int64(v), path)
	case int64:
		return integer(v, path)
	case []string:
		return list(v, path)
	case []Fields:
		return list(v, path)
	case Fields:
		out := make(map[string]any, len(v))
		for k, x := range v {
			if !keyAllowed(k) {
				return nil, fmt.Errorf("ledger: key %q is not in lower-case letters, digits and _", path+"."+k)
			}
			n, err := normal(x, path+"."+k)
			if err != nil {
				return nil, err
			}
			out[k] = n
		}
		return out, nil
	}
	return nil, fmt.Errorf("ledger: %s has a %T, which a leaf cannot hold", path, v)
}

func list[T any](items []T, path string) (any, error) {
	out := make([]any, len(items))
	for i, x := range items {
		n, err := normal(x, fmt.Sprintf("%s[%d]", path, i))
		if err != nil {
			return nil, err
		}
		out[i] = n
	}
	return out, nil
}

func integer(n int64, path string) (any, error) {
	if n > safeInteger || n < -safeInteger {
		return nil, fmt.Errorf("ledger: %s is %d, beyond 2^53", path, n)
	}
	return n, nil
}

func keyAllowed(k string) bool {
	for _, c := range []byte(k) {
		if c != '_' && (c < 'a' || c > 'z') && (c < '0' || c > '9') {
			return false
		}
	}
	return k != ""
}
