package exports

import (
	"bytes"
	"flag"
	"fmt"
	"os"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"github.com/xuri/excelize/v2"

	"stillwet/internal/assess"
	"stillwet/internal/training"
)

var update = flag.Bool("update", false, "write the golden dumps anew; read the difference before you commit it")

// inventedVersions are a starting point, one approved on paper, and one that waits.
func inventedVersions() []training.SetVersion {
	made := func(version, seq int, kind training.SetEventKind, at training.Instant, leaf int64) training.SetEvent {
		return training.SetEvent{Version: version, Seq: seq, Event: kind, At: at, ByID: "p3", ByName: "Edda Invented", Leaf: leaf}
	}
	approved := made(2, 2, training.SetApproved, "2026-02-01T18:00:00.000Z", 0)
	approved.From = "2026-02-02"
	approved.Approval = training.Approval{How: training.ApprovedPaper, By: "Marek Invented", Role: "medical director", On: "2026-01-30", Where: "Binder 3, page 2"}
	return []training.SetVersion{
		{Number: 1, Hash: strings.Repeat("11", 32), Origin: training.StartingPoint, Events: []training.SetEvent{{Version: 1, Seq: 1, Event: training.SetStarted, At: "2026-01-05T16:00:00.000Z"}}},
		{Number: 2, Hash: strings.Repeat("22", 32), BasedOn: 1, Origin: training.EditedSet, Why: "=Our policy", Events: []training.SetEvent{made(2, 1, training.SetProposed, "2026-02-01T17:00:00.000Z", 0), approved}},
		{Number: 3, Hash: strings.Repeat("33", 32), BasedOn: 2, Origin: training.EditedSet, Why: "A new label.", Events: []training.SetEvent{made(3, 1, training.SetProposed, "2026-12-31T17:00:00.000Z", 2)}},
	}
}

// inventedMonths are two months of observations, of one of which nothing counts.
func inventedMonths() []training.ObservedMonth {
	nobodys := training.ObservationRow{StationObservation: training.StationObservation{ID: "b1", PreceptorID: "p2", Competency: "turnover", StartedAt: "2026-03-09T04:30:00.000Z", Announced: "no", Discipline: "=Nurse", Shift: "-late"},
		Whole: training.SeenMissed, Marks: training.Rate{K: 9, N: 10}, Missed: []string{"Every surface disinfected"}, Told: []string{"Not wiped: the counter."}}
	named := training.ObservationRow{StationObservation: training.StationObservation{ID: "b2", TraineeID: "p1", PreceptorID: "p2", Competency: "turnover", StartedAt: "2026-03-10T15:00:00.000Z", Announced: "yes"},
		Whole: training.SeenRight, Marks: training.Rate{K: 10, N: 10}}
	missed := training.ObservedTally{Missed: 1, Marks: training.Rate{K: 9, N: 10}}
	right := training.ObservedTally{Right: 1, Marks: training.Rate{K: 10, N: 10}}
	nobodys.Kept, named.Kept = 1, 14
	gone := named
	gone.ID, gone.Kept, gone.Stage = "b3", 15, training.Withdrawn
	return []training.ObservedMonth{
		{Month: "2026-03", Target: training.ObservationTarget{Monthly: 10}, All: training.ObservedTally{Right: 1, Missed: 1, Marks: training.Rate{K: 19, N: 20}},
			Shifts: []training.ShiftObserved{{Shift: "-late", ObservedTally: missed}, {ObservedTally: right}}, Told: right, Untold: missed, Rows: []training.ObservationRow{named, nobodys}, Gone: []training.ObservationRow{gone}, Beside: training.NotCounted{Withdrawn: 2, Stopped: 1}},
		{Month: "2026-04", Target: training.ObservationTarget{Monthly: 0}, Beside: training.NotCounted{Waiting: 1}},
	}
}

// invented is a year with every kind of row, and names that try to be formulas.
func invented(t testing.TB) training.Annual {
	people := map[string]training.Person{
		"p1": {ID: "p1", Name: "Tess Invented", StaffNo: "00123", Role: training.Trainee, Hired: "2026-01-05"},
		"p2": {ID: "p2", Name: "=HYPERLINK(\"http://example.invalid\")", StaffNo: "+1", Role: training.Preceptor, Hired: "2020-02-29"},
		"p3": {ID: "p3", Name: "Edda Invented", Role: training.Educator},
	}
	result, err := (&assess.Result{Marks: assess.Marks{Score: 0.925, Result: assess.NotPass},
		Findings: []assess.Finding{{Rule: "gloved"}, {Rule: "soil-first"}}}).JSON()
	require.NoError(t, err)
	pass, err := (&assess.Result{Marks: assess.Marks{Score: 1, Result: assess.Pass, Pass: true}}).JSON()
	require.NoError(t, err)
	c := training.Competency{ID: "turnover", Title: "Turnover between patients", Demonstrations: 1, Recheck: 1, Scenarios: []string{"a", "b"}}
	met := training.Demonstration{ID: "d1", TraineeID: "p1", PreceptorID: "p2", Competency: "turnover", Product: "wipe",
		StartedAt: "2026-03-09T04:30:00.000Z", EndedAt: "2026-03-09T04:50:00.000Z", State: training.Ended, Procedure: "between-patients",
		ProcedureHash: strings.Repeat("ab", 32), RulesVersion: 1, ResultJSON: pass, Outcome: assess.Pass, Comment: "@calm, -complete",
		Signatures: []training.Signature{
			{Record: "d1", SignerID: "p1", SignerName: "Tess Invented", Meaning: training.LearnerDid, SignedAt: "2026-03-09T04:55:00.000Z", Leaf: 0},
			{Record: "d1", SignerID: "p2", SignerName: people["p2"].Name, Meaning: training.WatchedMet, SignedAt: "2026-03-09T04:56:00.000Z", Leaf: 1},
		}}
	failed := met
	failed.ID, failed.StartedAt, failed.ResultJSON, failed.Outcome, failed.Prompted, failed.Signatures = "d2", "2026-07-04T12:00:00.000Z", result, assess.NotPass, true, nil
	open := training.Demonstration{ID: "d3", TraineeID: "p1", PreceptorID: "p2", Competency: "turnover", Product: "wipe",
		StartedAt: "2026-12-31T20:00:00.000Z", State: training.Recording, ProcedureHash: strings.Repeat("ab", 32)}
	o := training.SignOff{ID: "s1", PersonID: "p1", Competency: "turnover", SignerID: "p2", SignerName: people["p2"].Name, On: "2026-03-08",
		SignedAt: "2026-03-09T04:59:00.000Z", Due: "2027-03-08", Demonstrations: []string{"d1"}, Attempts: []string{"0042", "a2"}, Requirements: 3, Leaf: 2}
	return training.Annual{
		Clinic: "Lakeside & Sons, invented", Year: 2026, From: "2026-01-01", To: "2026-12-31", AsOf: "2026-12-31", Zone: "America/Chicago",
		MadeAt: "2027-01-02T15:04:00.000Z", RulesVersion: 1,
		Procedures: []training.InForce{{Title: "Between patients", Version: "1", Hash: strings.Repeat("ab", 32)},
			{Title: "Supply trolley", Version: "7", Hash: strings.Repeat("cd", 32)}},
		Versions: inventedVersions(),
		Ledger:   training.LedgerHead{Size: 3, Root: "cm9vdA==", Note: "stillwet/x\n3\ncm9vdA==\n\n— stillwet/x sig\n", Key: "stillwet/x+1+key"},
		Standings: []training.Standing{
			{Person: people["p1"], Competency: c, Word: training.Current, LastSignOff: &o, Due: o.Due, Needed: 1, PassedScenarios: []string{"a", "b"}},
			{Person: people["p2"], Competency: c, Word: training.NotStarted, Needed: 1, MissingScenarios: []string{"a", "b"}},
		},
		SignOffs: []training.SignOff{o}, Demonstrations: []training.Demonstration{open, failed, met}, People: people,
		Evidence: map[string]training.Demonstration{"d1": met},
		Signed: training.SignedAs{
			1: {People: []training.Named{{Part: training.PartLearner, PersonID: "p1", Name: "Tess Before", StaffNo: "007"},
				{Part: training.PartPreceptor, PersonID: "p2", Name: "Pia Before", Credential: "RN"}}},
			2: {ClockBehind: true, People: []training.Named{{Part: training.PartPerson, PersonID: "p1", Name: "Tess Before", StaffNo: "007"},
				{Part: training.PartSigner, PersonID: "p2", Name: "Pia Before", Credential: "RN"},
				{Part: training.PartResetBy, PersonID: "p1", Name: "Tess Before", At: "2026-03-01T15:00:00.000Z"}}},
		},
		Duties: []training.DutyState{
			{Duty: training.Duty{ID: "u1", Version: 2, PersonID: "p1", Name: "Tess Before", StaffNo: "007", Kind: training.ReadDuty, Due: "2026-03-02", AssignedAt: "2026-03-01T15:00:00.000Z",
				AssignedBy: "Edda Before", Why: "=a new label", End: training.DutyEnd{Ended: training.DutyRead, At: "2026-03-02T15:00:00.000Z", ByName: "Tess Before", Said: training.ReadWords, Leaf: 5}}, DoneAt: "2026-03-02T15:00:00.000Z"},
			{Duty: training.Duty{ID: "u2", Version: 2, PersonID: "p1", Name: "Tess Before", StaffNo: "007", Kind: training.ModuleDuty, Of: "wet", Title: "Wet time", Due: "2026-03-02", AssignedAt: "2026-03-01T15:00:00.000Z",
				AssignedBy: "Edda Before", Why: "=a new label"}},
			{Duty: training.Duty{ID: "u3", Version: 2, PersonID: "p2", Name: "Pia Before", Kind: training.DemonstrationDuty, Of: "turnover", Title: "Turnover between patients", Due: "2026-12-31", AssignedAt: "2026-03-01T15:00:00.000Z",
				AssignedBy: "Edda Before", Why: "=a new label", End: training.DutyEnd{Ended: training.DutyTakenBack, At: "2026-03-02T15:00:00.000Z", ByName: "Edda Before", Said: "She is on leave.", Leaf: 6}}},
			{Duty: training.Duty{ID: "u4", Assignment: "g1", N: 1, Leaf: 14, PersonID: "p1", Name: "Tess Before", StaffNo: "007", Kind: training.ItemDuty, Of: "i1", Title: "=Fit test", FirstDue: "2026-04-02", Due: "2026-04-02", AssignedAt: "2026-03-01T15:00:00.000Z",
				AssignedBy: "Edda Before", Why: "+the yearly round"}, DoneAt: "2026-04-04T04:30:00.000Z"},
			{Duty: training.Duty{ID: "u5", Assignment: "g2", N: 1, Leaf: 15, PersonID: "p2", Name: "Pia Before", Kind: training.ModuleDuty, Of: "wet", Title: "Wet time", FirstDue: "2026-12-30", Due: "2026-12-30", AssignedAt: "2026-12-01T15:00:00.000Z", AssignedBy: "Edda Before"}},
			{Duty: training.Duty{ID: "u6", Assignment: "g2", N: 2, Leaf: 15, PersonID: "p1", Name: "Tess Before", StaffNo: "007", Kind: training.ModuleDuty, Of: "wet", Title: "Wet time", FirstDue: "2026-12-30", Due: "2026-12-30", AssignedAt: "2026-12-01T15:00:00.000Z", AssignedBy: "Edda Before",
				End: training.DutyEnd{Ended: training.DutyTakenBack, At: "2026-12-02T15:00:00.000Z", ByName: "Edda Before", Said: "@asked of the wrong one", Leaf: 16}}},
		},
		Entitlements: []training.Entitlement{
			{ID: "e1", PersonID: "p2", Competency: "turnover", From: "2026-01-01", Until: "2026-12-31", GrantedBy: "p1", Watch: true, SignOff: true, Credential: "=RN",
				Approval: training.Approval{How: training.ApprovedPaper, By: "Marek Before", Role: "medical director", On: "2025-12-20", Where: "red folder"}},
			{ID: "e2", PersonID: "p2", Competency: "gone", From: "2026-01-01", Until: "2026-12-31", GrantedBy: "p1", Watch: true, Founding: "+the first here",
				Approval: training.Approval{How: training.ApprovedAlone}, End: training.End{At: "2026-05-02T04:30:00.000Z", ByName: "Edda Before", Why: "-moved"}},
		},
		Earlier: []training.EarlierLine{
			{ID: "o2", Name: "Tess Before", StaffNo: "007", Competency: "turnover", On: "2025-03-09", Due: "2026-03-09", SignedBy: "=Ulla Before", Evidence: "green folder", Site: "-east", Corrects: "o1", Why: "It was the ninth.",
				Batch: training.EarlierBatch{At: "2026-01-03T04:30:00.000Z", ByName: "Edda Before", Leaf: 13}},
			{ID: "o1", Name: "Tess Before", StaffNo: "007", Competency: "turnover", On: "2025-03-08", Due: "2026-03-08", SignedBy: "Ulla Before", Evidence: "green folder", Here: true, By: "o2",
				End: training.End{At: "2026-01-03T04:30:00.000Z", ByName: "Edda Before", Why: "It was the ninth."}, Batch: training.EarlierBatch{At: "2026-01-02T15:00:00.000Z", ByName: "Edda Before", Leaf: 7}},
		},
		Items: []training.ItemRow{
			{Item: training.Item{ID: "i1", Title: "=Fit test", EveryMonths: 12}, Person: people["p1"], Word: training.ItemDue, Due: "2027-01-04", Needed: true,
				Entry: &training.ItemEntry{ID: "n2", ItemID: "i1", PersonID: "p1", On: "2026-01-04", Job: "Technician", Trainer: "Uma Before", Qualification: "RN", Content: "Sizes.", Evidence: "+blue folder", Corrects: "n1", Why: "Another day.", At: "2026-01-06T15:00:00.000Z", ByName: "Edda Before", Leaf: 11}},
			{Item: training.Item{ID: "i1", Title: "=Fit test", EveryMonths: 12}, Person: people["p2"], Word: training.ItemNotDone, Needed: true},
			{Item: training.Item{ID: "i1", Title: "=Fit test", EveryMonths: 12}, Person: people["p1"],
				Entry: &training.ItemEntry{ID: "n1", ItemID: "i1", PersonID: "p1", On: "2026-01-05", Evidence: "blue folder", CorrectedBy: "n2", At: "2026-01-05T15:00:00.000Z", ByName: "Edda Before", Leaf: 10}},
			{Item: training.Item{ID: "i1", Title: "=Fit test", EveryMonths: 12}, Person: people["p2"],
				Entry: &training.ItemEntry{ID: "n3", ItemID: "i1", PersonID: "p2", On: "2026-01-07", Evidence: "blue folder", At: "2026-01-08T15:00:00.000Z", Leaf: 12,
					End: training.End{At: "2026-01-09T15:00:00.000Z", ByName: "Edda Before", Why: "@not there"}}},
		},
		Observed: inventedMonths(),
		Corrected: []training.Corrected{
			{What: training.ItemCorrected, Record: "n1", PersonID: "p1", Competency: "=Fit test", OfAt: "2026-01-05T15:00:00.000Z", At: "2026-01-06T15:00:00.000Z", ByName: "Edda Before", Why: "Another day.", Leaf: 11},
			{What: training.SignOffWithdrawn, Record: "s0", PersonID: "p1", Competency: "turnover", OfAt: "2026-02-01T04:30:00.000Z", At: "2026-02-03T04:30:00.000Z", ByName: "Edda Before", Why: "@wrong person", Leaf: 9},
			{What: training.LogCorrected, Record: "d9", Competency: "turnover", OfAt: "2026-02-01T15:00:00.000Z", At: "2026-02-02T15:00:00.000Z", ByName: "Pia Before", Why: "It was the other side.", Leaf: 8},
		},
		Requirements: []training.Requirements{
			{Competency: "turnover", Version: 1, At: "2026-02-01T04:30:00.000Z", Leaf: 13, Terms: training.Terms{First: training.Takes{Clean: 1, Days: 1, Preceptors: 1}, Annual: training.Takes{Clean: 1, Days: 1, Preceptors: 1}, IntervalMonths: 12, NoticeDays: 30}},
			{Competency: "turnover", Version: 2, From: "2026-02-01", At: "2026-02-01T04:30:00.000Z", ByID: "p3", ByName: "Edda Before", Why: "=ten months", Leaf: 14,
				Terms: training.Terms{First: training.Takes{Clean: 3, Days: 2, Preceptors: 2, Again: training.AgainAll}, Annual: training.Takes{Clean: 1, Days: 1, Preceptors: 1}, IntervalMonths: 10, NoticeDays: 30, Signer: training.SignerEducator, Alone: training.Alone{Due: true}}},
		},
		Titles:   map[string]string{"turnover": "Turnover between patients"},
		Products: map[string]string{"d1": "Station wipe", "d2": "Station wipe", "d3": "Station wipe"},
	}
}

func written(t testing.TB, a training.Annual) *excelize.File {
	var out bytes.Buffer
	require.NoError(t, Annual(&out, a))
	f, err := excelize.OpenReader(&out)
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, f.Close()) })
	return f
}

// dump writes every cell under its sheet, its row's id and its column's title,
// so that a new column is one more line a row, and a moved one none.
func dump(t testing.TB, f *excelize.File) string {
	var b strings.Builder
	for _, name := range f.GetSheetList() {
		rows, err := f.GetRows(name)
		require.NoError(t, err)
		lines := tableLines
		if name == readMeName || name == keysName {
			lines = readMeDump
		}
		for _, l := range lines(t, f, name, rows) {
			fmt.Fprintf(&b, "%s / %s\n", name, l)
		}
	}
	return b.String()
}

// readMeDump has a line's label for a title, and no ids.
func readMeDump(t testing.TB, f *excelize.File, sheet string, rows [][]string) (lines []string) {
	for r, row := range rows {
		switch len(row) {
		case 1:
			lines = append(lines, "line: "+cellText(t, f, sheet, 0, r))
		case 2:
			lines = append(lines, row[0]+": "+cellText(t, f, sheet, 1, r))
		}
	}
	return lines
}

// tableLines finds a row by its last column, which is its id, and sorts its
// cells by their titles.
func tableLines(t testing.TB, f *excelize.File, sheet string, rows [][]string) (lines []string) {
	at := slices.IndexFunc(rows, func(row []string) bool { return len(row) > 1 && row[1] != "" }) // a notice has one cell
	for r := range at {
		lines = append(lines, "notice: "+cellText(t, f, sheet, 0, r))
	}
	head := rows[at]
	require.True(t, strings.HasSuffix(head[len(head)-1], " id"), "the last column of %s is its row's id", sheet)
	titles := slices.Sorted(slices.Values(head))
	require.Len(t, slices.Compact(titles), len(head), "%s: a title twice", sheet)
	seen := map[string]bool{}
	for r := at + 1; r < len(rows); r++ {
		require.Len(t, rows[r], len(head))
		id := rows[r][len(head)-1]
		require.False(t, id == "" || seen[id], "%s: row %d has no id of its own", sheet, r+1)
		seen[id] = true
		var cells []string
		for c, title := range head {
			if text := cellText(t, f, sheet, c, r); text != "" {
				cells = append(cells, fmt.Sprintf("%s / %s: %s", id, title, text))
			}
		}
		slices.Sort(cells)
		lines = append(lines, cells...)
	}
	return lines
}

// cellText is a cell's kind, its raw value and, where that differs, how it is
// shown; "" when it is empty. A date is a number with the format of one.
func cellText(t testing.TB, f *excelize.File, sheet string, c, r int) string {
	at, err := excelize.CoordinatesToCellName(c+1, r+1)
	require.NoError(t, err)
	raw, err := f.GetCellValue(sheet, at, excelize.Options{RawCellValue: true})
	require.NoError(t, err)
	if raw == "" {
		return ""
	}
	shown, err := f.GetCellValue(sheet, at)
	require.NoError(t, err)
	kind, err := f.GetCellType(sheet, at)
	require.NoError(t, err)
	switch kind {
	case excelize.CellTypeInlineString, excelize.CellTypeSharedString:
		if shown != raw {
			return fmt.Sprintf("text %q shown %q", raw, shown)
		}
		return fmt.Sprintf("text %q", raw)
	case excelize.CellTypeNumber, excelize.CellTypeUnset:
	default:
		return fmt.Sprintf("UNWANTED %v %q", kind, raw)
	}
	switch format := formatOf(t, f, sheet, at); {
	case format == dayFormat:
		return "date " + shown
	case format == momentFormat:
		return "moment " + shown
	case format == clockFormat:
		return "clock " + raw + " shown " + shown
	case shown != raw:
		return fmt.Sprintf("number %s shown %s", raw, shown)
	}
	return "number " + raw
}

func formatOf(t testing.TB, f *excelize.File, sheet, at string) string {
	n, err := f.GetCellStyle(sheet, at)
	require.NoError(t, err)
	style, err := f.GetStyle(n)
	require.NoError(t, err)
	if style.CustomNumFmt == nil {
		return ""
	}
	return *style.CustomNumFmt
}

func TestAnnualAgainstItsDump(t *testing.T) {
	for name, demo := range map[string]bool{"annual": false, "annual-demo": true} {
		t.Run(name, func(t *testing.T) {
			a := invented(t)
			a.Demo = demo
			got := dump(t, written(t, a))
			path := "../testdata/exports/" + name + ".txt"
			if *update {
				require.NoError(t, os.WriteFile(path, []byte(got), 0o644))
			}
			want, err := os.ReadFile(path)
			require.NoError(t, err)
			require.Equal(t, string(want), got)
		})
	}
}

func TestEverySheetIsSetUpForReadingAndPrinting(t *testing.T) {
	for _, demo := range []bool{false, true} {
		a := invented(t)
		a.Demo = demo
		f := written(t, a)
		require.Equal(t, []string{"Read me", "Status", "Sign-offs", "From paper", "Demonstrations", "Findings", "Observations", "Observation months", "Entitlements", "Other annual items", "Corrections", "Change training", "Asked of people", "Requirements", "Procedure", "Keys and heads"}, f.GetSheetList())
		head := 1
		if demo {
			head = 2
		}
		names := map[string]string{}
		for _, n := range f.GetDefinedName() {
			names[n.Scope+" "+n.Name] = n.RefersTo
		}
		for _, sheet := range f.GetSheetList()[1:5] {
			panes, err := f.GetPanes(sheet)
			require.NoError(t, err)
			require.True(t, panes.Freeze, sheet)
			require.Equal(t, head, panes.YSplit, sheet)
			require.True(t, strings.HasSuffix(names[sheet+" _xlnm.Print_Titles"], fmt.Sprintf("'%s'!$1:$%d", sheet, head)), sheet)
			_, again := areas(t, f, sheet)
			require.True(t, again == 0 || again == panes.XSplit, "what is on every page stays in view")
			require.Equal(t, again > 0, breaksOf(t, f, sheet) != nil)
			require.Contains(t, names[sheet+" _xlnm.Print_Area"], fmt.Sprintf("'%s'!$A$1:$", sheet))
			require.Contains(t, names[sheet+" _xlnm._FilterDatabase"], fmt.Sprintf("!$A$%d:", head))
			layout, err := f.GetPageLayout(sheet)
			require.NoError(t, err)
			require.Equal(t, "landscape", *layout.Orientation)
			width, err := f.GetColWidth(sheet, "A")
			require.NoError(t, err)
			require.Greater(t, width, 10.0)
			first, err := f.GetCellValue(sheet, "A1")
			require.NoError(t, err)
			require.Equal(t, demo, first == DemoNotice)
		}
	}
}

// below is the cell of a row under a column's title.
func below(t *testing.T, f *excelize.File, sheet, title string, row int) string {
	t.Helper()
	rows, err := f.GetRows(sheet)
	require.NoError(t, err)
	column := slices.Index(rows[0], title)
	require.GreaterOrEqual(t, column, 0, title)
	at, err := excelize.CoordinatesToCellName(column+1, row)
	require.NoError(t, err)
	return at
}

func TestMomentsAreInTheClinicsZone(t *testing.T) {
	f := written(t, invented(t))
	date, err := f.GetCellValue("Demonstrations", below(t, f, "Demonstrations", "Date", 4))
	require.NoError(t, err)
	require.Equal(t, "8 Mar 2026", date, "04:30 UTC on the 9th is the evening of the 8th in Chicago")
	signed, err := f.GetCellValue("Demonstrations", below(t, f, "Demonstrations", "Learner signed", 4))
	require.NoError(t, err)
	require.Equal(t, "8 Mar 2026, 23:55", signed, "daylight saving began that morning")
}

type failing struct{ left int }

func (w *failing) Write(p []byte) (int, error) {
	if w.left -= len(p); w.left < 0 {
		return 0, fmt.Errorf("disk full")
	}
	return len(p), nil
}

func TestAFullDiskIsToldOf(t *testing.T) {
	var whole bytes.Buffer
	require.NoError(t, Annual(&whole, invented(t)))
	for left := 0; left < whole.Len(); left += 97 {
		require.ErrorContains(t, Annual(&failing{left}, invented(t)), "disk full", "after %d bytes", left)
	}
	bad := invented(t)
	bad.Demonstrations[1].ResultJSON = []byte("{")
	require.Error(t, Annual(&whole, bad))
	bad.Zone = "Nowhere/At all"
	require.ErrorContains(t, Annual(&whole, bad), "time zone")
}

func BenchmarkAnnualOf60(b *testing.B) {
	a := invented(b)
	demonstrations, standings, signOffs := a.Demonstrations, a.Standings, a.SignOffs
	for range 59 {
		a.Demonstrations = append(a.Demonstrations, demonstrations...)
		a.SignOffs = append(a.SignOffs, signOffs...)
		a.Standings = append(a.Standings, standings[0])
	}
	b.ReportAllocs()
	for b.Loop() {
		var out bytes.Buffer
		require.NoError(b, Annual(&out, a))
	}
}
