package ledger

import (
	"bufio"
	"crypto/ed25519"
	"encoding/base64"
	"errors"
	"io"
	"iter"
	"strings"
)

// A head is written on lines of its own: origin, size, root, an empty one, and
// the signature, which begins as every signature of a note does.
const (
	headLines = 5
	signed    = "\u2014 "
)

// longestLine is far more than a line of a head holds; what is longer is none.
const longestLine = 4 << 10

// EachHead finds the whole signed heads of a text of any length, one after another.
// Of what is no head nothing is said, and a last one that is cut off is none.
func EachHead(r io.Reader) iter.Seq2[string, error] {
	return func(yield func(string, error) bool) {
		in := bufio.NewReaderSize(r, longestLine)
		var last [headLines]string
		for {
			line, err := in.ReadSlice('\n')
			if err != nil && !errors.Is(err, bufio.ErrBufferFull) {
				if !errors.Is(err, io.EOF) {
					yield("", err)
				}
				return
			}
			copy(last[:], last[1:])
			last[headLines-1] = string(line)
			if last[3] == "\n" && last[0] != "" && signatureLine(last[4]) {
				if !yield(strings.Join(last[:], ""), nil) {
					return
				}
			}
		}
	}
}

// signatureLine reports whether a line holds a whole Ed25519 signature: one that was cut
// off, and whose line was ended later, does not.
func signatureLine(line string) bool {
	fields := strings.Fields(strings.TrimPrefix(line, signed))
	if !strings.HasPrefix(line, signed) || !strings.HasSuffix(line, "\n") || len(fields) != 2 {
		return false
	}
	code, err := base64.StdEncoding.DecodeString(fields[1])
	return err == nil && len(code) == 4+ed25519.SignatureSize
}
