package roster

import (
	"bufio"
	"errors"
	"io"
	"unicode/utf8"
)

// openText finds out how a text file is written: its signs, and what parts its cells.
func openText(r io.ReaderAt, size int64) (*Table, error) {
	all := func() io.Reader { return io.NewSectionReader(r, 0, size) }
	isUTF8, err := checkText(all())
	if err != nil {
		return nil, err
	}
	text := func() *bufio.Reader {
		if !isUTF8 {
			return bufio.NewReader(&windows1252{in: bufio.NewReader(all())})
		}
		b := bufio.NewReader(all())
		if mark, err := b.Peek(3); err == nil && string(mark) == "\ufeff" {
			_, _ = b.Discard(3) // they were just seen
		}
		return b
	}
	comma := parting(text)
	return &Table{each: func(told func(int, []string) error) error {
		c := csvReader{in: text(), comma: comma}
		for {
			cells, err := c.next()
			if errors.Is(err, io.EOF) {
				return nil
			}
			if err == nil {
				err = told(c.row, cells)
			}
			if err != nil {
				return err
			}
		}
	}}, nil
}

// checkText reports whether a file is UTF-8, and refuses one that is no text.
func checkText(r io.Reader) (isUTF8 bool, err error) {
	isUTF8 = true
	buf := make([]byte, 64<<10)
	kept := 0
	for {
		n, err := r.Read(buf[kept:])
		n += kept
		part := buf[:n]
		for _, b := range part {
			if b == 0 {
				return false, wholeFile("This is no CSV file in UTF-8 or Windows-1252. Save the list as .xlsx, or as CSV (UTF-8).")
			}
		}
		kept = 0
		if isUTF8 {
			kept = cutRune(part)
			if isUTF8 = utf8.Valid(part[:n-kept]); !isUTF8 {
				kept = 0
			}
			copy(buf, part[n-kept:])
		}
		if errors.Is(err, io.EOF) {
			return isUTF8 && kept == 0, nil
		}
		if err != nil {
			return false, err
		}
	}
}

// cutRune is how many bytes at the end begin a sign that is not whole yet.
func cutRune(b []byte) int {
	for i := 1; i < utf8.UTFMax && i <= len(b); i++ {
		if last := b[len(b)-i:]; utf8.RuneStart(last[0]) {
			if !utf8.FullRune(last) {
				return i
			}
			return 0
		}
	}
	return 0
}

// parting is the sign between cells: the one by which the first row has the most known
// words; with none the most cells.
func parting(text func() *bufio.Reader) byte {
	best, most := byte(','), -1
	for _, comma := range []byte{',', ';', '\t'} {
		c := csvReader{in: text(), comma: comma}
		cells, err := c.next()
		if err != nil {
			continue // it is told when the file is read
		}
		n := len(cells)
		for _, cell := range cells {
			if _, known := fieldOf(cell); known {
				n += mostColumns
			}
		}
		if n > most {
			best, most = comma, n
		}
	}
	return best
}

// csvReader reads records. A cell may have line ends when it stands in quotes; a line
// that is empty is a row as well, as it is in a spreadsheet.
type csvReader struct {
	in    *bufio.Reader
	comma byte
	row   int
	cell  []byte
}

const endOfLine, endOfFile = '\n', 0 // what ended a cell, besides the comma

func (c *csvReader) next() (cells []string, err error) {
	if _, err := c.in.Peek(1); err != nil {
		return nil, err
	}
	c.row++
	for {
		end, err := c.readCell(len(cells))
		if err != nil {
			return nil, err
		}
		cells = append(cells, string(c.cell))
		if end != c.comma {
			return cells, nil
		}
		if len(cells) == mostColumns {
			return nil, &cellError{c.row, -1, "", tooManyColumns}
		}
	}
}

func (c *csvReader) readCell(col int) (end byte, err error) {
	c.cell = c.cell[:0]
	if b, err := c.in.Peek(1); err == nil && b[0] == '"' {
		_, _ = c.in.Discard(1) // it was just seen
		return c.readQuoted(col)
	}
	for {
		end, b, err := c.sign()
		if err != nil || end {
			return b, err
		}
		if len(c.cell) == mostCell {
			return 0, c.tooLong(col)
		}
		c.cell = append(c.cell, b)
	}
}

// sign is the next sign of a cell without quotes, or what ends it.
func (c *csvReader) sign() (end bool, b byte, err error) {
	b, err = c.in.ReadByte()
	switch {
	case errors.Is(err, io.EOF):
		return true, endOfFile, nil
	case err != nil:
		return true, 0, err
	case b == '\r':
		if next, err := c.in.Peek(1); err == nil && next[0] == '\n' {
			_, _ = c.in.Discard(1) // it was just seen
		}
		return true, endOfLine, nil
	}
	return b == c.comma || b == '\n', b, nil
}

// readQuoted reads behind the first quote. One that never ends is told as such, however
// much it swallowed.
func (c *csvReader) readQuoted(col int) (end byte, err error) {
	long := false
	for {
		b, err := c.in.ReadByte()
		if errors.Is(err, io.EOF) {
			return 0, c.wrong(col, "A quote begins here and is never closed. Close it, or take it out.")
		}
		if err != nil {
			return 0, err
		}
		if b == '"' {
			if next, err := c.in.Peek(1); err != nil || next[0] != '"' {
				break
			}
			_, _ = c.in.Discard(1) // it was just seen
		}
		if long = long || len(c.cell) == mostCell; !long {
			c.cell = append(c.cell, b)
		}
	}
	if long {
		return 0, c.tooLong(col)
	}
	ends, b, err := c.sign()
	if err == nil && !ends {
		err = c.wrong(col, "Something follows the quote that closes this cell. Write a quote inside the cell twice.")
	}
	return b, err
}

func (c *csvReader) tooLong(col int) error {
	return c.wrong(col, "The cell is too long. Take out what does not belong into the list.")
}

func (c *csvReader) wrong(col int, do string) error {
	return &cellError{c.row, col, clip(string(c.cell)), do}
}

const tooManyColumns = "The row has more than 200 columns. Save the columns of the list alone."

// windows1252 reads what Windows wrote in Western countries before UTF-8.
type windows1252 struct {
	in   io.ByteReader
	left []byte
}

// high are the signs 0x80 to 0x9f; all others are those of Unicode. What stands for
// none is a control character, and is told as such.
var high = []rune("€\u0081‚ƒ„…†‡ˆ‰Š‹Œ\u008dŽ\u008f\u0090‘’“”•–—˜™š›œ\u009džŸ")

func (w *windows1252) Read(p []byte) (n int, err error) {
	for n < len(p) {
		if len(w.left) == 0 {
			b, err := w.in.ReadByte()
			if err != nil {
				return n, err
			}
			r := rune(b)
			if b >= 0x80 && b <= 0x9f {
				r = high[b-0x80]
			}
			w.left = utf8.AppendRune(w.left[:0], r)
		}
		k := copy(p[n:], w.left)
		w.left, n = w.left[k:], n+k
	}
	return n, nil
}
