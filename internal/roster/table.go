// Package roster reads lists of people from spreadsheets: CSV as programs really write
// it, and xlsx. It tells what is wrong with each cell, where it stands and what to do.
// It knows no clinic: whether a person is new is asked elsewhere.
package roster

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"unicode/utf8"
)

// Limits. More is refused before it is decoded, so that no file takes more memory or
// time than an honest one.
const (
	MostBytes   = 64 << 20 // of a file, and of what an xlsx file unpacks to
	MostRows    = 50_000   // the header is one
	mostColumns = 200
	mostCell    = 32_767   // bytes of a cell
	mostParts   = 1_000    // files in an xlsx file
	mostShared  = 16 << 20 // bytes of the part of an xlsx file that cells share
	mostStrings = 8 << 20  // bytes of the texts in it
	mostSqueeze = 150      // how many times smaller a large part may be packed; rows of people are packed about twenty times
	mostDepth   = 64       // of elements in a part
)

// Fault is something wrong with a file. Row counts from 1, the header's; a fault of the
// whole file stands in row 1.
type Fault struct {
	Row    int    `json:"row"`
	Column string `json:"column"` // as the header calls it
	Value  string `json:"value"`
	Do     string `json:"do"`
}

// cellError is a fault before it is known how the header calls its column. It ends the
// reading of a file.
type cellError struct {
	row, col  int // col counts from 0; -1 when it is no cell's
	value, do string
}

func (e *cellError) Error() string { return fmt.Sprintf("row %d: %s", e.row, e.do) }

func wholeFile(do string, args ...any) error {
	return &cellError{row: 1, col: -1, do: fmt.Sprintf(do, args...)}
}

// Table is a file of rows and cells that can be gone through more than once.
type Table struct {
	each     func(func(row int, cells []string) error) error
	date1904 bool // its serial dates count from 1904
	noShort  bool // it leaves out cells that are empty, so that no row is too short
}

// Each tells every row with something in it, in order. The cells are the callee's.
func (t *Table) Each(told func(row int, cells []string) error) error {
	return t.each(func(row int, cells []string) error {
		if blank(cells) && row > 1 {
			return nil
		}
		if row > MostRows {
			return &cellError{row, -1, "", fmt.Sprintf("%d rows are the most. Split the file, with the header in each part.", MostRows)}
		}
		return told(row, cells)
	})
}

func blank(cells []string) bool {
	for _, c := range cells {
		if trim(c) != "" {
			return false
		}
	}
	return true
}

// open finds out what a file is by its first bytes; its name may say anything.
func open(r io.ReaderAt, size int64) (*Table, error) {
	if size > MostBytes {
		return nil, wholeFile("The file has %d MB; %d MB are the most. Save the list of people alone.", size>>20, MostBytes>>20)
	}
	if size == 0 {
		return nil, wholeFile("The file is empty. Save the list again and choose that file.")
	}
	start := make([]byte, min(size, 8))
	if _, err := r.ReadAt(start, 0); err != nil && !errors.Is(err, io.EOF) {
		return nil, err
	}
	switch {
	case bytes.HasPrefix(start, []byte("PK\x03\x04")), bytes.HasPrefix(start, []byte("PK\x05\x06")):
		return openBook(r, size)
	case bytes.HasPrefix(start, []byte("\xd0\xcf\x11\xe0")):
		return nil, wholeFile("This is an old .xls file, or one with a password. Save it as .xlsx without a password, or as CSV.")
	}
	return openText(r, size)
}

// clip shortens what is told of a value.
func clip(text string) string {
	const most = 80
	if utf8.RuneCountInString(text) <= most {
		return text
	}
	return string([]rune(text)[:most]) + "…"
}
