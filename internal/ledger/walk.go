package ledger

import (
	"fmt"
	"math/bits"

	"golang.org/x/mod/sumdb/tlog"
)

// Walk hashes leaves one after another. It keeps the roots of the full subtrees at
// the right edge only, so that a million leaves take the memory of twenty hashes.
type Walk struct {
	size int64
	edge []Hash // of the full subtrees, the largest first: one for each bit of size
}

// Resume is a walk over the first size leaves, whose hashes are stored.
func Resume(size int64, r Reader) (*Walk, error) {
	w := &Walk{size: size}
	var ask []int64
	first := int64(0)
	for level := bits.Len64(uint64(size)) - 1; level >= 0; level-- {
		if size&(1<<level) != 0 {
			ask = append(ask, tlog.StoredHashIndex(level, first>>level))
			first += 1 << level
		}
	}
	if len(ask) == 0 {
		return w, nil
	}
	edge, err := r.ReadHashes(ask)
	if err != nil {
		return nil, fmt.Errorf("ledger: hashes of %d leaves: %w", size, err)
	}
	w.edge = edge
	return w, nil
}

// Size is how many leaves were walked.
func (w *Walk) Size() int64 { return w.size }

// Add walks one more leaf and returns the hashes to be stored for it. They follow
// those of the leaves before, the first with the index StoredAt(size before).
func (w *Walk) Add(leaf []byte) []Hash {
	h := tlog.RecordHash(leaf)
	hashes := append(make([]Hash, 0, 2), h)
	for n := w.size; n&1 != 0; n >>= 1 { // a full subtree stands to its left
		last := len(w.edge) - 1
		h = tlog.NodeHash(w.edge[last], h)
		w.edge = w.edge[:last]
		hashes = append(hashes, h)
	}
	w.edge = append(w.edge, h)
	w.size++
	return hashes
}

// StoredAt is the index of the first stored hash of leaf i.
func StoredAt(i int64) int64 { return tlog.StoredHashIndex(0, i) }

// Head is the size and root of what was walked.
func (w *Walk) Head() Head {
	if w.size == 0 {
		return Head{Root: emptyRoot}
	}
	root := w.edge[len(w.edge)-1]
	for i := len(w.edge) - 2; i >= 0; i-- {
		root = tlog.NodeHash(w.edge[i], root)
	}
	return Head{w.size, root}
}

// emptyRoot is that of a tree without leaves: SHA-256 of nothing (RFC 6962 section 2.1).
var emptyRoot = Hash{0xe3, 0xb0, 0xc4, 0x42, 0x98, 0xfc, 0x1c, 0x14, 0x9a, 0xfb, 0xf4, 0xc8, 0x99, 0x6f, 0xb9, 0x24,
	0x27, 0xae, 0x41, 0xe4, 0x64, 0x9b, 0x93, 0x4c, 0xa4, 0x95, 0x99, 0x1b, 0x78, 0x52, 0xb8, 0x55}
