package roster

import (
	"archive/zip"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"time"
)

// rows tells the rows of a sheet that have something in them.
func (b *book) rows(sheet *zip.File, told func(int, []string) error) (err error) {
	f, err := sheet.Open()
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	w := newWalk(f)
	last := 0
	for {
		t, err := w.token()
		if errors.Is(err, io.EOF) {
			return nil
		}
		if err != nil {
			return err
		}
		e, ok := t.(xml.StartElement)
		if !ok || e.Name.Local != "row" {
			continue
		}
		row := last + 1
		if r := attr(e, "r"); r != "" {
			if row, err = strconv.Atoi(r); err != nil || row <= last {
				return wholeFile(noBook, "its rows are out of order")
			}
		}
		last = row
		cells, err := b.row(w, row)
		if err == nil && len(cells) > 0 {
			err = told(row, cells)
		}
		if err != nil {
			return err
		}
	}
}

func (b *book) row(w *walk, row int) (cells []string, err error) {
	next := 0
	for {
		t, err := w.token()
		if err != nil {
			return nil, notWhole(err)
		}
		switch t := t.(type) {
		case xml.EndElement:
			if t.Name.Local == "row" {
				return cells, nil
			}
		case xml.StartElement:
			if t.Name.Local != "c" {
				continue
			}
			col := next
			if r := attr(t, "r"); r != "" {
				if col = columnOf(r); col < next || col >= sheetColumns {
					return nil, wholeFile(noBook, "its cells are out of order")
				}
			}
			next = col + 1
			text, err := b.cell(w, t)
			if err != nil {
				return nil, err
			}
			if text == "" {
				continue
			}
			if col >= mostColumns {
				return nil, &cellError{row, -1, "", tooManyColumns}
			}
			if len(text) > mostCell {
				return nil, &cellError{row, col, clip(text), "The cell is too long. Take out what does not belong into the list."}
			}
			for len(cells) < col {
				cells = append(cells, "")
			}
			cells = append(cells, text)
		}
	}
}

const sheetColumns = 16_384 // that a sheet can have at all

// columnOf is the column of a cell's name, from 0; -1 when it has none.
func columnOf(name string) int {
	n := 0
	for _, r := range name {
		if r < 'A' || r > 'Z' || n > 1<<20 {
			break
		}
		n = n*26 + int(r-'A') + 1
	}
	return n - 1
}

// cell is what a cell says.
func (b *book) cell(w *walk, e xml.StartElement) (string, error) {
	kind := attr(e, "t")
	style, _ := strconv.Atoi(attr(e, "s")) // none is the first
	var value strings.Builder
	inValue, inline := false, ""
	for {
		t, err := w.token()
		if err != nil {
			return "", notWhole(err)
		}
		switch t := t.(type) {
		case xml.StartElement:
			inValue = t.Name.Local == "v"
			if t.Name.Local == "is" {
				if inline, err = w.text("is"); err != nil {
					return "", err
				}
			}
		case xml.CharData:
			if inValue && value.Len() <= mostCell {
				value.Write(t)
			}
		case xml.EndElement:
			inValue = false
			if t.Name.Local == "c" {
				if kind == "inlineStr" {
					return inline, nil
				}
				return b.said(kind, style, value.String())
			}
		}
	}
}

func (b *book) said(kind string, style int, value string) (string, error) {
	switch kind {
	case "s":
		i, err := strconv.Atoi(strings.TrimSpace(value))
		if err != nil || i < 0 || i >= len(b.shared) {
			return "", wholeFile(noBook, "a cell refers to a text that is not there")
		}
		return b.shared[i], nil
	case "str":
		return escaped.ReplaceAllStringFunc(value, unescape), nil
	case "", "n":
		return b.number(style, strings.TrimSpace(value)), nil
	}
	return value, nil
}

// number writes a number as the sheet shows it, where that matters: days, and numbers
// with noughts before them.
func (b *book) number(style int, value string) string {
	n, err := strconv.ParseFloat(value, 64)
	if err != nil || math.IsNaN(n) || math.IsInf(n, 0) {
		return value
	}
	var f format
	if style >= 0 && style < len(b.formats) {
		f = b.formats[style]
	}
	whole := n == math.Trunc(n) && math.Abs(n) < 1e15
	switch {
	case f.date && n >= 61 && n < 3_000_000: // before it spreadsheets count a day that never was
		epoch := time.Date(1899, 12, 30, 0, 0, 0, 0, time.UTC)
		if b.date1904 {
			epoch = time.Date(1904, 1, 1, 0, 0, 0, 0, time.UTC)
		}
		return epoch.AddDate(0, 0, int(n)).Format(isoDay)
	case whole && f.pad > 0 && n >= 0:
		return fmt.Sprintf("%0*.0f", f.pad, n)
	case whole:
		return strconv.FormatFloat(n, 'f', 0, 64)
	}
	return value
}
