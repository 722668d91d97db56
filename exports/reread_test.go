package exports

import (
	"bytes"
	"os"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"github.com/xuri/excelize/v2"

	"stillwet/internal/training"
)

// What was exported agrees with the records it was made of, and each altered cell of a
// signed row is named with its place.
func TestAKeptWorkbookIsComparedCellByCell(t *testing.T) {
	a := invented(t)
	text := bookText(t, a)
	kept, err := Reread(bytes.NewReader(text))
	require.NoError(t, err)
	require.Equal(t, a.Year, kept.Year)
	require.Equal(t, a.Ledger.Note, kept.Head)
	require.Equal(t, a.Ledger.Key, kept.Key)
	none, err := kept.Against(a, nil)
	require.NoError(t, err)
	require.Empty(t, none)

	later := invented(t)
	later.MadeAt = "2027-06-02T15:04:00.000Z"
	later.SignOffs[0].Due = "2029-03-08"
	differences, err := kept.Against(later, nil)
	require.NoError(t, err)
	require.Len(t, differences, 1)
	require.Equal(t, "Sign-offs", differences[0].Sheet)
	require.Contains(t, differences[0].Cell, "(Due)")

	gone := invented(t)
	gone.SignOffs = nil
	differences, err = kept.Against(gone, nil)
	require.NoError(t, err)
	require.Len(t, differences, 1)
	require.Contains(t, differences[0].String(), "the records have nothing there")
}

// Every cell of the signed rows counts, but those of rows that nobody had signed.
func TestEveryAlteredCellOfASignedRowIsNamed(t *testing.T) {
	a := invented(t)
	f, err := excelize.OpenReader(bytes.NewReader(bookText(t, a)))
	require.NoError(t, err)
	defer func() { require.NoError(t, f.Close()) }()
	rows, err := f.GetRows("Sign-offs")
	require.NoError(t, err)
	for c, title := range rows[0] {
		if strings.HasSuffix(title, "Sign-off id") {
			continue
		}
		cell, err := excelize.CoordinatesToCellName(c+1, 2)
		require.NoError(t, err)
		was, err := f.GetCellValue("Sign-offs", cell, excelize.Options{RawCellValue: true})
		require.NoError(t, err)
		require.NoError(t, f.SetCellValue("Sign-offs", cell, was+" changed"))
		var b bytes.Buffer
		require.NoError(t, f.Write(&b))
		kept, err := Reread(&b)
		require.NoError(t, err)
		differences, err := kept.Against(a, nil)
		require.NoError(t, err)
		require.Len(t, differences, 1, title)
		require.Contains(t, differences[0].Cell, cell)
		require.NoError(t, f.SetCellValue("Sign-offs", cell, was))
	}
}

// The versions of the procedure are compared too. One that waited may be approved after the
// workbook; what holds is not altered any more, and none goes missing.
func TestTheVersionsOfAKeptWorkbookAreCompared(t *testing.T) {
	kept, err := Reread(bytes.NewReader(bookText(t, invented(t))))
	require.NoError(t, err)
	against := func(change func(all []training.SetVersion) []training.SetVersion) []Difference {
		later := invented(t)
		later.Versions = change(later.Versions)
		differences, err := kept.Against(later, nil)
		require.NoError(t, err)
		return differences
	}
	require.Empty(t, against(func(all []training.SetVersion) []training.SetVersion {
		all[2].Events = append(all[2].Events, training.SetEvent{Event: training.SetWithdrawn, At: "2027-03-01T12:00:00.000Z", Leaf: 9})
		again := all[0] // goes back to the first
		again.Number, again.Events = 4, []training.SetEvent{{Event: training.SetProposed, At: "2027-03-02T12:00:00.000Z", Leaf: 10}}
		all[1].Events = append(all[1].Events, training.SetEvent{Event: training.TwoApprove, Leaf: 11})
		return append(all, again)
	}))
	found := against(func(all []training.SetVersion) []training.SetVersion {
		all[1].Events[1].Approval.By = "Somebody else"
		return all
	})
	require.NotEmpty(t, found)
	require.Contains(t, found[0].String()+found[len(found)-1].String(), "Marek Invented")
	require.NotEmpty(t, against(func(all []training.SetVersion) []training.SetVersion { all[2].Why = "Another reason."; return all }))
	require.NotEmpty(t, against(func(all []training.SetVersion) []training.SetVersion { return all[:2] }), "a row that no record has")

	short := invented(t)
	short.Versions = short.Versions[:2]
	kept, err = Reread(bytes.NewReader(bookText(t, short)))
	require.NoError(t, err)
	found = against(func(all []training.SetVersion) []training.SetVersion { return all })
	require.Contains(t, found[len(found)-1].String(), "version 3 of the clinic's procedure")

	f, err := excelize.OpenReader(bytes.NewReader(bookText(t, short)))
	require.NoError(t, err)
	require.NoError(t, f.DeleteSheet("Procedure"))
	var old bytes.Buffer
	require.NoError(t, f.Write(&old))
	require.NoError(t, f.Close())
	kept, err = Reread(&old)
	require.NoError(t, err)
	require.Empty(t, against(func(all []training.SetVersion) []training.SetVersion { return all }), "earlier workbooks have no such sheet")
}

func TestAFileThatIsNoWorkbookIsRefused(t *testing.T) {
	_, err := Reread(strings.NewReader("no workbook"))
	require.ErrorContains(t, err, "cannot be read as a workbook")
	_, err = Reread(bytes.NewReader(make([]byte, mostBookBytes+1)))
	require.ErrorContains(t, err, "larger than 32 MB")
	other := excelize.NewFile()
	var b bytes.Buffer
	require.NoError(t, other.Write(&b))
	require.NoError(t, other.Close())
	_, err = Reread(&b)
	require.ErrorContains(t, err, "no annual workbook")
}

// bookText is a workbook as a file.
func bookText(t testing.TB, a training.Annual) []byte {
	var b bytes.Buffer
	require.NoError(t, Annual(&b, a))
	return b.Bytes()
}

func FuzzReread(f *testing.F) {
	f.Add(bookText(f, invented(f)))
	f.Add([]byte("PK\x03\x04"))
	f.Fuzz(func(t *testing.T, text []byte) {
		kept, err := Reread(bytes.NewReader(text))
		require.True(t, err != nil || kept.Year != 0)
	})
}

// altered reads the workbook after somebody changed it.
func altered(t *testing.T, change func(f *excelize.File)) Kept {
	f, err := excelize.OpenReader(bytes.NewReader(bookText(t, invented(t))))
	require.NoError(t, err)
	defer func() { require.NoError(t, f.Close()) }()
	change(f)
	var b bytes.Buffer
	require.NoError(t, f.Write(&b))
	kept, err := Reread(&b)
	require.NoError(t, err)
	return kept
}

// cellOf is where a column's title says, in a row.
func cellOf(t *testing.T, f *excelize.File, sheet, title string, row int) string {
	rows, err := f.GetRows(sheet)
	require.NoError(t, err)
	for c, is := range rows[0] {
		if is == title {
			cell, err := excelize.CoordinatesToCellName(c+1, row)
			require.NoError(t, err)
			return cell
		}
	}
	t.Fatalf("no column %q in %s", title, sheet)
	return ""
}

// What an attack on the program got past it: each is named now.
func TestAWorkbookThatWasTamperedWithIsNamed(t *testing.T) {
	set := func(sheet, title string, row int, value any) func(f *excelize.File) {
		return func(f *excelize.File) {
			require.NoError(t, f.SetCellValue(sheet, cellOf(t, f, sheet, title, row), value))
		}
	}
	for name, c := range map[string]struct {
		change func(f *excelize.File)
		says   string
	}{
		"a standing turned into current": {set("Status", "Standing", 2, "Current"), "Not started"},
		"a due date put off":             {set("Status", "Due", 3, "2030-01-01"), "(Due)"},
		"another name in the standings":  {set("Status", "Person", 2, "Somebody Else"), "Somebody Else"},
		"a sign-off taken out":           {func(f *excelize.File) { require.NoError(t, f.RemoveRow("Sign-offs", 2)) }, "a sign-off of"},
		"a demonstration taken out":      {func(f *excelize.File) { require.NoError(t, f.RemoveRow("Demonstrations", 3)) }, "a demonstration of"},
		"a row without its id":           {set("Sign-offs", "Sign-off id", 2, ""), "row 2"},
		"a copy before the true row": {func(f *excelize.File) {
			require.NoError(t, f.DuplicateRow("Sign-offs", 2))
			set("Sign-offs", "Person", 2, "Somebody Else")(f)
		}, "Somebody Else"},
		"an unsigned result turned":        {set("Demonstrations", "Result", 3, "Passed"), "(Result)"},
		"an unsigned demonstration's date": {set("Demonstrations", "Date", 3, "2026-01-01"), "(Date)"},
		"the ledger's size":                {func(f *excelize.File) { setLine(t, f, keysName, "Ledger size", 99) }, "Keys and heads Ledger size and root"},
		"the ledger's root":                {func(f *excelize.File) { setLine(t, f, keysName, "Ledger root", "other") }, "Keys and heads Ledger size and root"},
		"a count on top":                   {func(f *excelize.File) { setLine(t, f, readMeName, "Not started", 0) }, `Read me Not started says "0", and the records say "1"`},
		"the sum on top":                   {func(f *excelize.File) { setLine(t, f, readMeName, "In all", 3) }, `Read me In all says "3", and the records say "2"`},
	} {
		differences, err := altered(t, c.change).Against(invented(t), nil)
		require.NoError(t, err)
		require.NotEmpty(t, differences, name)
		var all []string
		for _, d := range differences {
			all = append(all, d.String())
		}
		require.Contains(t, strings.Join(all, "\n"), c.says, name)
	}
}

func setLine(t *testing.T, f *excelize.File, sheet, label string, value any) {
	rows, err := f.GetRows(sheet, excelize.Options{RawCellValue: true})
	require.NoError(t, err)
	for i, row := range rows {
		if len(row) > 0 && row[0] == label {
			cell, err := excelize.CoordinatesToCellName(2, i+1)
			require.NoError(t, err)
			require.NoError(t, f.SetCellValue(sheet, cell, value))
			return
		}
	}
	t.Fatalf("no line %q", label)
}

// What came after the workbook is no difference.
func TestALaterYearDoesNotContradictAWorkbook(t *testing.T) {
	kept, err := Reread(bytes.NewReader(bookText(t, invented(t))))
	require.NoError(t, err)
	later := invented(t)
	more := later.SignOffs[0]
	more.ID, more.Leaf, more.On, more.SignedAt = "s2", 40, "2027-01-03", "2027-01-03T12:00:00.000Z"
	later.SignOffs = append(later.SignOffs, more)
	later.MadeAt = "2027-03-02T15:04:00.000Z"
	later.Ledger = training.LedgerHead{Size: 41, Root: "b3RoZXI=", Note: "stillwet/x\n41\nb3RoZXI=\n\n— stillwet/x sig\n", Key: later.Ledger.Key}
	differences, err := kept.Against(later, nil)
	require.NoError(t, err)
	require.Empty(t, differences)
}

// annual-before.xlsx was written by the version before the first sheet had counts and the
// keys a sheet of their own, of the same records.
func TestAWorkbookOfAnEarlierVersionIsCompared(t *testing.T) {
	text, err := os.ReadFile("../testdata/exports/annual-before.xlsx")
	require.NoError(t, err)
	kept, err := Reread(bytes.NewReader(text))
	require.NoError(t, err)
	a := invented(t)
	require.Equal(t, a.Ledger.Note, kept.Head)
	require.Equal(t, a.Ledger.Key, kept.Key)
	ever := map[string][]training.Named{"p2": {{PersonID: "p2", Name: "Pia Before"}, {PersonID: "p2", Name: a.People["p2"].Name}}}
	differences, err := kept.Against(a, ever)
	require.NoError(t, err)
	require.Empty(t, differences)

	a.Standings[0].Word = training.Lapsed
	a.Evidence["d1"] = training.Demonstration{StartedAt: "2026-03-07T12:00:00.000Z", PreceptorID: "p3"}
	differences, err = kept.Against(a, ever)
	require.NoError(t, err)
	var all []string
	for _, d := range differences {
		all = append(all, d.String())
	}
	require.Equal(t, []string{
		`Sign-offs J2 (Demonstrations watched) says "8 Mar 2026, =HYPERLINK(\"http://example.invalid\")", and the records say "7 Mar 2026, Edda Invented"`,
		`Status E2 (Standing) says "Current", and the records say "Lapsed"`,
	}, all)
}

// Each cell of the sheets that came later counts as well, but what changes with the day, and
// the findings of what nobody had signed.
func TestEveryAlteredCellOfTheOtherSheetsIsNamed(t *testing.T) {
	a := invented(t)
	a.Demonstrations[1].Signatures = a.Demonstrations[2].Signatures // with findings
	f, err := excelize.OpenReader(bytes.NewReader(bookText(t, a)))
	require.NoError(t, err)
	defer func() { require.NoError(t, f.Close()) }()
	passed := map[string][]string{
		itemsName:   {"Item", "Standing", "Due"},
		changesName: {"Due", "How far", "Day changed", ledgerNo, "Demonstration id"}, // of what is not done
		askedName:   {"How far", "Done on", "Demonstration id"},
	}
	cells := 0
	for _, sheet := range moreSheets {
		rows, err := f.GetRows(sheet.name)
		require.NoError(t, err)
		require.Greater(t, len(rows), 1, sheet.name)
		row := len(rows) // the last: nothing becomes of it any more, or nothing did
		for row > 2 && len(rows[row-1]) == 0 {
			row--
		}
		if sheet.name == changesName {
			row = 3
		}
		for c, title := range rows[0] {
			cell, err := excelize.CoordinatesToCellName(c+1, row)
			require.NoError(t, err)
			was, err := f.GetCellValue(sheet.name, cell, excelize.Options{RawCellValue: true})
			require.NoError(t, err)
			require.NoError(t, f.SetCellValue(sheet.name, cell, was+" changed"))
			var b bytes.Buffer
			require.NoError(t, f.Write(&b))
			kept, err := Reread(&b)
			require.NoError(t, err)
			differences, err := kept.Against(a, nil)
			require.NoError(t, err)
			where := sheet.name + " " + title
			switch {
			case slices.Contains(passed[sheet.name], title), title == "Put right" && was == "":
				require.Empty(t, differences, where)
			default:
				require.NotEmpty(t, differences, where)
				require.Equal(t, sheet.name, differences[0].Sheet, where)
				cells++
			}
			require.NoError(t, f.SetCellValue(sheet.name, cell, was))
		}
	}
	require.Greater(t, cells, 60)
}

func TestRowsOfTheOtherSheetsDoNotGoMissing(t *testing.T) {
	signed := invented(t)
	signed.Ledger.Size, signed.Ledger.Note = 20, "stillwet/x\n20\ncm9vdA==\n\n— stillwet/x sig\n"
	signed.Demonstrations[1].Signatures = signed.Demonstrations[2].Signatures
	for _, name := range []string{findingsName, papersName, itemsName, observationsName, requirementsName, correctionsName, askedName} {
		f, err := excelize.OpenReader(bytes.NewReader(bookText(t, signed)))
		require.NoError(t, err)
		require.NoError(t, f.RemoveRow(name, 2))
		var b bytes.Buffer
		require.NoError(t, f.Write(&b))
		require.NoError(t, f.Close())
		kept, err := Reread(&b)
		require.NoError(t, err)
		differences, err := kept.Against(signed, nil)
		require.NoError(t, err)
		require.Len(t, differences, 1, name)
		require.Contains(t, differences[0].String(), name+" lacks a row that is not there")
	}
}

// What is ended, put right, entered or renamed after the workbook is no difference.
func TestWhatWasPutRightLaterDoesNotContradictAWorkbook(t *testing.T) {
	kept, err := Reread(bytes.NewReader(bookText(t, invented(t))))
	require.NoError(t, err)
	later := invented(t)
	end := training.End{At: "2027-01-03T12:00:00.000Z", ByName: "Edda Invented", Why: "It was wrong."}
	later.Entitlements[0].End = end
	later.Earlier[0].End = end
	later.Items[0].Entry.End = end
	later.Items[0].Word, later.Items[0].Due = training.ItemNotDone, ""
	later.Items[1].Entry = &training.ItemEntry{ID: "n9", ItemID: "i1", PersonID: "p2", On: "2026-12-30", Evidence: "blue folder", At: "2027-01-03T12:00:00.000Z", Leaf: 40}
	later.Duties[1].DoneAt = "2027-01-03T12:00:00.000Z"
	later.Corrected = append(later.Corrected, training.Corrected{What: training.EntitlementEnded, Record: "e1", PersonID: "p2", Competency: "turnover", OfAt: "2026-01-01T12:00:00.000Z", At: end.At, ByName: end.ByName, Why: end.Why, Leaf: 41})
	p := later.People["p2"]
	p.Name, p.StaffNo = "Pia Renamed", "9"
	later.People["p2"] = p
	for i := range later.Standings {
		later.Standings[i].Person = later.People[later.Standings[i].Person.ID]
	}
	for i := range later.Items {
		later.Items[i].Person = later.People[later.Items[i].Person.ID]
	}
	before := invented(t).People["p2"]
	ever := map[string][]training.Named{"p2": {{PersonID: "p2", Name: before.Name, StaffNo: before.StaffNo}, {PersonID: "p2", Name: "Pia Renamed", StaffNo: "9"}}}
	differences, err := kept.Against(later, ever)
	require.NoError(t, err)
	require.Empty(t, differences)
	differences, err = kept.Against(later, nil)
	require.NoError(t, err)
	require.NotEmpty(t, differences, "a name that the ledger never had")
}
