package training

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strings"

	"stillwet/internal/action"
	"stillwet/internal/ledger"
)

// Verify recomputes everything signed from the stored bytes: the tree from its
// leaves, the head's signature, and each leaf from the rows that people see.
// Faults are in the report; the error means that it could not be checked.
func (s *Service) Verify(ctx context.Context) (VerifyReport, error) {
	v := verifier{s: s, leaves: map[int64][]byte{}, used: map[int64]string{}}
	err := s.Records.Snapshot(ctx, func(r Reader) error {
		content, err := r.LedgerContent(ctx)
		if err != nil {
			return err
		}
		if err := v.tree(content); err != nil {
			return err
		}
		if err := v.demonstrations(ctx, r); err != nil {
			return err
		}
		if err := v.signOffs(ctx, r); err != nil {
			return err
		}
		if err := v.definitions(ctx, r); err != nil {
			return err
		}
		v.unused()
		return nil
	})
	return v.report, err
}

type verifier struct {
	s      *Service
	report VerifyReport
	leaves map[int64][]byte
	used   map[int64]string // which record a leaf is of

	rebuilt *ledger.Tree
}

func (v *verifier) fault(record, field, format string, args ...any) {
	v.report.Faults = append(v.report.Faults, VerifyFault{record, field, fmt.Sprintf(format, args...)})
}

// tree hashes the leaves anew and compares with the stored hashes and the head.
func (v *verifier) tree(c LedgerContent) error {
	list := make([][]byte, len(c.Leaves))
	for i, l := range c.Leaves {
		list[i] = l.Bytes
		v.leaves[l.Index] = l.Bytes
		if l.Index != int64(i) {
			v.fault("ledger", "leaves", "Leaf %d stands where leaf %d should: leaves were removed.", l.Index, i)
		}
	}
	stored := func(indexes []int64) ([]ledger.Hash, error) {
		out := make([]ledger.Hash, len(indexes))
		for i, x := range indexes {
			h, ok := c.Nodes[x]
			if !ok {
				return nil, fmt.Errorf("hash %d is missing", x)
			}
			out[i] = h
		}
		return out, nil
	}
	tree, faults, err := ledger.Rebuild(list, stored)
	if err != nil {
		return err
	}
	v.rebuilt = tree
	head := tree.Head
	for _, f := range faults {
		v.fault("ledger", fmt.Sprintf("hash %d", f.Node), "The stored hash %d, which came with leaf %d, does not follow from the leaves.", f.Node, f.Leaf)
	}
	v.report.Leaves = int64(len(list))
	v.report.Head = LedgerHead{Size: head.Size, Key: c.Key}
	if head.Size > 0 {
		v.report.Head.Root = head.Root.String()
	}
	v.heads(c, list)
	return nil
}

// heads checks every signed head ever made, for each may stand on a workbook.
func (v *verifier) heads(c LedgerContent, leaves [][]byte) {
	if len(c.Heads) != len(leaves) {
		v.fault("ledger", "heads", "There are %d leaves and %d signed heads.", len(leaves), len(c.Heads))
	}
	for i, h := range c.Heads {
		field := fmt.Sprintf("head of %d leaves", h.Size)
		v.report.Head.Note = h.Note
		signed, err := ledger.OpenHead(h.Note, c.Key)
		if err != nil {
			v.fault("ledger", field, "The head stored for %d leaves cannot be trusted: %v.", h.Size, err)
			continue
		}
		if signed.Size != h.Size || h.Size != int64(i+1) || h.Size > int64(len(leaves)) {
			v.fault("ledger", field, "Head %d is stored for %d leaves and signed for %d.", i+1, h.Size, signed.Size)
			continue
		}
		root, err := v.rebuilt.Root(h.Size)
		if err != nil || root != signed.Root {
			v.fault("ledger", field, "The head of %d leaves was signed with root %s; the leaves stored have root %s.", h.Size, signed.Root, root)
		}
	}
}

func (v *verifier) demonstrations(ctx context.Context, r WatchReader) error {
	all, err := r.Demonstrations(ctx, DemonstrationQuery{})
	if err != nil {
		return err
	}
	states, err := r.States(ctx)
	if err != nil {
		return err
	}
	v.states(all, states)
	return v.signatures(ctx, r, all)
}

// states checks that each demonstration begins with its recording and that its
// states follow one another, the judged one last.
func (v *verifier) states(all []Demonstration, states []StoredState) {
	of := map[string][]StoredState{}
	for _, s := range states {
		of[s.Demonstration] = append(of[s.Demonstration], s)
	}
	for _, d := range all {
		record, list := "demonstration "+d.ID, of[d.ID]
		delete(of, d.ID)
		if len(list) == 0 {
			v.fault(record, "states", "None of its states is there.")
			continue
		}
		if first := list[0]; first.State != Recording || first.At != d.StartedAt {
			v.fault(record, "state", "It was begun at %s, and its first state is %q of %s.", d.StartedAt, first.State, first.At)
		}
		for i, s := range list {
			if s.Seq != i+1 {
				v.fault(record, "seq", "State %d stands where state %d should.", s.Seq, i+1)
			}
			if s.Judged != (s.State == Ended) {
				v.fault(record, "event", "State %d is %q; a result is of a state %q, and of no other.", s.Seq, s.State, Ended)
			}
		}
	}
	for _, id := range slices.Sorted(maps.Keys(of)) {
		v.fault("demonstration "+id, "record", "It has states and was never begun.")
	}
}

func (v *verifier) signatures(ctx context.Context, r WatchReader, all []Demonstration) error {
	for _, short := range all {
		if len(short.Signatures) == 0 {
			continue
		}
		d, err := r.Demonstration(ctx, short.ID)
		if err != nil {
			return err
		}
		lines, err := r.Observations(ctx, d.ID)
		if err != nil {
			return err
		}
		for _, n := range d.Signatures {
			leaf, err := signatureLeaf(d, lines, n)
			if err != nil {
				return err
			}
			v.compare("demonstration "+d.ID, n.Leaf, leaf)
		}
		v.lines(d, lines)
	}
	return nil
}

// lines compares the recorded lines with the signed log.
func (v *verifier) lines(d Demonstration, lines []Observed) {
	log, err := action.Parse("log", d.Log, nil)
	if err != nil {
		v.fault("demonstration "+d.ID, "log", "The log cannot be read: %v.", err)
		return
	}
	if len(lines) != len(log.Acts) {
		v.fault("demonstration "+d.ID, "lines", "%d lines were recorded and the signed log has %d.", len(lines), len(log.Acts))
		return
	}
	for i, o := range lines {
		if a := log.Acts[i]; a.Text() != o.Text || int64(a.At) != o.AtMs {
			v.fault("demonstration "+d.ID, fmt.Sprintf("line %d", o.Seq), "Line %d says %q at %d ms, the signed log says %q at %d ms.", o.Seq, o.Text, o.AtMs, a.Text(), a.At)
		}
	}
}

func (v *verifier) signOffs(ctx context.Context, r Reader) error {
	all, err := r.SignOffs(ctx, SignOffQuery{})
	if err != nil {
		return err
	}
	for _, o := range all {
		leaf, err := v.s.leafOfSignOff(ctx, r, o)
		if err != nil {
			v.fault("sign-off "+o.ID, "evidence", "Its evidence cannot be read: %v.", err)
			v.used[o.Leaf] = "sign-off " + o.ID
			continue
		}
		v.compare("sign-off "+o.ID, o.Leaf, leaf)
	}
	return nil
}

// compare makes the leaf again from the rows and names what differs.
func (v *verifier) compare(record string, index int64, rows ledger.Fields) {
	leaf, ok := v.leaves[index]
	if other, taken := v.used[index]; taken {
		v.fault(record, "leaf", "Leaf %d is already that of %s.", index, other)
		return
	}
	if !ok {
		v.fault(record, "leaf", "Its leaf %d is not in the ledger.", index)
		return
	}
	v.used[index] = record
	again, err := ledger.Canonical(rows)
	if err != nil {
		v.fault(record, "record", "It cannot be written as a leaf: %v.", err)
		return
	}
	if bytes.Equal(again, leaf) {
		return
	}
	was, err := decode(leaf)
	if err != nil {
		v.fault(record, "leaf", "Leaf %d cannot be read: %v.", index, err)
		return
	}
	is, err := decode(again)
	if err != nil {
		v.fault(record, "record", "%v.", err)
		return
	}
	before := len(v.report.Faults)
	v.differ(record, "", was, is)
	if len(v.report.Faults) == before {
		v.fault(record, "leaf", "Leaf %d is not written as it was signed.", index)
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
func (v *verifier) differ(record, path string, was, is any) {
	a, okA := was.(map[string]any)
	b, okB := is.(map[string]any)
	if okA && okB {
		keys := maps.Clone(a)
		maps.Copy(keys, b)
		for _, k := range slices.Sorted(maps.Keys(keys)) {
			v.differ(record, strings.TrimPrefix(path+"."+k, "."), a[k], b[k])
		}
		return
	}
	x, okX := was.([]any)
	y, okY := is.([]any)
	if okX && okY && len(x) == len(y) {
		for i := range x {
			v.differ(record, fmt.Sprintf("%s[%d]", path, i), x[i], y[i])
		}
		return
	}
	if fmt.Sprint(was) != fmt.Sprint(is) {
		v.fault(record, path, "%s was signed as %s and is now %s.", path, clip(fmt.Sprint(was)), clip(fmt.Sprint(is)))
	}
}

// unused names the leaves whose record is gone.
func (v *verifier) unused() {
	for _, i := range slices.Sorted(maps.Keys(v.leaves)) {
		if _, ok := v.used[i]; ok {
			continue
		}
		var what struct{ Kind, Record string }
		if err := json.Unmarshal(v.leaves[i], &what); err != nil {
			v.fault("ledger", fmt.Sprintf("leaf %d", i), "Leaf %d cannot be read: %v.", i, err)
			continue
		}
		v.fault(what.Kind+" "+what.Record, "record", "Leaf %d is of the %s of %s, which is not among the records any more.", i, what.Kind, what.Record)
	}
}
