package training

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"

	"stillwet/internal/action"
	"stillwet/internal/ledger"
)

// told is what was found wrong.
type told struct{ faults []VerifyFault }

func (t *told) fault(record, field, format string, args ...any) {
	t.faults = append(t.faults, VerifyFault{record, field, fmt.Sprintf(format, args...)})
}

// gone is a leaf whose record is not there.
func (t *told) gone(l StoredLeaf) {
	t.fault(titleOf(l.LeafAbout), "record", "Leaf %d is of it, and it is not among the records any more.", l.Leaf)
}

// titleOf names a record with its people and day, so that a person knows which is meant.
func titleOf(a LeafAbout) string {
	text := string(a.Kind) + " " + a.Record
	var who []string
	for _, n := range a.People {
		if n.Part != PartBy && n.Part != PartResetBy {
			who = append(who, n.Name)
		}
	}
	if len(who) > 0 {
		text += " (" + strings.Join(who, " and ")
		if len(a.At) >= 10 {
			text += ", " + string(a.At[:10])
		}
		text += ")"
	}
	return text
}

// compare makes the leaf again from the rows and names what differs.
func (t *told) compare(l StoredLeaf, id string, at Instant, rows ledger.Fields, err error) {
	if id != l.Record {
		t.fault(titleOf(l.LeafAbout), "record", "Leaf %d is said to be of %s, and the row that names this leaf is of %s.", l.Leaf, l.Record, id)
	}
	var again []byte
	if err == nil {
		again, err = l.text(rows)
	}
	switch {
	case err != nil:
		t.fault(titleOf(l.LeafAbout), "record", "It cannot be written as a leaf: %v.", err)
	case !bytes.Equal(again, l.Bytes) || at != l.At:
		t.differing(l, at, again)
	}
}

func (t *told) differing(l StoredLeaf, at Instant, again []byte) {
	record := titleOf(l.LeafAbout)
	if at != l.At {
		t.fault(record, "at", "Its leaf is said to be of %s, and the record is of %s.", l.At, at)
	}
	was, err := decode(l.Bytes)
	if err != nil {
		t.fault(record, "leaf", "Leaf %d cannot be read: %v.", l.Leaf, err)
		return
	}
	is, err := decode(again)
	if err != nil {
		t.fault(record, "record", "%v.", err)
		return
	}
	before := len(t.faults)
	t.differ(record, "", was, is)
	if len(t.faults) == before && at == l.At {
		t.fault(record, "leaf", "Leaf %d is not written as it was signed.", l.Leaf)
	}
}

// lines compares the recorded lines with the judged log.
func (t *told) lines(l StoredLeaf, judged string, recorded []Observed) {
	record := titleOf(l.LeafAbout)
	log, err := action.Parse("log", judged, nil)
	if err != nil {
		t.fault(record, "log", "The log cannot be read: %v.", err)
		return
	}
	if len(recorded) != len(log.Acts) {
		t.fault(record, "lines", "%d lines were recorded and the judged log has %d.", len(recorded), len(log.Acts))
		return
	}
	for i, o := range recorded {
		if a := log.Acts[i]; a.Text() != o.Text || int64(a.At) != o.AtMs {
			t.fault(record, fmt.Sprintf("line %d", o.Seq), "Line %d says %q at %d ms, the judged log says %q at %d ms.", o.Seq, o.Text, o.AtMs, a.Text(), a.At)
		}
	}
}

func decode(text []byte) (any, error) {
	d := json.NewDecoder(bytes.NewReader(text))
	d.UseNumber()
	var x any
	if err := d.Decode(&x); err != nil {
		return nil, err
	}
	return x, nil
}

// differ names each field whose value differs between what was signed and what
// the rows say now.
func (t *told) differ(record, path string, was, is any) {
	a, okA := was.(map[string]any)
	b, okB := is.(map[string]any)
	if okA && okB {
		keys := maps.Clone(a)
		maps.Copy(keys, b)
		for _, k := range slices.Sorted(maps.Keys(keys)) {
			t.differ(record, strings.TrimPrefix(path+"."+k, "."), a[k], b[k])
		}
		return
	}
	x, okX := was.([]any)
	y, okY := is.([]any)
	if okX && okY && len(x) == len(y) {
		for i := range x {
			t.differ(record+ofNamed(x[i]), fmt.Sprintf("%s[%d]", path, i), x[i], y[i])
		}
		return
	}
	if fmt.Sprint(was) != fmt.Sprint(is) {
		t.fault(record, path, "%s was signed as %s and is now %s.", path, clip(fmt.Sprint(was)), clip(fmt.Sprint(is)))
	}
}

// ofNamed names the person of a line in a record of many.
func ofNamed(line any) string {
	f, _ := line.(map[string]any)
	if name, _ := f["name"].(string); name != "" {
		return ", line of " + name
	}
	return ""
}

// nameStrays adds people and day to the records that strays name by their ids.
func nameStrays(ctx context.Context, r Reader, names map[string]string, strays []VerifyFault) error {
	for i := range strays {
		kind, id, _ := strings.Cut(strays[i].Record, " ")
		var of LeafAbout
		switch kind {
		case "attempt":
			found, err := r.WholeAttempts(ctx, []string{id})
			if err != nil {
				return err
			}
			for _, a := range found {
				of = LeafAbout{At: a.FinishedAt, People: []Named{{Name: names[a.PersonID]}}}
			}
		case "demonstration":
			found, err := r.WholeDemonstrations(ctx, []string{id})
			if err != nil {
				return err
			}
			for _, d := range found {
				of = LeafAbout{At: d.StartedAt, People: []Named{{Name: names[d.TraineeID]}, {Name: names[d.PreceptorID]}}}
			}
		case "sign-off":
			o, err := r.SignOff(ctx, id)
			if err != nil && !errors.Is(err, ErrNotFound) {
				return err
			}
			of = LeafAbout{At: o.SignedAt, People: []Named{{Name: names[o.PersonID]}, {Name: o.SignerName}}}
		default:
			continue
		}
		of.Kind, of.Record = LeafKind(kind), id
		strays[i].Record = titleOf(of)
	}
	return nil
}
