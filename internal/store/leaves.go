package store

import (
	"context"
	"database/sql"
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

// recordLeafRow says what a leaf is of.
type recordLeafRow struct {
	Leaf        int64 `gorm:"primaryKey;autoIncrement:false"`
	Version     int
	Kind        training.LeafKind
	Record      string
	At          training.Instant
	ClockBehind bool
}

func (recordLeafRow) TableName() string { return "record_leaves" }

func (r recordLeafRow) about() training.LeafAbout {
	return training.LeafAbout{Leaf: r.Leaf, Version: r.Version, Kind: r.Kind, Record: r.Record, At: r.At, ClockBehind: r.ClockBehind}
}

// namedRow is a person as they stood in a signed record.
type namedRow struct {
	Leaf       int64  `gorm:"primaryKey;autoIncrement:false"`
	Part       string `gorm:"primaryKey"`
	PersonID   string
	Name       string
	StaffNo    string
	Credential string
	At         training.Instant
}

func (namedRow) TableName() string { return "signed_people" }

func (r namedRow) named() training.Named {
	return training.Named{Part: r.Part, PersonID: r.PersonID, Name: r.Name, StaffNo: r.StaffNo, Credential: r.Credential, At: r.At}
}

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

// LeavesOf are the newest leaves of a kind about one record, oldest first.
func (r reads) LeavesOf(ctx context.Context, kind training.LeafKind, record string, most int) ([]training.StoredLeaf, error) {
	about, err := all(r.q(ctx).Where("kind = ? AND record = ?", kind, record).Order("leaf DESC").Limit(most), "leaves", recordLeafRow.about)
	if err == nil {
		err = r.withPeople(ctx, about)
	}
	if err != nil {
		return nil, err
	}
	var rows []leafRow
	if err := r.q(ctx).Where("i IN (SELECT value FROM json_each(?))", numbers(numbersOf(about))).Order("i").Find(&rows).Error; err != nil {
		return nil, fmt.Errorf("read leaves: %w", err)
	}
	found := make([]training.StoredLeaf, len(rows))
	for i, row := range rows {
		found[i] = training.StoredLeaf{LeafAbout: about[len(about)-1-i], Bytes: row.Leaf}
	}
	return found, nil
}

// LeavesAt are leaves by their numbers, with who is named in each.
func (r reads) LeavesAt(ctx context.Context, leaves []int64) (map[int64]training.LeafAbout, error) {
	found, err := all(r.q(ctx).Where("leaf IN (SELECT value FROM json_each(?))", numbers(leaves)), "leaves", recordLeafRow.about)
	if err == nil {
		err = r.withPeople(ctx, found)
	}
	of := make(map[int64]training.LeafAbout, len(found))
	for _, l := range found {
		of[l.Leaf] = l
	}
	return of, err
}

// leavesLikeSQL finds leaves with the one before each of the same record.
const leavesLikeSQL = `SELECT r.leaf, l.leaf AS bytes,
		(SELECT b.leaf FROM record_leaves e JOIN ledger_leaves b ON b.i = e.leaf
			WHERE e.kind = r.kind AND e.record = r.record AND e.leaf < r.leaf ORDER BY e.leaf DESC LIMIT 1) AS earlier
	FROM record_leaves r JOIN ledger_leaves l ON l.i = r.leaf
	WHERE r.kind IN (SELECT value FROM json_each(@kinds)) AND @record IN ('', r.record) AND (@under = 0 OR r.leaf < @under)
		AND (@from = '' OR r.at >= @from) AND (@before = '' OR r.at < @before)
		AND (@name = '' OR EXISTS (SELECT 1 FROM signed_people p WHERE p.leaf = r.leaf AND instr(lower(p.name), lower(@name)) > 0)
			OR EXISTS (SELECT 1 FROM earlier_batches b JOIN earlier_sign_offs o ON o.batch_id = b.id WHERE b.leaf = r.leaf AND instr(lower(o.name), lower(@name)) > 0))
	ORDER BY r.leaf DESC LIMIT @most`

// LeavesLike are the newest leaves that a query asks for.
func (r reads) LeavesLike(ctx context.Context, q training.LeafQuery) ([]training.LeafPair, error) {
	kinds := make([]string, len(q.Kinds))
	for i, k := range q.Kinds {
		kinds[i] = string(k)
	}
	var rows []struct {
		Leaf           int64
		Bytes, Earlier []byte
	}
	err := r.q(ctx).Raw(leavesLikeSQL, sql.Named("kinds", list(kinds)), sql.Named("under", q.Under), sql.Named("from", q.From), sql.Named("before", q.Before),
		sql.Named("name", q.Name), sql.Named("record", q.Record), sql.Named("most", q.Most)).Scan(&rows).Error
	if err != nil {
		return nil, fmt.Errorf("read leaves: %w", err)
	}
	leaves := make([]int64, len(rows))
	for i, row := range rows {
		leaves[i] = row.Leaf
	}
	about, err := r.LeavesAt(ctx, leaves)
	found := make([]training.LeafPair, len(rows))
	for i, row := range rows {
		found[i] = training.LeafPair{StoredLeaf: training.StoredLeaf{LeafAbout: about[row.Leaf], Bytes: row.Bytes}, Earlier: row.Earlier}
	}
	return found, err
}

// leavesForSQL finds the leaf that each of some records was signed in.
const leavesForSQL = `SELECT r.record AS id, l.leaf AS bytes FROM record_leaves r JOIN ledger_leaves l ON l.i = r.leaf
		WHERE r.kind IN ('sign-off', 'entitlement', 'item-entry') AND r.record IN (SELECT value FROM json_each(@ids))
	UNION ALL SELECT o.id, l.leaf FROM earlier_sign_offs o JOIN earlier_batches b ON b.id = o.batch_id JOIN ledger_leaves l ON l.i = b.leaf
		WHERE o.id IN (SELECT value FROM json_each(@ids))`

// LeavesFor are the leaves of records by the ids of these.
func (r reads) LeavesFor(ctx context.Context, ids []string) (map[string][]byte, error) {
	var rows []struct {
		ID    string
		Bytes []byte
	}
	if err := r.q(ctx).Raw(leavesForSQL, sql.Named("ids", list(ids))).Scan(&rows).Error; err != nil {
		return nil, fmt.Errorf("read leaves of records: %w", err)
	}
	of := make(map[string][]byte, len(rows))
	for _, row := range rows {
		of[row.ID] = row.Bytes
	}
	return of, nil
}

// LatestLeaf is the newest leaf of a kind, without its people.
func (r reads) LatestLeaf(ctx context.Context, kind training.LeafKind) (training.LeafAbout, error) {
	row, err := one[recordLeafRow](r.q(ctx).Where("kind = ?", kind).Order("leaf DESC"), "leaf")
	return row.about(), err
}

// withPeople puts to each leaf who is named in it.
func (r reads) withPeople(ctx context.Context, leaves []training.LeafAbout) error {
	place := make(map[int64]int, len(leaves))
	for i, l := range leaves {
		place[l.Leaf] = i
	}
	rows, err := r.namedIn(ctx, numbersOf(leaves))
	for _, row := range rows {
		l := &leaves[place[row.Leaf]]
		l.People = append(l.People, row.named())
	}
	return err
}

func numbersOf(leaves []training.LeafAbout) []int64 {
	out := make([]int64, len(leaves))
	for i, l := range leaves {
		out[i] = l.Leaf
	}
	return out
}

func (r reads) namedIn(ctx context.Context, leaves []int64) ([]namedRow, error) {
	var rows []namedRow
	if err := r.q(ctx).Where("leaf IN (SELECT value FROM json_each(?))", numbers(leaves)).Order("leaf, part").Find(&rows).Error; err != nil {
		return nil, fmt.Errorf("read who was named: %w", err)
	}
	return rows, nil
}

// NamesEver are the names and staff numbers by which leaves have people, each once.
func (r reads) NamesEver(ctx context.Context) (names []training.Named, err error) {
	err = eachRow(r.q(ctx), "SELECT DISTINCT person_id, name, staff_no FROM signed_people ORDER BY person_id, name, staff_no", nil, func(rows *sql.Rows) error {
		var n training.Named
		err := rows.Scan(&n.PersonID, &n.Name, &n.StaffNo)
		names = append(names, n)
		return err
	})
	if err != nil {
		return nil, fmt.Errorf("read who was named: %w", err)
	}
	return names, nil
}

// LastLedgered is the latest moment that a leaf names since the clock was last
// confirmed, and that confirmation; "" before the first.
func (r reads) LastLedgered(ctx context.Context) (training.Instant, error) {
	var at []training.Instant
	err := r.q(ctx).Model(&recordLeafRow{}).
		Where("leaf >= COALESCE((SELECT MAX(leaf) FROM record_leaves WHERE kind = ?), 0)", training.ClockLeaf).
		Order("at DESC").Limit(1).Pluck("at", &at).Error
	if err != nil {
		return "", fmt.Errorf("read the last ledgered time: %w", err)
	}
	if len(at) == 0 {
		return "", nil
	}
	return at[0], nil
}

// growth is what one transaction adds to the ledger. Its leaves are kept at once,
// for records refer to them; hashes and the one head follow at its end.
type growth struct {
	walk  *ledger.Walk
	first int64 // index of the first of nodes
	nodes []ledger.Hash
}

// AppendLeaf grows only a tree that still is what the last head said.
func (u unit) AppendLeaf(ctx context.Context, leaf []byte, about training.LeafAbout) (int64, error) {
	if u.grown.walk == nil {
		if err := u.begin(ctx); err != nil {
			return 0, err
		}
	}
	index := u.grown.walk.Size()
	u.grown.nodes = append(u.grown.nodes, u.grown.walk.Add(leaf)...)
	people := make([]namedRow, len(about.People))
	for i, n := range about.People {
		people[i] = namedRow{index, n.Part, n.PersonID, n.Name, n.StaffNo, n.Credential, n.At}
	}
	return index, errors.Join(
		add(u.q(ctx), "leaf", leafRow{I: index, Leaf: leaf}),
		add(u.q(ctx), "what the leaf is of", recordLeafRow{index, about.Version, about.Kind, about.Record, about.At, about.ClockBehind}),
		add(u.q(ctx), "who is named", people...))
}

func (u unit) begin(ctx context.Context) error {
	head, _, err := u.head(ctx)
	if err != nil {
		return err
	}
	var size int64
	if err := u.q(ctx).Raw("SELECT COALESCE(MAX(i) + 1, 0) FROM ledger_leaves").Row().Scan(&size); err != nil {
		return fmt.Errorf("size of the ledger: %w", err)
	}
	walk, err := ledger.Resume(size, u.hashes(ctx))
	if err != nil {
		return err
	}
	if size != head.Size || size > 0 && walk.Head() != head {
		return fmt.Errorf("the ledger of %d leaves is not the one its head of %d was signed for: somebody changed the data file; run stillwet verify, and restore the newest backup", size, head.Size)
	}
	u.grown.walk, u.grown.first = walk, ledger.StoredAt(size)
	return nil
}

// mostNodes is how many hashes go into one statement.
const mostNodes = 400

// seal keeps the hashes and signs the head of what the transaction added.
func (u unit) seal(ctx context.Context) (note string, err error) {
	g := u.grown
	if g.walk == nil {
		return "", nil
	}
	for from := 0; from < len(g.nodes); from += mostNodes {
		part := g.nodes[from:min(from+mostNodes, len(g.nodes))]
		rows := make([]nodeRow, len(part))
		for i := range part {
			rows[i] = nodeRow{I: g.first + int64(from+i), Hash: part[i][:]}
		}
		if err := add(u.q(ctx), "ledger hashes", rows...); err != nil {
			return "", err
		}
	}
	head := g.walk.Head()
	if note, err = u.key.Sign(head); err != nil {
		return "", err
	}
	return note, add(u.q(ctx), "head", headRow{Size: head.Size, Note: note})
}
