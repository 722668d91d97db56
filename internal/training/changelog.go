package training

import (
	"context"
	"fmt"
	"maps"
	"slices"
	"strings"
)

// changeKinds are the leaves that say that somebody changed who may do what, or what is asked
// for, with the group that a reader asks for. What people did and signed has its own pages.
var changeKinds = map[LeafKind]string{
	PersonLeaf: ChangesOfPeople, AccountLeaf: ChangesOfAccounts, EntitlementLeaf: ChangesOfRights, EndLeaf: ChangesOfRights,
	AssignmentLeaf: ChangesOfAsks, ItemLeaf: ChangesOfItems, ItemEntryLeaf: ChangesOfItems, EarlierLeaf: ChangesOfRights,
	RequirementsLeaf: ChangesOfRequirements, RequirementLeaf: ChangesOfRequirements, AbsenceLeaf: ChangesOfPeople, SetLeaf: ChangesOfProcedure, FollowUpLeaf: ChangesOfProcedure, ClockLeaf: ChangesOfServer,
	ObservationTargetLeaf: ChangesOfRequirements,
}

// The groups of changes, as they stand in an address.
const (
	ChangesOfPeople       = "people"
	ChangesOfAccounts     = "accounts"
	ChangesOfRights       = "rights"
	ChangesOfRequirements = "requirements"
	ChangesOfProcedure    = "procedure"
	ChangesOfServer       = "server"
	ChangesOfItems        = "items"
	ChangesOfAsks         = "asked"
)

// mostChanges is how many stand on a page.
const mostChanges = 100

// ChangeQuery narrows the log of changes; empty fields do not.
type ChangeQuery struct {
	Group    string // one of the groups
	Name     string // a part of the name of somebody named in it, as it stood then
	PersonID string // of people and accounts: only whose record it is
	From, To Day
	Before   int64 // ledger number: only what is older; 0 for the newest
}

// ChangeLine is a change that was ledgered: what the record is since, and was before.
type ChangeLine struct {
	LeafAbout
	Said string            // what the leaf calls the change, or what became of it
	Is   map[string]string // what it says since, in its own words; nested values are left out
	Was  map[string]string // likewise of the leaf before it of the same record, or of the record that it stands for; nil for the first
}

// ChangeLog is the newest changes that a query asks for, and whether there are older ones.
type ChangeLog struct {
	All   []ChangeLine
	More  bool
	Items map[string]string // titles of the items named in them, by id
}

// Changes is who changed what, newest first. Educators only.
func (s *Service) Changes(ctx context.Context, actor Actor, q ChangeQuery) (ChangeLog, error) {
	if err := need(actor, Educator); err != nil {
		return ChangeLog{}, err
	}
	lq := LeafQuery{Kinds: kindsOf(q.Group), Name: strings.TrimSpace(q.Name), Record: q.PersonID, Under: q.Before, Most: mostChanges + 1}
	for _, d := range []Day{q.From, q.To} {
		if _, err := ParseDay(string(d)); d != "" && err != nil {
			return ChangeLog{}, refuse(ErrInvalid, "%q is no day.", clip(string(d)))
		}
	}
	if len(lq.Kinds) == 0 {
		return ChangeLog{}, refuse(ErrNotFound, "There is no such kind of change.")
	}
	if q.From != "" {
		lq.From = q.From.AddDays(-1).End(s.Zone())
	}
	if q.To != "" {
		lq.Before = q.To.End(s.Zone())
	}
	found, err := s.Records.LeavesLike(ctx, lq)
	if err != nil {
		return ChangeLog{}, err
	}
	return s.changesOf(ctx, found, lq.Name)
}

func kindsOf(group string) (kinds []LeafKind) {
	for _, k := range slices.Sorted(maps.Keys(changeKinds)) {
		if group == "" || changeKinds[k] == group {
			kinds = append(kinds, k)
		}
	}
	return kinds
}

// plain is what a leaf says of its record, without what is nested, with the name and number
// of whose record it is.
func plain(l leafText) map[string]string {
	all := plainFields(l.fields)
	if p := l.about().Named(PartPerson); p.PersonID != "" {
		all["name"], all["staff_no"] = p.Name, p.StaffNo
	}
	return all
}

func plainFields(fields map[string]any) map[string]string {
	all := map[string]string{}
	for key, value := range fields {
		switch v := value.(type) {
		case string:
			all[key] = v
		case bool:
			all[key] = map[bool]string{true: "yes", false: "no"}[v]
		case fmt.Stringer: // a number
			all[key] = v.String()
		}
	}
	return all
}
