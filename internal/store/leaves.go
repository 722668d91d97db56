package store

import (
	"context"
	"errors"
	"fmt"

	"stillwet/internal/ledger"
	"stillwet/internal/training"
)

type leafRow struct {
	I    int64 `gorm:"primaryKey;autoIncrement:false"`
	Leaf []byte
}

func (leafRow) TableName() string { return "ledger_leaves" }

type nodeRow struct {
	I    int64 `gorm:"primaryKey;autoIncrement:false"`
	Hash []byte
}

func (nodeRow) TableName() string { return "ledger_nodes" }

type headRow struct {
	Size int64 `gorm:"primaryKey;autoIncrement:false"`
	Note string
}

func (headRow) TableName() string { return "ledger_heads" }

// Ledger is the latest head; before the first leaf only its key is filled.
func (r reads) Ledger(ctx context.Context) (training.LedgerHead, error) {
	h, note, err := r.head(ctx)
	out := training.LedgerHead{Size: h.Size, Note: note, Key: r.public}
	if note != "" {
		out.Root = h.Root.String()
	}
	return out, err
}

func (r reads) head(ctx context.Context) (ledger.Head, string, error) {
	row, err := one[headRow](r.q(ctx).Order("size DESC"), "ledger head")
	if errors.Is(err, training.ErrNotFound) {
		return ledger.Head{}, "", nil
	}
	if err != nil {
		return ledger.Head{}, "", err
	}
	h, err := ledger.OpenHead(row.Note, r.public)
	return h, row.Note, err
}

func (r reads) LedgerContent(ctx context.Context) (training.LedgerContent, error) {
	c := training.LedgerContent{Nodes: map[int64]ledger.Hash{}, Key: r.public}
	var err error
	c.Leaves, err = all(r.q(ctx).Order("i"), "ledger leaves", func(l leafRow) training.StoredLeaf {
		return training.StoredLeaf{Index: l.I, Bytes: l.Leaf}
	})
	if err != nil {
		return c, err
	}
	var nodes []nodeRow
	if err := r.q(ctx).Find(&nodes).Error; err != nil {
		return c, fmt.Errorf("read ledger hashes: %w", err)
	}
	for _, n := range nodes {
		if len(n.Hash) == len(ledger.Hash{}) {
			c.Nodes[n.I] = ledger.Hash(n.Hash)
		}
	}
	c.Heads, err = all(r.q(ctx).Order("size"), "ledger heads", func(h headRow) training.StoredHead {
		return training.StoredHead{Size: h.Size, Note: h.Note}
	})
	return c, err
}

// hashes reads stored hashes in the order they are asked for.
func (r reads) hashes(ctx context.Context) ledger.Reader {
	return func(indexes []int64) ([]ledger.Hash, error) {
		var rows []nodeRow
		if err := r.q(ctx).Where("i IN ?", indexes).Find(&rows).Error; err != nil {
			return nil, fmt.Errorf("read ledger hashes: %w", err)
		}
		found := make(map[int64]ledger.Hash, len(rows))
		for _, n := range rows {
			if len(n.Hash) == len(ledger.Hash{}) {
				found[n.I] = ledger.Hash(n.Hash)
			}
		}
		out := make([]ledger.Hash, len(indexes))
		for i, x := range indexes {
			h, ok := found[x]
			if !ok {
				return nil, fmt.Errorf("ledger hash %d is missing", x)
			}
			out[i] = h
		}
		return out, nil
	}
}

// AppendLeaf signs a new head only on top of a tree that still is what the
// last head said.
func (u unit) AppendLeaf(ctx context.Context, leaf []byte) (int64, error) {
	head, _, err := u.head(ctx)
	if err != nil {
		return 0, err
	}
	var size int64
	if err := u.q(ctx).Raw("SELECT COALESCE(MAX(i) + 1, 0) FROM ledger_leaves").Row().Scan(&size); err != nil {
		return 0, fmt.Errorf("size of the ledger: %w", err)
	}
	read := u.hashes(ctx)
	root := head.Root
	if size > 0 {
		if root, err = ledger.Root(size, read); err != nil {
			return 0, err
		}
	}
	if head.Size != size || head.Root != root {
		return 0, fmt.Errorf("the ledger of %d leaves is not the one its head of %d was signed for; run stillwet verify", size, head.Size)
	}
	a, err := ledger.Append(size, leaf, read)
	if err != nil {
		return 0, err
	}
	return a.Index, u.keepLeaf(ctx, leaf, a)
}

func (u unit) keepLeaf(ctx context.Context, leaf []byte, a ledger.Appended) error {
	note, err := u.key.Sign(a.Head)
	if err != nil {
		return err
	}
	*u.signed = note
	nodes := make([]nodeRow, len(a.Hashes))
	for i, h := range a.Hashes {
		nodes[i] = nodeRow{I: a.First + int64(i), Hash: h[:]}
	}
	return errors.Join(
		add(u.q(ctx), "leaf", leafRow{I: a.Index, Leaf: leaf}),
		add(u.q(ctx), "ledger hash", nodes...),
		add(u.q(ctx), "head", headRow{Size: a.Head.Size, Note: note}))
}
