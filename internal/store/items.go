package store

import (
	"context"

	"gorm.io/gorm"

	"stillwet/internal/training"
)

// itemVersionRow is what an item asks for since a moment; it never changes.
type itemVersionRow struct {
	ItemID      string `gorm:"primaryKey"`
	Seq         int    `gorm:"primaryKey;autoIncrement:false"`
	Title       string
	EveryMonths int
	NoticeDays  int
	Everybody   bool
	Roles       training.Roles
	Jobs        string
	Teams       string
	Content     string
	KeepYears   int
	Retired     bool
	At          training.Instant
	ByID        string
	ByName      string
	Why         string
	Leaf        int64
}

func (itemVersionRow) TableName() string { return "item_versions" }

func (r itemVersionRow) item() training.Item {
	return training.Item{ID: r.ItemID, Seq: r.Seq, Title: r.Title, EveryMonths: r.EveryMonths, NoticeDays: r.NoticeDays, Everybody: r.Everybody, Roles: r.Roles,
		Jobs: r.Jobs, Teams: r.Teams, Content: r.Content, KeepYears: r.KeepYears, Retired: r.Retired, At: r.At, ByID: r.ByID, ByName: r.ByName, Why: r.Why, Leaf: r.Leaf}
}

// itemEntryRow says that somebody had an item; it never changes.
type itemEntryRow struct {
	ID            string `gorm:"primaryKey"`
	ItemID        string
	ItemSeq       int
	PersonID      string
	OnDay         training.Day
	Job           string
	Trainer       string
	Qualification string
	Content       string
	Evidence      string
	Expires       training.Day
	Corrects      *string
	Why           string
	At            training.Instant
	ByID          string
	ByName        string
	Leaf          int64
}

func (itemEntryRow) TableName() string { return "item_entries" }

// endedEntryRow is an entry with what became of it.
type endedEntryRow struct {
	Row         itemEntryRow `gorm:"embedded"`
	End         endColumns   `gorm:"embedded"`
	CorrectedBy string
}

func (x endedEntryRow) entry() training.ItemEntry {
	r := x.Row
	e := training.ItemEntry{ID: r.ID, ItemID: r.ItemID, Version: r.ItemSeq, PersonID: r.PersonID, On: r.OnDay, Job: r.Job, Trainer: r.Trainer, Qualification: r.Qualification,
		Content: r.Content, Evidence: r.Evidence, Expires: r.Expires, Why: r.Why, At: r.At, ByID: r.ByID, ByName: r.ByName, Leaf: r.Leaf,
		CorrectedBy: x.CorrectedBy, End: x.End.end(training.ItemEntryLeaf, r.ID)}
	if r.Corrects != nil {
		e.Corrects = *r.Corrects
	}
	return e
}

// Items are all items as they are now, by title.
func (r reads) Items(ctx context.Context) ([]training.Item, error) {
	q := r.q(ctx).Where("seq = (SELECT MAX(seq) FROM item_versions v WHERE v.item_id = item_versions.item_id)").Order("title COLLATE NOCASE, item_id")
	return all(q, "items", itemVersionRow.item)
}

// ItemVersions are the versions of an item, oldest first.
func (r reads) ItemVersions(ctx context.Context, itemID string) ([]training.Item, error) {
	return all(r.q(ctx).Where("item_id = ?", itemID).Order("seq"), "versions of an item", itemVersionRow.item)
}

// ItemVersionsAt are those that say they are of these leaves.
func (r reads) ItemVersionsAt(ctx context.Context, leaves []int64) ([]training.Item, error) {
	return all(r.q(ctx).Where("leaf IN (SELECT value FROM json_each(?))", numbers(leaves)), "versions of items", itemVersionRow.item)
}

// ItemEntries are entries, the latest day first.
func (r reads) ItemEntries(ctx context.Context, q training.ItemEntryQuery) ([]training.ItemEntry, error) {
	db := r.q(ctx)
	for column, value := range map[string]string{"id": q.ID, "item_id": q.ItemID, "person_id": q.PersonID, "corrects": q.Corrects} {
		if value != "" {
			db = db.Where("item_entries."+column+" = ?", value)
		}
	}
	if q.Since != "" {
		db = db.Where("item_entries.on_day >= ?", q.Since)
	}
	return r.entries(db)
}

// ItemEntriesAt are those that say they are of these leaves.
func (r reads) ItemEntriesAt(ctx context.Context, leaves []int64) ([]training.ItemEntry, error) {
	return r.entries(r.q(ctx).Where("item_entries.leaf IN (SELECT value FROM json_each(?))", numbers(leaves)))
}

func (r reads) entries(q *gorm.DB) ([]training.ItemEntry, error) {
	db := q.Table("item_entries").Joins("LEFT JOIN item_ends x ON x.entry_id = item_entries.id").Joins("LEFT JOIN item_entries c ON c.corrects = item_entries.id").
		Select("item_entries.*, COALESCE(c.id, '') AS corrected_by, " + endSelect).Order("item_entries.on_day DESC, item_entries.leaf DESC")
	return all(db, "entries", endedEntryRow.entry)
}

func (u unit) AddItemVersion(ctx context.Context, i training.Item) error {
	return add(u.q(ctx), "version of an item", itemVersionRow{ItemID: i.ID, Seq: i.Seq, Title: i.Title, EveryMonths: i.EveryMonths, NoticeDays: i.NoticeDays, Everybody: i.Everybody,
		Roles: i.Roles, Jobs: i.Jobs, Teams: i.Teams, Content: i.Content, KeepYears: i.KeepYears, Retired: i.Retired, At: i.At, ByID: i.ByID, ByName: i.ByName, Why: i.Why, Leaf: i.Leaf})
}

func (u unit) AddItemEntry(ctx context.Context, e training.ItemEntry) error {
	row := itemEntryRow{ID: e.ID, ItemID: e.ItemID, ItemSeq: e.Version, PersonID: e.PersonID, OnDay: e.On, Job: e.Job, Trainer: e.Trainer, Qualification: e.Qualification,
		Content: e.Content, Evidence: e.Evidence, Expires: e.Expires, Why: e.Why, At: e.At, ByID: e.ByID, ByName: e.ByName, Leaf: e.Leaf}
	if e.Corrects != "" {
		row.Corrects = &e.Corrects
	}
	return add(u.q(ctx), "entry", row)
}

// entryEndRow says that an entry of a list was withdrawn.
type entryEndRow struct {
	Leaf    int64 `gorm:"primaryKey;autoIncrement:false"`
	EntryID string
	At      training.Instant
	ByID    string
	ByName  string
	Why     string
}

// endTables hold the ends of entries, by what they are of.
var endTables = map[training.LeafKind]string{training.ItemEntryLeaf: "item_ends", training.EarlierLeaf: "earlier_ends"}

func (r entryEndRow) end(of training.LeafKind) training.End {
	return training.End{Of: of, Record: r.EntryID, At: r.At, ByID: r.ByID, ByName: r.ByName, Why: r.Why, Leaf: r.Leaf}
}
