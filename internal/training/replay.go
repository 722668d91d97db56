package training

import (
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"slices"

	"stillwet/internal/ledger"
)

// replay is what people, accounts and entitlements must be by the leaves that say how
// each was changed.
type replay struct {
	people, accounts, entitlements map[string]map[string]any
	begun                          bool // there is a leaf of people at all
}

func newReplay() *replay {
	return &replay{map[string]map[string]any{}, map[string]map[string]any{}, map[string]map[string]any{}, false}
}

// leafText is a leaf as it was written.
type leafText struct {
	version int
	kind    LeafKind
	record  string
	at      Instant
	behind  bool
	people  []Named
	fields  map[string]any
}

func readLeaf(text []byte) (l leafText, err error) {
	all, err := decode(text)
	if err != nil {
		return l, err
	}
	f, ok := all.(map[string]any)
	if !ok {
		return l, errors.New("it is no object")
	}
	word := func(key string) string { w, _ := f[key].(string); return w } // "" is told where it matters
	version, _ := f["version"].(json.Number)
	n, err := version.Int64()
	if err != nil {
		return l, errors.New("it says no version")
	}
	l = leafText{int(n), LeafKind(word("kind")), word("record"), Instant(cmp.Or(word("at"), word("signed_at"))), word("clock") == "behind", nil, f}
	people, _ := f["people"].(map[string]any)
	for _, part := range slices.Sorted(maps.Keys(people)) {
		p, _ := people[part].(map[string]any)
		of := func(key string) string { w, _ := p[key].(string); return w }
		l.people = append(l.people, Named{part, of("id"), of("name"), of("staff_no"), of("credential"), Instant(of("at"))})
	}
	return l, nil
}

func (l leafText) about() LeafAbout {
	return LeafAbout{Version: l.version, Kind: l.kind, Record: l.record, At: l.at, ClockBehind: l.behind, People: l.people}
}

// replayed takes a leaf of people, accounts, entitlements, requirements or the clock:
// nothing but what the leaf is of is kept of it in rows.
func (v *verifier) replayed(l StoredLeaf) {
	is, err := readLeaf(l.Bytes)
	if err != nil {
		v.fault(string(l.Kind)+" "+l.Record, "leaf", "Leaf %d cannot be read: %v.", l.Leaf, err)
		return
	}
	v.sameAbout(is.about(), l.LeafAbout)
	v.replay.take(is)
}

// sameAbout compares what a leaf says it is of with what the rows say.
func (v *verifier) sameAbout(signed, stored LeafAbout) {
	record := titleOf(signed)
	for _, x := range []struct {
		field   string
		was, is any
	}{
		{"version", signed.Version, stored.Version}, {"kind", signed.Kind, stored.Kind}, {"record", signed.Record, stored.Record},
		{"at", signed.At, stored.At}, {"clock_behind", signed.ClockBehind, stored.ClockBehind}, {"people", signed.People, stored.People},
	} {
		if was, is := fmt.Sprint(x.was), fmt.Sprint(x.is); was != is {
			v.fault(record, x.field, "%s was signed as %s and is now %s.", x.field, clip(was), clip(is))
		}
	}
}

func (r *replay) take(l leafText) {
	switch l.kind {
	case PersonLeaf:
		r.begun = true
		f := maps.Clone(l.fields)
		p := l.about().Named(PartPerson)
		f["id"], f["name"], f["staff_no"] = p.PersonID, p.Name, p.StaffNo
		r.people[l.record] = f
	case AccountLeaf:
		r.accounts[l.record] = l.fields
	case EntitlementLeaf:
		r.entitlements[l.record] = l.fields
	case BaselineLeaf:
		r.begun = true
		for name, into := range map[string]map[string]map[string]any{"found_people": r.people, "found_accounts": r.accounts, "found_entitlements": r.entitlements} {
			list, _ := l.fields[name].([]any) // one that is missing lists nobody
			for _, x := range list {
				if f, ok := x.(map[string]any); ok {
					into[fmt.Sprint(f["id"])] = f
				}
			}
		}
	}
}

// standing compares people, accounts and entitlements as they are with what the leaves
// made of them. A file without such leaves has not been served by this version yet.
func (v *verifier) standing(ctx context.Context, people []Person) error {
	if !v.replay.begun {
		return nil
	}
	rows, err := standingRows(ctx, v.r, people)
	if err != nil {
		return err
	}
	v.sameState("person", v.replay.people, rows.people)
	v.sameState("account", v.replay.accounts, rows.accounts)
	v.sameState("entitlement", v.replay.entitlements, rows.entitlements)
	return nil
}

// standingRows are people, accounts and entitlements as they stand in rows, by their ids.
func standingRows(ctx context.Context, r Reader, people []Person) (rows standingFields, err error) {
	accounts, err := r.Accounts(ctx)
	if err != nil {
		return rows, err
	}
	entitlements, err := r.Entitlements(ctx, "")
	rows.people = byID(people, func(p Person) (string, ledger.Fields) { return p.ID, wholePerson(p) })
	rows.accounts = byID(accounts, func(a Account) (string, ledger.Fields) { return a.PersonID, accountFields(a) })
	rows.entitlements = byID(entitlements, func(e Entitlement) (string, ledger.Fields) { return e.ID, entitlementFields(e) })
	return rows, err
}

type standingFields struct{ people, accounts, entitlements map[string]ledger.Fields }

func byID[T any](all []T, fields func(T) (string, ledger.Fields)) map[string]ledger.Fields {
	of := make(map[string]ledger.Fields, len(all))
	for _, x := range all {
		id, f := fields(x)
		of[id] = f
	}
	return of
}

func (v *verifier) sameState(kind string, signed map[string]map[string]any, rows map[string]ledger.Fields) {
	for _, id := range slices.Sorted(maps.Keys(signed)) {
		record := v.stateTitle(kind, id, signed[id])
		row, ok := rows[id]
		if !ok {
			v.fault(record, "record", "The ledger knows it, and it is not among the records any more.")
			continue
		}
		for _, field := range slices.Sorted(maps.Keys(row)) {
			was, is := "", fmt.Sprint(row[field]) // what is empty may be left out of a leaf
			if x, ok := signed[id][field]; ok {
				was = fmt.Sprint(x)
			}
			if was != is {
				v.fault(record, field, "%s was ledgered as %s and is now %s.", field, clip(was), clip(is))
			}
		}
	}
	for _, id := range slices.Sorted(maps.Keys(rows)) {
		if _, ok := signed[id]; !ok {
			v.fault(v.stateTitle(kind, id, rows[id]), "leaf", "It is among the records, and no leaf of the ledger is of it.")
		}
	}
}

// stateTitle names whose a record is.
func (v *verifier) stateTitle(kind, id string, of map[string]any) string {
	person := id
	if kind == "entitlement" {
		person = fmt.Sprint(of["person_id"])
	}
	name := v.names[person]
	if was, ok := of["name"].(string); ok {
		name = was
	}
	if name == "" {
		return kind + " " + id
	}
	return kind + " " + id + " (" + name + ")"
}
