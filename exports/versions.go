package exports

import (
	"fmt"
	"slices"
	"strings"

	"stillwet/internal/training"
)

// versionTitle is the column that names the version in force at a row's moment.
const versionTitle = "Procedure version"

// The sheet of the versions, what tells them apart (number and hash of all files), and the state
// of one that something still becomes of.
const (
	versionsName = "Procedure"
	versionID    = "Version id"
	waiting      = "Waits for approval"
)

// versionAt is that number, nothing where the clinic's set lies in no data file.
func (b *book) versionAt(a training.Annual, at training.Instant) any {
	if n := a.VersionAt(at, b.zone); n > 0 {
		return n
	}
	return nil
}

// versions is the clinic's procedure as it changed: who made each version and why, and on
// whose word it holds.
func (b *book) versions(a training.Annual) error {
	type row = training.SetVersion
	approval := func(value func(e training.SetEvent) any) func(row) any {
		return func(v row) any {
			if e, ok := v.Approved(); ok {
				return value(e)
			}
			return nil
		}
	}
	return write(b, table[row]{name: versionsName, rows: a.Versions, whose: []column[row]{
		{"Version", 11, count, func(v row) any { return v.Number }},
	}, pages: [][]column[row]{{
		{"State", 16, strong, func(v row) any { return stateWords(v) }},
		{"In force from", 13, date, func(v row) any { return day(v.InForceFrom()) }},
		{"Why", 34, prose, func(v row) any { return v.Why }},
		{"Made on", 12, date, func(v row) any { return day(v.Made().At.Day(b.zone)) }},
		{"Made by", 18, text, func(v row) any { return v.Made().ByName }},
		{"Approved by", 18, text, approval(func(e training.SetEvent) any { return e.Approval.By })},
		{"Role", 16, text, approval(func(e training.SetEvent) any { return e.Approval.Role })},
		{"How", 26, prose, approval(func(e training.SetEvent) any { return approvalWords(e) })},
	}}, keys: []column[row]{
		{"Based on", 9, count, func(v row) any { return v.BasedOn }},
		{"Ledger nos.", 9, id, func(v row) any { return leavesOf(v) }},
		{versionID, 66, id, func(v row) any { return versionIDOf(v) }},
	}})
}

// versionIDOf tells a version from the others: one that goes back to an earlier one has its
// files.
func versionIDOf(v training.SetVersion) string { return fmt.Sprintf("%d %s", v.Number, v.Hash) }

func stateWords(v training.SetVersion) string {
	switch v.State() {
	case training.SetStarted:
		return "Starting point"
	case training.SetProposed:
		return waiting
	case training.SetWithdrawn:
		return "Taken back"
	}
	return "Approved"
}

func approvalWords(e training.SetEvent) string {
	if e.Approval.How == training.ApprovedPaper {
		return fmt.Sprintf("On paper of %s: %s. Entered by %s.", e.Approval.On.Said(), e.Approval.Where, e.ByName)
	}
	return "In this program."
}

// leavesOf are the ledger's numbers of what became of a version; by how many it was
// approved then is no part of it.
func leavesOf(v training.SetVersion) string {
	var all []string
	for _, e := range v.Events {
		if e.Event != training.TwoApprove && e.Event != training.OnlyOneNeeded {
			all = append(all, fmt.Sprint(e.Leaf))
		}
	}
	return strings.Join(all, "\n")
}

// inForce is the line of the first sheet for the version in force on a day.
func inForce(a training.Annual) []line {
	v := training.SetInForce(a.Versions, a.AsOf)
	if v.Number == 0 {
		return nil
	}
	text := fmt.Sprintf("Version %d", v.Number)
	if e, ok := v.Approved(); ok {
		text += fmt.Sprintf(", in force from %s, approved by %s (%s)", e.From.Said(), e.Approval.By, e.Approval.Role)
	} else {
		text += ": the starting point of this program, which nobody of the clinic has confirmed"
	}
	return []line{{"Clinic's procedure", text + ". Sheet Procedure has all of them.", prose}}
}

// onceMade compares what of a version stays as it was made; what becomes of it while it
// waits may come after the workbook.
func onceMade(_ string, was, _ map[string]string) func(string) bool {
	return func(title string) bool {
		return was["State"] != waiting || slices.Contains([]string{"Version", "Why", "Made on", "Made by", "Based on"}, title)
	}
}

// lackingVersions are those of before the workbook that are not in its sheet. Workbooks of
// before there were versions have no such sheet.
func (k Kept) lackingVersions(a training.Annual) (all []Difference) {
	for _, v := range a.Versions {
		if _, ok := k.versions.rows[versionIDOf(v)]; !ok && k.versions.sheet != "" && k.signedBefore(v.Made().Leaf) {
			all = append(all, Difference{versionsName, "a row that is not there", "", fmt.Sprintf("version %d of the clinic's procedure", v.Number)})
		}
	}
	return all
}
