package exports

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"

	"github.com/xuri/excelize/v2"

	"stillwet/internal/training"
)

// Limits of a workbook that is read again.
const (
	mostBookBytes  = 32 << 20
	mostBookUnzips = 256 << 20
)

// Kept is a workbook as it was written once, read again to be compared with the records.
type Kept struct {
	Year     int
	Head     string // the signed head it carries; "" when nothing had been signed
	Key      string
	signOffs rowsOf
	watched  rowsOf
}

// rowsOf are the rows of a sheet by the id in each, cell by column title.
type rowsOf struct {
	sheet  string
	ids    []string
	titles []string
	rows   map[string]map[string]string
	at     map[string]int // row number in the workbook
}

// Reread reads an annual workbook of this program.
func Reread(r io.Reader) (k Kept, err error) {
	text, err := io.ReadAll(io.LimitReader(r, mostBookBytes+1))
	if err != nil {
		return k, err
	}
	if len(text) > mostBookBytes {
		return k, fmt.Errorf("the workbook is larger than %d MB; it is none of this program's", mostBookBytes>>20)
	}
	f, err := excelize.OpenReader(bytes.NewReader(text), excelize.Options{UnzipSizeLimit: mostBookUnzips, RawCellValue: true})
	if err != nil {
		return k, fmt.Errorf("it cannot be read as a workbook: %w", err)
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	if err := k.readMe(f); err != nil {
		return k, err
	}
	if k.signOffs, err = readRows(f, "Sign-offs", "Sign-off id"); err != nil {
		return k, err
	}
	k.watched, err = readRows(f, "Demonstrations", "Demonstration id")
	return k, err
}

func (k *Kept) readMe(f *excelize.File) error {
	rows, err := f.GetRows(readMeName)
	if err != nil {
		return fmt.Errorf("it has no sheet %q; it is no annual workbook", readMeName)
	}
	for _, row := range rows {
		switch {
		case len(row) == 1 && strings.HasPrefix(row[0], bookTitle):
			k.Year, _ = strconv.Atoi(strings.TrimPrefix(row[0], bookTitle)) // zero is told below
		case len(row) < 2:
		case row[0] == "Signed head" && row[1] != "":
			k.Head = strings.TrimSpace(row[1]) + "\n"
		case row[0] == "Verifier key":
			k.Key = row[1]
		}
	}
	if k.Year == 0 {
		return fmt.Errorf("sheet %q does not say of which year it is", readMeName)
	}
	return nil
}

func readRows(f *excelize.File, sheet, idTitle string) (rowsOf, error) {
	out := rowsOf{sheet: sheet, rows: map[string]map[string]string{}, at: map[string]int{}}
	rows, err := f.GetRows(sheet)
	if err != nil {
		return out, fmt.Errorf("it has no sheet %q", sheet)
	}
	head := slices.IndexFunc(rows, func(row []string) bool { return slices.Contains(row, idTitle) })
	if head < 0 {
		return out, fmt.Errorf("sheet %q has no column %q", sheet, idTitle)
	}
	out.titles = rows[head]
	id := slices.Index(out.titles, idTitle)
	for i, row := range rows[head+1:] {
		if len(row) <= id || row[id] == "" {
			continue
		}
		cells := map[string]string{}
		for c, title := range out.titles {
			if c < len(row) {
				cells[title] = row[c]
			}
		}
		out.ids, out.rows[row[id]], out.at[row[id]] = append(out.ids, row[id]), cells, head+2+i
	}
	return out, nil
}

// Difference is a cell of a kept workbook that the records contradict.
type Difference struct{ Sheet, Cell, Was, Is string }

func (d Difference) String() string {
	if d.Is == "" {
		return fmt.Sprintf("%s %s says %q, and the records have nothing there", d.Sheet, d.Cell, d.Was)
	}
	return fmt.Sprintf("%s %s says %q, and the records say %q", d.Sheet, d.Cell, d.Was, d.Is)
}

// Against compares every signed row of a kept workbook with the records of now. Columns
// that only one of the two has are passed over: they were added or dropped by a version.
func (k Kept) Against(a training.Annual) ([]Difference, error) {
	var b bytes.Buffer
	if err := Annual(&b, a); err != nil {
		return nil, err
	}
	now, err := Reread(&b)
	if err != nil {
		return nil, err
	}
	signed := func(row map[string]string) bool { return row["Preceptor signed"] != "" }
	return append(k.signOffs.against(now.signOffs, func(map[string]string) bool { return true }), k.watched.against(now.watched, signed)...), nil
}

func (r rowsOf) against(now rowsOf, counts func(map[string]string) bool) (all []Difference) {
	for _, id := range r.ids {
		was := r.rows[id]
		if !counts(was) {
			continue
		}
		is, ok := now.rows[id]
		if !ok {
			all = append(all, Difference{r.sheet, "row " + strconv.Itoa(r.at[id]), id, ""})
			continue
		}
		for c, title := range r.titles {
			if slices.Contains(now.titles, title) && was[title] != is[title] {
				cell, err := excelize.CoordinatesToCellName(c+1, r.at[id])
				if err != nil {
					cell = title
				}
				all = append(all, Difference{r.sheet, cell + " (" + title + ")", was[title], is[title]})
			}
		}
	}
	return all
}
