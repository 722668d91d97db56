package roster

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
)

// WriteBad writes the rows that have faults as CSV, each with its reasons in a column more,
// so that they can be mended and brought in by themselves. Spreadsheets take it as it is:
// UTF-8 with its mark, and nothing in it is a formula.
func WriteBad(w io.Writer, r io.ReaderAt, size int64, f *File, faults []Fault) error {
	reasons := map[int][]string{}
	for _, x := range faults {
		reason := x.Do
		if x.Column != "" {
			reason = x.Column + ": " + reason
		}
		reasons[x.Row] = append(reasons[x.Row], reason)
	}
	if _, err := io.WriteString(w, "\ufeff"); err != nil {
		return err
	}
	out := csv.NewWriter(w)
	out.UseCRLF = true
	line := func(cells []string, reason string) error {
		cells = slices.Clone(cells)
		for len(cells) < len(f.Header) {
			cells = append(cells, "")
		}
		for i, c := range cells {
			cells[i] = unformula(c)
		}
		return out.Write(append(cells, reason))
	}
	if err := line(f.Header, "reason"); err != nil {
		return err
	}
	told := func(row int, cells []string) error {
		of, bad := reasons[row]
		if delete(reasons, row); row == 1 || !bad {
			return nil
		}
		return line(cells, fmt.Sprintf("Row %d. %s", row, strings.Join(of, " ")))
	}
	t, err := open(r, size)
	if err == nil {
		err = t.Each(told)
	}
	var at *cellError
	if errors.As(err, &at) { // its row could not be read
		err = line(nil, fmt.Sprintf("Row %d. %s", at.row, at.do))
	}
	out.Flush()
	return errors.Join(err, out.Error())
}

// unformula keeps a spreadsheet from working a text out. Reading takes the sign away again.
func unformula(text string) string {
	if text != "" && strings.ContainsRune("=+-@\t\r", rune(text[0])) {
		return "'" + text
	}
	return text
}

func asWritten(text string) string {
	if rest, ok := strings.CutPrefix(text, "'"); ok && rest != "" && unformula(rest) != rest {
		return rest
	}
	return text
}
