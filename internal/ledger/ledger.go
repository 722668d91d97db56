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
