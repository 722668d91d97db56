package exports

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"

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
	Year int
	AsOf training.Day // of its standings
	Head string       // the signed head it carries; "" when nothing had been signed
	Key  string

	made                        time.Time // on the clinic's wall
	headSheet                   string    // where the head stands: in earlier versions on the first sheet
	size, root                  string    // as it says them beside the head
	counts                      []countOf // of the first sheet
	signOffs, watched, standing rowsOf
	versions                    rowsOf       // of no sheet in earlier versions
	more                        []rowsOf     // of moreSheets; without rows where there is no such sheet
	odd                         []Difference // rows without an id, or with that of another
}

// countOf is how many the first sheet says that there are of something.
type countOf struct{ what, said string }

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
	k.keysAndHeads(f)
	for _, sheet := range []struct {
		into *rowsOf
		name string
		ids  []string
	}{
		{&k.signOffs, "Sign-offs", []string{"Sign-off id"}}, {&k.watched, "Demonstrations", []string{"Demonstration id"}},
		{&k.standing, "Status", []string{"Person id", "Competency"}}, {&k.versions, versionsName, []string{versionID}},
	} {
		if at, err := f.GetSheetIndex(sheet.name); at < 0 && err == nil && sheet.into == &k.versions {
			continue
		}
		var odd []Difference
		if *sheet.into, odd, err = readRows(f, sheet.name, sheet.ids); err != nil {
			return k, err
		}
		k.odd = append(k.odd, odd...)
	}
	return k, k.readMore(f)
}

// readMore reads the sheets that not every workbook has.
func (k *Kept) readMore(f *excelize.File) (err error) {
	k.more = make([]rowsOf, len(moreSheets))
	for i, sheet := range moreSheets {
		if at, err := f.GetSheetIndex(sheet.name); at < 0 || err != nil {
			continue
		}
		var odd []Difference
		if k.more[i], odd, err = readRows(f, sheet.name, sheet.ids); err != nil {
			return err
		}
		k.odd = append(k.odd, odd...)
	}
	return nil
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
		case row[0] == "Standing as of":
			k.AsOf = training.Day(wallClock(row[1]).Format(time.DateOnly))
		case row[0] == "Made at":
			k.made = wallClock(row[1])
		case isCounted(row[0]):
			k.counts = append(k.counts, countOf{row[0], row[1]})
		}
	}
	if k.Year == 0 {
		return fmt.Errorf("sheet %q does not say of which year it is", readMeName)
	}
	return nil
}

// keysAndHeads reads what earlier versions wrote on the first sheet too.
func (k *Kept) keysAndHeads(f *excelize.File) {
	k.headSheet = keysName
	rows, err := f.GetRows(keysName)
	if err != nil {
		k.headSheet = readMeName
		rows, _ = f.GetRows(readMeName) // read before
	}
	for _, row := range rows {
		switch {
		case len(row) < 2:
		case row[0] == "Signed head" && row[1] != "":
			k.Head = strings.TrimSpace(row[1]) + "\n"
		case row[0] == "Verifier key":
			k.Key = row[1]
		case row[0] == "Ledger size":
			k.size = row[1]
		case row[0] == "Ledger root":
			k.root = row[1]
		}
	}
}

// wallClock is the time of a cell; the first one there is when it holds none.
func wallClock(text string) time.Time {
	serial, err := strconv.ParseFloat(text, 64)
	if err != nil {
		return time.Time{}
	}
	t, err := excelize.ExcelDateToTime(serial, false)
	if err != nil {
		return time.Time{}
	}
	return t
}

func readRows(f *excelize.File, sheet string, idTitles []string) (out rowsOf, odd []Difference, err error) {
	out = rowsOf{sheet: sheet, rows: map[string]map[string]string{}, at: map[string]int{}}
	rows, err := f.GetRows(sheet)
	if err != nil {
		return out, nil, fmt.Errorf("it has no sheet %q", sheet)
	}
	head := slices.IndexFunc(rows, func(row []string) bool {
		return !slices.ContainsFunc(idTitles, func(title string) bool { return !slices.Contains(row, title) })
	})
	if head < 0 {
		return out, nil, fmt.Errorf("sheet %q has no column %q", sheet, strings.Join(idTitles, " or "))
	}
	out.titles = rows[head]
	for i, row := range rows[head+1:] {
		cells := map[string]string{}
		for c, title := range out.titles {
			if c < len(row) {
				cells[title] = asNow(title, row[c])
			}
		}
		id := idOf(cells, idTitles)
		at := head + 2 + i
		_, twice := out.rows[id]
		switch {
		case strings.Join(row, "") == "":
		case id == "" || twice:
			odd = append(odd, Difference{sheet, "row " + strconv.Itoa(at), strings.Join(row[:min(len(row), 3)], ", "), ""})
		default:
			out.ids, out.rows[id], out.at[id] = append(out.ids, id), cells, at
		}
	}
	return out, odd, nil
}

// idOf is what tells a row from the others; "" when any part of it is missing.
func idOf(cells map[string]string, titles []string) string {
	var parts []string
	for _, title := range titles {
		if cells[title] == "" {
			return ""
		}
		parts = append(parts, cells[title])
	}
	return strings.Join(parts, " ")
}

var isoDay = regexp.MustCompile(`\b\d{4}-\d{2}-\d{2}\b`)

// asNow is a cell of an earlier version in the words of this one.
func asNow(title, text string) string {
	switch title {
	case "Standing":
		return training.StandingWord(text).Title()
	case watchedTitle, toBeKnown, dayChanged:
		return isoDay.ReplaceAllStringFunc(text, func(day string) string { return training.Day(day).Said() })
	}
	return text
}
