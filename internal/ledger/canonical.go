package ledger

import (
	"bytes"
	"encoding/json"
	"fmt"
	"slices"
	"strconv"
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
	return appendFields(make([]byte, 0, 1<<10), f, "")
}

// appendValue writes one value. It is written here and not by encoding/json because
// verifying writes every leaf there is again; a test compares the two.
func appendValue(b []byte, v any, path string) ([]byte, error) {
	switch v := v.(type) {
	case string:
		return appendText(b, v, path)
	case bool:
		return strconv.AppendBool(b, v), nil
	case int:
		return appendInteger(b, int64(v), path)
	case int64:
		return appendInteger(b, v, path)
	case []string:
		return appendList(b, v, path, appendText)
	case []Fields:
		return appendList(b, v, path, appendFields)
	case Fields:
		return appendFields(b, v, path)
	}
	return nil, fmt.Errorf("ledger: %s has a %T, which a leaf cannot hold", path, v)
}

func appendFields(b []byte, f Fields, path string) (_ []byte, err error) {
	keys := make([]string, 0, len(f))
	for k := range f {
		if !keyAllowed(k) {
			return nil, fmt.Errorf("ledger: key %q is not in lower-case letters, digits and _", path+"."+k)
		}
		keys = append(keys, k)
	}
	slices.Sort(keys)
	b = append(b, '{')
	for i, k := range keys {
		if i > 0 {
			b = append(b, ',')
		}
		b = append(append(append(b, '"'), k...), '"', ':')
		if b, err = appendValue(b, f[k], path+"."+k); err != nil {
			return nil, err
		}
	}
	return append(b, '}'), nil
}

func appendList[T any](b []byte, items []T, path string, one func([]byte, T, string) ([]byte, error)) (_ []byte, err error) {
	b = append(b, '[')
	for i, x := range items {
		if i > 0 {
			b = append(b, ',')
		}
		if b, err = one(b, x, path+"["+strconv.Itoa(i)+"]"); err != nil {
			return nil, err
		}
	}
	return append(b, ']'), nil
}

func appendText(b []byte, text, path string) ([]byte, error) {
	if plain(text) {
		return append(append(append(b, '"'), text...), '"'), nil
	}
	if !utf8.ValidString(text) {
		return nil, fmt.Errorf("ledger: %s is not valid UTF-8", path)
	}
	var out bytes.Buffer
	e := json.NewEncoder(&out)
	e.SetEscapeHTML(false)
	if err := e.Encode(norm.NFC.String(text)); err != nil {
		return nil, fmt.Errorf("ledger: %s: %w", path, err)
	}
	return append(b, bytes.TrimSuffix(out.Bytes(), []byte("\n"))...), nil
}

// plain reports whether JSON writes a text as it is.
func plain(text string) bool {
	for i := range len(text) {
		if c := text[i]; c < ' ' || c > '~' || c == '"' || c == '\\' {
			return false
		}
	}
	return true
}

func appendInteger(b []byte, n int64, path string) ([]byte, error) {
	if n > safeInteger || n < -safeInteger {
		return nil, fmt.Errorf("ledger: %s is %d, beyond 2^53", path, n)
	}
	return strconv.AppendInt(b, n, 10), nil
}

func keyAllowed(k string) bool {
	for _, c := range []byte(k) {
		if c != '_' && (c < 'a' || c > 'z') && (c < '0' || c > '9') {
			return false
		}
	}
	return k != ""
}
