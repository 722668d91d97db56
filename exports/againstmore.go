package exports

import (
	"slices"
	"strconv"
	"strings"

	"stillwet/internal/training"
)

// moreSheet is a sheet that workbooks of earlier versions lack, with what of it is compared.
type moreSheet struct {
	name string
	ids  []string // columns that tell a row from the others
	rule func(k Kept) comparison
	// must reports whether a row of the records has to be in a workbook that was made before.
	must func(k Kept, id string, is map[string]string) bool
}

// moreSheets are those sheets. A column that changes with the day of the workbook, or with what
// came after it, is passed over: a standing in items, how far somebody has come, and the title
// of an item, which has versions.
var moreSheets = []moreSheet{
	{findingsName, []string{"Finding id"}, ofSigned, func(k Kept, id string, _ map[string]string) bool { return k.signedIn(id) }},
	{papersName, []string{"Earlier sign-off id"}, all, inLedger},
	{itemsName, []string{"Entry id"}, entered, func(k Kept, _ string, is map[string]string) bool { return is["Day"] != "" && inLedger(k, "", is) }},
	{observationsName, []string{"Demonstration id"}, all, inLedger},
	{entitlementsName, []string{"Entitlement id"}, all, nil},
	{requirementsName, []string{"Requirements id"}, all, inLedger},
	{correctionsName, []string{ledgerNo, "Record id"}, all, inLedger},
	{changesName, []string{"Duty id"}, given, nil},
	{askedName, []string{"Asked id"}, asAsked, inLedger},
}

// ledgerNo is the column of a record's ledger number, endedTitles those that say what became
// of a record later.
const ledgerNo = "Ledger no."

var endedTitles = []string{"Put right", "Ended before"}

// all compares every cell of a row.
func all(Kept) comparison {
	return func(_ string, was, is map[string]string) func(string) bool {
		return func(title string) bool {
			return !slices.Contains(endedTitles, title) || !endedSince(was[title], is[title])
		}
	}
}

// endedSince reports whether a record was withdrawn, corrected or ended after the workbook.
func endedSince(was, is string) bool {
	if ended(was) {
		return false
	}
	return was == "" && is != "" || ended(is)
}

func ended(text string) bool {
	return strings.HasPrefix(text, "Withdrawn") || strings.HasPrefix(text, "Corrected")
}

// ofSigned compares the findings of demonstrations that had been signed.
func ofSigned(k Kept) comparison {
	return func(id string, _, _ map[string]string) func(string) bool {
		if !k.signedIn(id) {
			return nil
		}
		return func(string) bool { return true }
	}
}

// signedIn reports whether the workbook has a demonstration as signed, by the id of a finding.
func (k Kept) signedIn(finding string) bool {
	of, _, _ := strings.Cut(finding, "/")
	return k.watched.rows[of]["Preceptor signed"] != ""
}

// entered compares what was entered of an item. Who has it not yet may have it since.
func entered(k Kept) comparison {
	every := all(k)
	return func(id string, was, is map[string]string) func(string) bool {
		if was["Day"] == "" {
			return nil
		}
		counts := every(id, was, is)
		return func(title string) bool {
			return counts(title) && !slices.Contains([]string{"Item", "Standing", "Due"}, title)
		}
	}
}

// given compares what people were given to do, and how it ended where it had.
func given(Kept) comparison {
	asGiven := []string{"Person", "What", "Version", "Why", "Given by", "Given on", "Staff no."}
	return func(_ string, was, _ map[string]string) func(string) bool {
		return func(title string) bool {
			return slices.Contains(asGiven, title) || title == "Taken back" && was[title] != "" || title == "Done on" && was[title] != ""
		}
	}
}

// asAsked compares what was asked of people, and that it was taken back where it had been. How
// far they came may change: an entry is withdrawn.
func asAsked(Kept) comparison {
	later := []string{"How far", "Done on", "Demonstration id"}
	return func(_ string, was, _ map[string]string) func(string) bool {
		return func(title string) bool {
			return !slices.Contains(later, title) && (was[title] != "" || !strings.HasPrefix(title, "Taken back"))
		}
	}
}

// inLedger reports whether a row's ledger number was in the ledger when the workbook was made.
func inLedger(k Kept, _ string, is map[string]string) bool {
	leaf, err := strconv.ParseInt(is[ledgerNo], 10, 64)
	return err == nil && k.signedBefore(leaf)
}

// moreAgainst compares the sheets that both workbooks have.
func (k Kept) moreAgainst(now Kept, same sameText) (found []Difference) {
	for i, sheet := range moreSheets {
		was, is := k.more[i], now.more[i]
		if was.rows == nil || is.rows == nil {
			continue
		}
		found = append(found, was.against(is, sheet.rule(k), same)...)
		for _, id := range is.ids {
			if _, there := was.rows[id]; !there && sheet.must != nil && sheet.must(k, id, is.rows[id]) {
				found = append(found, Difference{sheet.name, "a row that is not there", "", is.rows[id]["Person"] + ": " + id})
			}
		}
	}
	return found
}

// sameText reports whether two texts of a column say the same.
type sameText func(title, was, is string) bool

// namedTitles are the columns that show people as they were called when the workbook was made,
// or in earlier versions did.
var namedTitles = []string{"Person", "Granted by", "Whose work", "Watched by", "Staff no.", watchedTitle}

// sameNames takes one name or number of somebody for another of theirs. ever is what the ledger
// has called each person, by id: a name that it never had is no name of theirs.
func sameNames(ever map[string][]training.Named) sameText {
	whose := map[string][]string{} // ids by names and numbers
	for id, all := range ever {
		for _, n := range all {
			whose[n.Name], whose[n.StaffNo] = append(whose[n.Name], id), append(whose[n.StaffNo], id)
		}
	}
	one := func(was, is string) bool {
		return was == is || was != "" && slices.ContainsFunc(whose[was], func(id string) bool { return slices.Contains(whose[is], id) })
	}
	return func(title, was, is string) bool {
		switch {
		case !slices.Contains(namedTitles, title):
			return was == is
		case title == watchedTitle:
			return slices.EqualFunc(strings.Split(was, "\n"), strings.Split(is, "\n"), func(a, b string) bool { return sameWatched(a, b, one) })
		}
		return one(was, is)
	}
}

// sameWatched compares lines of a day and who watched.
func sameWatched(was, is string, one func(a, b string) bool) bool {
	day, name, _ := strings.Cut(was, ", ")
	dayIs, nameIs, _ := strings.Cut(is, ", ")
	return day == dayIs && one(name, nameIs)
}
