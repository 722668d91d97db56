// Package ledger is an append-only log of signed records: a Merkle tree as in
// RFC 6962 section 2.1 (leaf hash = SHA-256(0x00 || leaf), node hash =
// SHA-256(0x01 || left || right)), with a signed head.
//
// Stored hashes are numbered as golang.org/x/mod/sumdb/tlog numbers them
// (StoredHashIndex). A head is the three-line checkpoint of C2SP
// tlog-checkpoint, signed as a C2SP signed note with Ed25519:
//
//	stillwet/CLINIC
//	SIZE in decimal
//	ROOT in base64
//
//	— stillwet/CLINIC KEYHASH+SIGNATURE in base64
//
// The package keeps nothing: the caller stores leaves, hashes and the head in
// one transaction with the record that was signed.
package ledger

import (
	"errors"
	"fmt"

	"golang.org/x/mod/sumdb/tlog"
)

// Hash is a leaf's, a node's or a tree's.
type Hash = tlog.Hash

// Reader returns stored hashes by their indexes.
type Reader func(indexes []int64) ([]Hash, error)

// ReadHashes makes Reader a tlog.HashReader.
func (r Reader) ReadHashes(indexes []int64) ([]Hash, error) {
	hashes, err := r(indexes)
	if err == nil && len(hashes) != len(indexes) {
		err = fmt.Errorf("ledger: asked for %d hashes, got %d", len(indexes), len(hashes))
	}
	return hashes, err
}

// Head is the size and root of a tree.
type Head struct {
	Size int64
	Root Hash
}

// Appended is what one more leaf adds.
type Appended struct {
	Index  int64  // of the leaf, from 0
	First  int64  // index of the first of Hashes; the others follow it
	Hashes []Hash // to be stored
	Head   Head
}

// Append works out what a leaf adds to a tree of size leaves.
func Append(size int64, leaf []byte, r Reader) (Appended, error) {
	hashes, err := tlog.StoredHashes(size, leaf, r)
	if err != nil {
		return Appended{}, fmt.Errorf("ledger: append leaf %d: %w", size, err)
	}
	first := tlog.StoredHashIndex(0, size)
	root, err := tlog.TreeHash(size+1, overlay(r, first, hashes))
	if err != nil {
		return Appended{}, fmt.Errorf("ledger: head after leaf %d: %w", size, err)
	}
	return Appended{size, first, hashes, Head{size + 1, root}}, nil
}

// overlay reads the new hashes before they are stored.
func overlay(r Reader, first int64, hashes []Hash) Reader {
	return func(indexes []int64) ([]Hash, error) {
		out := make([]Hash, len(indexes))
		var ask []int64
		var where []int
		for i, x := range indexes {
			if x >= first && x < first+int64(len(hashes)) {
				out[i] = hashes[x-first]
				continue
			}
			ask, where = append(ask, x), append(where, i)
		}
		if len(ask) == 0 {
			return out, nil
		}
		old, err := r.ReadHashes(ask)
		if err != nil {
			return nil, err
		}
		for i, h := range old {
			out[where[i]] = h
		}
		return out, nil
	}
}

// Root is the root of the first size leaves.
func Root(size int64, r Reader) (Hash, error) {
	root, err := tlog.TreeHash(size, r)
	if err != nil {
		return Hash{}, fmt.Errorf("ledger: root of %d leaves: %w", size, err)
	}
	return root, nil
}

// ProveRecord proves that leaf i is in the tree of size leaves.
func ProveRecord(size, i int64, r Reader) ([]Hash, error) {
	p, err := tlog.ProveRecord(size, i, r)
	if err != nil {
		return nil, fmt.Errorf("ledger: prove leaf %d: %w", i, err)
	}
	return p, nil
}

// CheckRecord checks a proof that leaf is number i of the tree of a head.
func CheckRecord(proof []Hash, h Head, i int64, leaf []byte) error {
	if err := tlog.CheckRecord(proof, h.Size, h.Root, i, tlog.RecordHash(leaf)); err != nil {
		return fmt.Errorf("ledger: leaf %d is not in the tree of %d leaves: %w", i, h.Size, err)
	}
	return nil
}

// ProveTree proves that the tree of size leaves extends the one of old leaves.
func ProveTree(size, old int64, r Reader) ([]Hash, error) {
	p, err := tlog.ProveTree(size, old, r)
	if err != nil {
		return nil, fmt.Errorf("ledger: prove %d leaves from %d: %w", size, old, err)
	}
	return p, nil
}

// CheckTree checks a proof that h extends old.
func CheckTree(proof []Hash, h, old Head) error {
	if err := tlog.CheckTree(proof, h.Size, h.Root, old.Size, old.Root); err != nil {
		return fmt.Errorf("ledger: the tree of %d leaves does not extend the one of %d: %w", h.Size, old.Size, err)
	}
	return nil
}

// Fault is a stored hash that does not follow from the leaves.
type Fault struct {
	Leaf int64 // the leaf whose hashes are wrong
	Node int64 // the stored hash's index
}

// Rebuild hashes every leaf anew, compares each stored hash with its own and
// returns the tree of what the leaves really say.
func Rebuild(leaves [][]byte, stored Reader) (*Tree, []Fault, error) {
	var all []Hash
	mine := Reader(func(indexes []int64) ([]Hash, error) {
		out := make([]Hash, len(indexes))
		for i, x := range indexes {
			if x < 0 || x >= int64(len(all)) {
				return nil, errors.New("ledger: hash out of range")
			}
			out[i] = all[x]
		}
		return out, nil
	})
	var faults []Fault
	for i, leaf := range leaves {
		hashes, err := tlog.StoredHashes(int64(i), leaf, mine)
		if err != nil {
			return nil, nil, fmt.Errorf("ledger: leaf %d: %w", i, err)
		}
		for _, h := range hashes {
			node := int64(len(all))
			was, err := stored.ReadHashes([]int64{node})
			if err != nil || was[0] != h {
				faults = append(faults, Fault{int64(i), node})
			}
			all = append(all, h)
		}
	}
	root, err := Root(int64(len(leaves)), mine)
	if err != nil {
		return nil, nil, err
	}
	return &Tree{Head{int64(len(leaves)), root}, mine}, faults, nil
}

// Tree is a tree that was hashed anew from its leaves.
type Tree struct {
	Head Head
	read Reader
}

// Root is the root that the tree had when it was size leaves large.
func (t *Tree) Root(size int64) (Hash, error) { return Root(size, t.read) }
