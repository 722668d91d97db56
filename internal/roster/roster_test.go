package roster_test

import (
	"archive/zip"
	"bytes"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
	"github.com/xuri/excelize/v2"

	"stillwet/internal/roster"
)

var today = time.Date(2026, 3, 2, 0, 0, 0, 0, time.UTC)

func read(t testing.TB, text string, o roster.Options) *roster.File {
	t.Helper()
	if o.Today.IsZero() {
		o.Today = today
	}
	f, err := roster.Read(strings.NewReader(text), int64(len(text)), o)
	require.NoError(t, err)
	return f
}

// people are the good rows in short.
func people(f *roster.File) (out []string) {
	for _, r := range f.Rows {
		if !r.Bad {
			out = append(out, fmt.Sprintf("%d|%s|%s|%s|%s", r.Row, r.StaffNo, r.Name, strings.Join(r.Roles, "+"), r.Hired))
		}
	}
	return out
}

// The rosters of testdata/bad are wrong in one way each; beside each stands, written by
// hand, what is told.
func TestBadRosters(t *testing.T) {
	files, err := filepath.Glob("testdata/bad/*.csv")
	require.NoError(t, err)
	require.GreaterOrEqual(t, len(files), 12)
	for _, file := range files {
		t.Run(filepath.Base(file), func(t *testing.T) {
			text, err := os.ReadFile(file)
			require.NoError(t, err)
			want, err := os.ReadFile(strings.TrimSuffix(file, ".csv") + ".want")
			require.NoError(t, err)
			var lines strings.Builder
			for _, x := range read(t, string(text), roster.Options{}).Faults {
				fmt.Fprintf(&lines, "row %d, %s, %q: %s\n", x.Row, x.Column, x.Value, x.Do)
			}
			require.Equal(t, string(want), lines.String())
		})
	}
}

var want = []string{"2|0042|Ann Lee|trainee|2024-03-15", "3|7|Bo Ek|preceptor|2023-01-02"}

// The same two people, as programs write them.
func TestCSVAsProgramsWriteIt(t *testing.T) {
	plain := "Staff number,Name,Role,Hired\n0042,Ann Lee,staff,2024-03-15\n7,Bo Ek,Preceptor,2023-01-02\n"
	for name, text := range map[string]string{
		"plain":                plain,
		"BOM":                  "\ufeff" + plain,
		"semicolons":           strings.ReplaceAll(plain, ",", ";"),
		"tabs":                 strings.ReplaceAll(plain, ",", "\t"),
		"CRLF":                 strings.ReplaceAll(plain, "\n", "\r\n"),
		"CR":                   strings.ReplaceAll(plain, "\n", "\r"),
		"no end of line":       strings.TrimSuffix(plain, "\n"),
		"quotes":               `"Staff number","Name","Role","Hired"` + "\n" + `"0042","Ann Lee","staff","2024-03-15"` + "\n" + `7,"Bo Ek",preceptor,2023-01-02`,
		"other words":          "Employee ID,Full name,ROLE,Hire_Date\n0042, Ann  Lee ,New-Hire,15/03/2024\n7,Bo Ek,PRECEPTOR,2 January 2023\n",
		"two names":            "first name,last name,staff no.,role,start date\nAnn,Lee,0042,staff,03/15/2024\nBo,Ek,7,preceptor,\"January 2, 2023\"\n",
		"serial dates":         "Staff number,Name,Role,Hired\n0042,Ann Lee,staff,45366\n7,Bo Ek,preceptor,44928.0\n",
		"a time of day":        "Staff number,Name,Role,Hired\n0042,Ann Lee,staff,2024-03-15T00:00:00\n7,Bo Ek,preceptor,2023-01-02 00:00\n",
		"columns nobody reads": "Staff number,Note,Name,Role,Hired,\n0042,\"two\nlines, a comma and a \"\" quote\",Ann Lee,staff,2024-03-15,\n7,,Bo Ek,preceptor,2023-01-02,\n",
	} {
		t.Run(name, func(t *testing.T) {
			f := read(t, text, roster.Options{})
			require.Empty(t, f.Faults)
			require.Equal(t, want, people(f))
		})
	}
}

func TestWindows1252(t *testing.T) {
	text := "Name;Role\nZo\xeb M\xfcller\x96Szab\xf3;staff\n"
	require.Equal(t, []string{"2||Zoë Müller–Szabó|trainee|"}, people(read(t, text, roster.Options{})))
}

// A sign that stands across two reads is no reason to think that a file is not UTF-8.
func TestUTF8AcrossReads(t *testing.T) {
	for shift := range 4 {
		text := "Note;;;Name;Role\n" + strings.Repeat(" ", shift) + strings.Repeat(strings.Repeat("€", 10_000)+";", 3) + "Zoë;staff\n"
		require.Equal(t, []string{"2||Zoë|trainee|"}, people(read(t, text, roster.Options{})))
	}
}

// A row is counted from 1 with the header, also behind empty rows and lines in quotes.
func TestRowsAreCountedAsInASpreadsheet(t *testing.T) {
	f := read(t, "Name,Role\n\n\"Ann Lee\",staff\n,\nBo Ek,staff\n", roster.Options{})
	require.Empty(t, f.Faults)
	require.Equal(t, []string{"3||Ann Lee|trainee|", "5||Bo Ek|trainee|"}, people(f))
	f = read(t, "Name,Note,Role\nAnn Lee,\"a\nb\nc\",staff\nBo Ek,,nurse\n", roster.Options{})
	require.Equal(t, 3, f.Faults[0].Row)
}

func TestANameThatBeginsWithAnEqualsSignIsText(t *testing.T) {
	f := read(t, "Name,Role\n=Ann Lee,staff\n=1+1,staff\n", roster.Options{})
	require.Empty(t, f.Faults)
	require.Equal(t, []string{"2||=Ann Lee|trainee|", "3||=1+1|trainee|"}, people(f))
}

func TestDayAndMonthAreNeverGuessed(t *testing.T) {
	text := "Name,Role,Hired\nAnn,staff,03/04/2024\nBo,staff,25/12/2023\nCy,staff,05/05/2025\n"
	f := read(t, text, roster.Options{})
	require.Len(t, f.Faults, 1)
	require.True(t, f.Asks())
	require.Equal(t, roster.Fault{Row: 2, Column: "Hired", Value: "03/04/2024",
		Do: "This could be 3 April 2024 or 4 March 2024. Say which comes first in this file, the day or the month, or write it as 2024-04-03."}, f.Faults[0])
	require.Equal(t, []string{"3||Bo|trainee|2023-12-25", "4||Cy|trainee|2025-05-05"}, people(f))

	f = read(t, text, roster.Options{Dates: roster.DayMonth})
	require.Empty(t, f.Faults)
	require.Equal(t, "2024-04-03", f.Rows[0].Hired)

	f = read(t, text, roster.Options{Dates: roster.MonthDay})
	require.Equal(t, "2024-03-04", f.Rows[0].Hired)
	require.Equal(t, []roster.Fault{{Row: 3, Column: "Hired", Value: "25/12/2023", Do: "With the month first there is no such day. If it is 25 December 2023, write it as 2023-12-25."}}, f.Faults)
	require.False(t, f.Asks())
}

func TestADayIsAYearAheadAtTheMost(t *testing.T) {
	for text, ok := range map[string]bool{"2027-03-02": true, "2027-03-03": false, "1950-01-01": true, "1949-12-31": false, "2024-02-29": true, "2025-02-29": false} {
		f := read(t, "Name,Role,Hired\nAnn,staff,"+text+"\n", roster.Options{})
		require.Equal(t, ok, len(f.Faults) == 0, text)
	}
}

func TestColumnsAsSomebodySays(t *testing.T) {
	f := read(t, "Wer,Was,Nr\nAnn Lee,staff,0042\n", roster.Options{Columns: map[int]roster.Field{0: roster.Name, 1: roster.Role, 2: roster.StaffNo}})
	require.Empty(t, f.Faults)
	require.Equal(t, []string{"2|0042|Ann Lee|trainee|"}, people(f))

	// The next file with these headers is read likewise, in whatever order they stand.
	f = read(t, "NR.,Wer,Role,Was\n7,Bo Ek,nurse,staff\n", roster.Options{Meant: f.Meant()})
	require.Equal(t, "Two columns say the role. Keep one of them.", f.Faults[0].Do, "what was not there before is known by its words")
	f = read(t, "Name,Wer,Was\nx,Ann Lee,staff\n", roster.Options{Meant: map[string]roster.Field{"name": "", "wer": roster.Name, "was": roster.Role}})
	require.Empty(t, f.Faults)
	require.Equal(t, []string{"2||Ann Lee|trainee|"}, people(f))
}

// bookOf is a workbook of cells, the header in its first row.
func bookOf(t testing.TB, rows [][]any, more func(*excelize.File)) []byte {
	t.Helper()
	x := excelize.NewFile()
	for i, row := range rows {
		require.NoError(t, x.SetSheetRow("Sheet1", fmt.Sprintf("A%d", i+1), &row))
	}
	if more != nil {
		more(x)
	}
	var b bytes.Buffer
	require.NoError(t, x.Write(&b))
	return b.Bytes()
}

func TestWorkbook(t *testing.T) {
	text := bookOf(t, [][]any{
		{"Staff number", "Name", "Role", "Hired"},
		{42, "Ann Lee", "staff", time.Date(2024, 3, 15, 0, 0, 0, 0, time.UTC)},
		{"7", "Bo Ek", "preceptor", 44928},
		{}, {nil, nil, nil, nil},
		{"", "=Cy Nil", "EDUCATOR", "2024-02-29"},
	}, func(x *excelize.File) {
		style, err := x.NewStyle(&excelize.Style{CustomNumFmt: new("0000")})
		require.NoError(t, err)
		require.NoError(t, x.SetCellStyle("Sheet1", "A2", "A2", style))
	})
	f := read(t, string(text), roster.Options{})
	require.Empty(t, f.Faults)
	require.Equal(t, append(want, "6||=Cy Nil|educator|2024-02-29"), people(f))
}

func TestWorkbookOf1904(t *testing.T) {
	text := bookOf(t, [][]any{{"Name", "Role", "Hired"}, {"Ann Lee", "staff", 43904}}, func(x *excelize.File) {
		require.NoError(t, x.SetWorkbookProps(&excelize.WorkbookPropsOptions{Date1904: new(true)}))
	})
	require.Equal(t, []string{"2||Ann Lee|trainee|2024-03-15"}, people(read(t, string(text), roster.Options{})))
}

func TestFaultsOfAWorkbookHaveTheirPlace(t *testing.T) {
	f := read(t, string(bookOf(t, [][]any{{"Name", "Role", "Hired"}, {"Ann", "nurse"}, {"Bo", "staff", 12}, {nil, "staff"}, {"Cy", "staff", nil, "x"}}, nil)), roster.Options{})
	require.Equal(t, []roster.Fault{
		{2, "Role", "nurse", "This is no role. Write new hire, staff, preceptor, educator or manager."},
		{3, "Hired", "12", "This number is no day. Write it as 2024-03-15."},
		{4, "Name", "", "The name is missing. Write it, or delete the row."},
		{5, "column 4", "x", "The row has more cells than the header (3). Put a cell that has a comma in quotes, or name the column."},
	}, f.Faults)
}

// zipped is a zip of parts; a name that is there twice stands in it twice.
func zipped(t testing.TB, parts ...[2]string) string { return zippedBy(t, zip.Store, parts...) }

func zippedBy(t testing.TB, method uint16, parts ...[2]string) string {
	t.Helper()
	var b bytes.Buffer
	z := zip.NewWriter(&b)
	for _, p := range parts {
		w, err := z.CreateHeader(&zip.FileHeader{Name: p[0], Method: method})
		require.NoError(t, err)
		_, err = w.Write([]byte(p[1]))
		require.NoError(t, err)
	}
	require.NoError(t, z.Close())
	return b.String()
}

var workbookParts = [][2]string{
	{"xl/workbook.xml", `<workbook xmlns:r="r"><sheets><sheet name="S" sheetId="1" r:id="rId1"/></sheets></workbook>`},
	{"xl/_rels/workbook.xml.rels", `<Relationships><Relationship Id="rId1" Target="worksheets/sheet1.xml"/></Relationships>`},
}

func TestHostileWorkbooks(t *testing.T) {
	var many [][2]string
	for i := range 1001 {
		many = append(many, [2]string{fmt.Sprintf("p%d", i), ""})
	}
	sheet := func(inner string) string {
		return zipped(t, append(workbookParts, [2]string{"xl/worksheets/sheet1.xml", inner})...)
	}
	shared := func(inner string) string {
		return zipped(t, append(workbookParts, [2]string{"xl/worksheets/sheet1.xml", "<worksheet/>"}, [2]string{"xl/sharedStrings.xml", inner})...)
	}
	squeezed := func(inner string) string {
		return zippedBy(t, zip.Deflate, append(workbookParts, [2]string{"xl/worksheets/sheet1.xml", inner})...)
	}
	row := func(n int, cells string) string { return fmt.Sprintf(`<row r="%d">%s</row>`, n, cells) }
	good := row(1, `<c r="A1" t="inlineStr"><is><t>Name</t></is></c>`)
	damaged := `The .xlsx file cannot be read (%s). Open it in a spreadsheet program and save it again, or save it as CSV.`
	for name, x := range map[string]struct{ file, do string }{
		"huge":               {squeezed(strings.Repeat(" ", 64<<20)), "The .xlsx file unpacks to more than 64 MB. Save the list of people alone."},
		"squeezed":           {squeezed(strings.Repeat("<row/>", 1<<20)), "The .xlsx file unpacks to 6 MB of next to nothing. Save the list of people alone."},
		"many parts":         {zipped(t, many...), "The .xlsx file has 1001 parts; 1000 are the most. Save the list of people alone."},
		"deep strings":       {shared(strings.Repeat("<a>", 1<<20)), fmt.Sprintf(damaged, "its parts are nested too deeply")},
		"deep in a string":   {shared("<sst><si>" + strings.Repeat("<r>", 1<<20)), fmt.Sprintf(damaged, "its parts are nested too deeply")},
		"much text":          {shared("<sst>" + strings.Repeat("<si><t>x</t></si>", 1<<20) + "</sst>"), "The .xlsx file has much more text than a list of people. Save the list alone."},
		"many short texts":   {shared("<sst>" + strings.Repeat("<si><t/></si>", 600_000) + "</sst>"), "The .xlsx file has much more text than a list of people. Save the list alone."},
		"one long text":      {sheet("<worksheet>" + strings.Repeat("x", 8<<20)), fmt.Sprintf(damaged, "it is damaged")},
		"cut off":            {sheet("<worksheet>" + good + "<row>"), fmt.Sprintf(damaged, "it is damaged")},
		"no sheet":           {zipped(t, workbookParts...), fmt.Sprintf(damaged, "it has no sheet")},
		"a missing string":   {sheet(row(1, `<c t="s"><v>7</v></c>`)), fmt.Sprintf(damaged, "a cell refers to a text that is not there")},
		"rows backwards":     {sheet(good + row(1, "")), fmt.Sprintf(damaged, "its rows are out of order")},
		"cells backwards":    {sheet(row(1, `<c r="B1"><v>1</v></c><c r="A1"><v>1</v></c>`)), fmt.Sprintf(damaged, "its cells are out of order")},
		"far to the right":   {sheet(row(1, `<c r="XFD1"><v>1</v></c>`)), "The row has more than 200 columns. Save the columns of the list alone."},
		"far down":           {sheet(good + row(1_048_576, `<c r="A1048576"><v>1</v></c>`)), "50000 rows are the most. Split the file, with the header in each part."},
		"half a zip":         {sheet(good)[:200], fmt.Sprintf(damaged, "it is not whole")},
		"an old book":        {"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", "This is an old .xls file, or one with a password. Save it as .xlsx without a password, or as CSV."},
		"a picture":          {"\x89PNG\r\n\x1a\n\x00\x00", "This is no CSV file in UTF-8 or Windows-1252. Save the list as .xlsx, or as CSV (UTF-8)."},
		"too many CSV cells": {strings.Repeat(",", 1_000_000), "The row has more than 200 columns. Save the columns of the list alone."},
		"too many CSV rows":  {"Name\n" + strings.Repeat("Ann\n", 50_000), "50000 rows are the most. Split the file, with the header in each part."},
		"a long CSV cell":    {"Name\n" + strings.Repeat("x", 1<<20) + "\n", "The cell is too long. Take out what does not belong into the list."},
	} {
		t.Run(name, func(t *testing.T) {
			f := read(t, x.file, roster.Options{})
			require.Equal(t, x.do, f.Faults[len(f.Faults)-1].Do)
		})
	}
}

// What was mended in the file of bad rows can be brought in by itself.
func TestBadRowsAreWrittenWithTheirReason(t *testing.T) {
	text := "Name;Role;Note\n=Ann;nurse;\"a \"\"b\"\"\"\nBo;staff;\nCy;staff\n"
	f := read(t, text, roster.Options{})
	var out strings.Builder
	require.NoError(t, roster.WriteBad(&out, strings.NewReader(text), int64(len(text)), f, f.Faults))
	require.Equal(t, "\ufeffName,Role,Note,reason\r\n"+
		"'=Ann,nurse,\"a \"\"b\"\"\",\"Row 2. Role: This is no role. Write new hire, staff, preceptor, educator or manager.\"\r\n"+
		"Cy,staff,,Row 4. Note: The row has 2 cells and the header 3. Add what is missing; an empty cell needs its comma as well.\r\n", out.String())
	f = read(t, strings.Replace(out.String(), "nurse", "staff", 1), roster.Options{})
	require.Empty(t, f.Faults)
	require.Equal(t, []string{"2||=Ann|trainee|", "3||Cy|trainee|"}, people(f))
}

// The guide has the same header words as the program.
func TestTheGuideHasTheHeaderWords(t *testing.T) {
	guide, err := os.ReadFile("../../README.md")
	require.NoError(t, err)
	for _, f := range roster.Fields {
		line := "| " + string(f) + " | " + strings.Join(roster.Words(f), ", ") + " |"
		require.True(t, strings.Contains(string(guide), line), line)
	}
	for _, kind := range []roster.ListKind{roster.ItemList, roster.EarlierList} {
		for _, f := range kind.Fields {
			line := "| " + string(f) + " | " + strings.Join(kind.Words(f), ", ") + " |"
			require.True(t, strings.Contains(string(guide), line), line)
		}
	}
}

func FuzzRead(f *testing.F) {
	bad, err := filepath.Glob("testdata/bad/*.csv")
	require.NoError(f, err)
	for _, file := range bad {
		text, err := os.ReadFile(file)
		require.NoError(f, err)
		f.Add(text)
	}
	f.Add(bookOf(f, [][]any{{"Name", "Role", "Hired"}, {"Ann Lee", "staff", 44928}}, nil))
	f.Fuzz(func(t *testing.T, text []byte) {
		file, err := roster.Read(bytes.NewReader(text), int64(len(text)), roster.Options{Today: today})
		require.NoError(t, err) // whatever somebody sends is a fault of the file
		bad := map[int]bool{}
		for _, x := range file.Faults {
			require.NotEmpty(t, x.Do)
			require.Positive(t, x.Row)
			bad[x.Row] = true
		}
		last := 1
		for _, r := range file.Rows {
			require.Greater(t, r.Row, last)
			last = r.Row
			require.Equal(t, bad[r.Row], r.Bad)
			if !r.Bad {
				require.NotEmpty(t, r.Name)
			}
		}
		_, err = json.Marshal(file.Faults)
		require.NoError(t, err)
	})
}

// large is a roster of 20,000 people.
func large(b testing.TB, workbook bool) []byte {
	rows := [][]any{{"Staff number", "Name", "Role", "Hired", "Team", "Note"}}
	for i := range 20_000 {
		rows = append(rows, []any{fmt.Sprintf("%06d", i), fmt.Sprintf("Invented Person %d", i), "staff", "2024-03-15", "Lakeside", "nothing"})
	}
	if workbook {
		return bookOf(b, rows, nil)
	}
	var text bytes.Buffer
	for _, row := range rows {
		for i, cell := range row {
			if i > 0 {
				text.WriteByte(',')
			}
			fmt.Fprint(&text, cell)
		}
		text.WriteByte('\n')
	}
	return text.Bytes()
}

func BenchmarkRead(b *testing.B) {
	for _, workbook := range []bool{false, true} {
		text := large(b, workbook)
		b.Run(map[bool]string{false: "csv", true: "xlsx"}[workbook], func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				f, err := roster.Read(bytes.NewReader(text), int64(len(text)), roster.Options{Today: today})
				require.NoError(b, err)
				require.Len(b, f.Rows, 20_000)
			}
		})
	}
}
