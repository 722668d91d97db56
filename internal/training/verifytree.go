package training

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"iter"
	"slices"

	"stillwet/internal/ledger"
)

// tree walks the leaves, hashes them anew and compares each stored hash and head on the
// way, and hands each leaf on to be compared with its rows.
func (v *verifier) tree(ctx context.Context) error {
	nodes, stopNodes := iter.Pull2(v.r.LedgerNodes(ctx))
	defer stopNodes()
	heads, stopHeads := iter.Pull2(v.r.LedgerHeads(ctx))
	defer stopHeads()
	walk := &ledger.Walk{}
	stored := &storedTree{v: v, nodes: nodes, heads: heads}
	given := v.given()
	for l, err := range v.r.LedgerLeaves(ctx) {
		if err != nil {
			return err
		}
		if l.Leaf != walk.Size() {
			v.fault("ledger", "leaves", "Leaf %d stands where leaf %d should: leaves were removed.", l.Leaf, walk.Size())
		}
		first := ledger.StoredAt(walk.Size())
		if err := stored.compare(l.Leaf, first, walk.Add(l.Bytes)); err != nil {
			return err
		}
		if err := stored.headAt(walk); err != nil {
			return err
		}
		given = v.meets(given, walk)
		if err := v.take(ctx, l); err != nil {
			return err
		}
		if v.options.Progress != nil && walk.Size()%progressEvery == 0 {
			v.options.Progress(walk.Size())
		}
	}
	for _, g := range given {
		v.fault("ledger", "head given", "%s was signed for %d records, and the ledger has %d: the newest %d were cut off, or an older file was put in its place.",
			g.from, g.head.Size, walk.Size(), g.head.Size-walk.Size())
	}
	v.report.Leaves = walk.Size()
	return errors.Join(stored.end(walk), v.flush(ctx, 1))
}

const progressEvery = 10_000

// storedTree is the stored hashes and heads as they are read beside the leaves.
type storedTree struct {
	v     *verifier
	nodes func() (StoredNode, error, bool)
	heads func() (StoredHead, error, bool)
	ahead *StoredHead // read, and larger than what was walked
	last  StoredHead
	node  *StoredNode // read, and of a later leaf
}

// compare reads the hashes that belong to a leaf and compares them with its own.
func (t *storedTree) compare(leaf, first int64, hashes []ledger.Hash) error {
	for i, h := range hashes {
		at := first + int64(i)
		n, err := t.nodeAt(at)
		if err != nil {
			return err
		}
		if n == nil || n.Hash != h {
			t.v.fault("ledger", fmt.Sprintf("hash %d", at), "The stored hash %d, which came with leaf %d, does not follow from the leaves.", at, leaf)
		}
	}
	return nil
}

// nodeAt is the stored hash of an index, nil when it is not there.
func (t *storedTree) nodeAt(index int64) (*StoredNode, error) {
	for t.node == nil || t.node.Index < index {
		n, err, ok := t.nodes()
		if err != nil || !ok {
			return nil, err
		}
		t.node = &n
	}
	if t.node.Index != index {
		return nil, nil
	}
	n := t.node
	t.node = nil
	return n, nil
}

// headAt compares the heads that were signed for as many leaves as were walked.
func (t *storedTree) headAt(w *ledger.Walk) error {
	for {
		if t.ahead == nil {
			h, err, ok := t.heads()
			if err != nil || !ok {
				return err
			}
			t.ahead = &h
		}
		if t.ahead.Size > w.Size() {
			return nil
		}
		t.last, t.ahead = *t.ahead, nil
		t.v.storedHead(t.last, w, t.v.options.AllHeads)
	}
}

// end checks what is left when the leaves are at their end.
func (t *storedTree) end(w *ledger.Walk) error {
	head := w.Head()
	v := t.v
	v.report.Head.Size = head.Size
	if t.ahead != nil {
		v.fault("ledger", fmt.Sprintf("head of %d leaves", t.ahead.Size), "There is a head signed for %d leaves, and only %d are there: the newest were cut off.", t.ahead.Size, head.Size)
	}
	more := t.node
	if more == nil {
		n, err, ok := t.nodes()
		if err != nil {
			return err
		}
		if ok {
			more = &n
		}
	}
	if more != nil {
		v.fault("ledger", fmt.Sprintf("hash %d", more.Index), "There are more stored hashes than the leaves make.")
	}
	if head.Size == 0 {
		return nil
	}
	v.report.Head.Root, v.report.Head.Note = head.Root.String(), t.last.Note
	if t.last.Size != head.Size {
		v.fault("ledger", "head", "The newest head is signed for %d leaves, and there are %d.", t.last.Size, head.Size)
		return nil
	}
	if !v.options.AllHeads {
		v.storedHead(t.last, w, true)
	}
	return nil
}

// storedHead compares a stored head with the leaves, and its signature too when asked.
func (v *verifier) storedHead(h StoredHead, w *ledger.Walk, signature bool) {
	field := fmt.Sprintf("head of %d leaves", h.Size)
	open := ledger.ReadHead
	if signature {
		open = ledger.OpenHead
	}
	is, err := open(h.Note, v.key)
	switch {
	case err != nil:
		v.fault("ledger", field, "The head stored for %d leaves cannot be trusted: %v.", h.Size, err)
	case is.Size != h.Size || h.Size != w.Size():
		v.fault("ledger", field, "The head stored for %d leaves is signed for %d.", h.Size, is.Size)
	case is != w.Head() && !slices.ContainsFunc(v.faults, func(f VerifyFault) bool { return f.Field == field }):
		v.fault("ledger", field, "The head of %d leaves was signed with root %s; the leaves stored have root %s.", h.Size, is.Root, w.Head().Root)
	}
}

type givenHead struct {
	from string
	head ledger.Head
}

// given are the heads from elsewhere by their size. One that cannot be trusted is a fault.
func (v *verifier) given() (all []givenHead) {
	for _, g := range v.options.Heads {
		h, err := ledger.OpenHead(g.Note, v.key)
		if err != nil {
			v.fault("ledger", "head given", "The head in %s cannot be trusted: %v. It is of another clinic or key, or was altered.", g.From, err)
			continue
		}
		if h.Size > 0 {
			all = append(all, givenHead{g.From, h})
		}
	}
	slices.SortStableFunc(all, func(a, b givenHead) int { return cmp.Compare(a.head.Size, b.head.Size) })
	return all
}

// meets takes out the heads of as many leaves as were walked.
func (v *verifier) meets(given []givenHead, w *ledger.Walk) []givenHead {
	for len(given) > 0 && given[0].head.Size == w.Size() {
		if given[0].head.Root != w.Head().Root {
			v.fault("ledger", "head given", "%s was signed for %d records with root %s; the first %d records here have root %s: they were written anew.",
				given[0].from, w.Size(), given[0].head.Root, w.Size(), w.Head().Root)
		}
		given = given[1:]
	}
	return given
}
