package exports

import (
	"archive/zip"
	"io"

	"github.com/klauspost/compress/flate"
)

// level 5 of this compressor is half the time of the standard one for nearly
// the same size.
const level = 5

// newZip compresses straight to the output, so that the finished file is never
// held in memory.
func newZip(w io.Writer) *zip.Writer {
	z := zip.NewWriter(w)
	z.RegisterCompressor(zip.Deflate, func(out io.Writer) (io.WriteCloser, error) {
		return flate.NewWriter(out, level)
	})
	return z
}
