package store

import (
	"context"
	"database/sql"
	"fmt"
	"iter"
	"maps"
	"slices"

	"gorm.io/gorm/clause"

	"stillwet/internal/training"
)

type setVersionRow struct {
	Number  int `gorm:"primaryKey;autoIncrement:false"`
	Hash    string
	BasedOn int
	Origin  training.SetOrigin
	Why     string
	Edits   string
}

func (setVersionRow) TableName() string { return "set_versions" }

func (r setVersionRow) version() training.SetVersion {
	return training.SetVersion{Number: r.Number, Hash: r.Hash, BasedOn: r.BasedOn, Origin: r.Origin, Why: r.Why, Edits: r.Edits}
}

type setEventRow struct {
	Version      int `gorm:"primaryKey;autoIncrement:false"`
	Seq          int `gorm:"primaryKey;autoIncrement:false"`
	Event        training.SetEventKind
	At           training.Instant
	ByID         string
	ByName       string
	Why          string
	Approval     training.ApprovalHow
	ApproverID   string
	Approver     string
	ApproverRole string
	ApprovedOn   training.Day
	ApprovalAt   string
	InForceFrom  training.Day
	Leaf         int64
}

func (setEventRow) TableName() string { return "set_events" }

func (r setEventRow) event() training.SetEvent {
	return training.SetEvent{Version: r.Version, Seq: r.Seq, Event: r.Event, At: r.At, ByID: r.ByID, ByName: r.ByName, Why: r.Why, From: r.InForceFrom, Leaf: r.Leaf,
		Approval: training.Approval{How: r.Approval, ByID: r.ApproverID, By: r.Approver, Role: r.ApproverRole, On: r.ApprovedOn, Where: r.ApprovalAt}}
}

type setFileRow struct {
	Hash  string `gorm:"primaryKey"`
	Bytes []byte
}

func (setFileRow) TableName() string { return "set_files" }

type setVersionFileRow struct {
	Version int    `gorm:"primaryKey;autoIncrement:false"`
	Name    string `gorm:"primaryKey"`
	Hash    string
}

func (setVersionFileRow) TableName() string { return "set_version_files" }

type setDraftRow struct {
	ID        int `gorm:"primaryKey;autoIncrement:false"`
	Open      bool
	Base      int
	Revision  int
	Origin    training.SetOrigin
	Edits     string
	UpdatedAt training.Instant `gorm:"autoUpdateTime:false"`
	ByID      string
	ByName    string
}

func (setDraftRow) TableName() string { return "set_draft" }

func (r setDraftRow) draft() training.SetDraft {
	return training.SetDraft{Open: r.Open, Base: r.Base, Revision: r.Revision, Origin: r.Origin, Edits: r.Edits, UpdatedAt: r.UpdatedAt, ByID: r.ByID, ByName: r.ByName}
}

// namedFileRow is a file by its name.
type namedFileRow struct {
	Name  string `gorm:"primaryKey"`
	Bytes []byte
}

func (namedFileRow) TableName() string { return "set_draft_files" }

// SetVersions are all versions, oldest first, with what became of each.
func (r reads) SetVersions(ctx context.Context) ([]training.SetVersion, error) {
	versions, err := all(r.q(ctx).Order("number"), "versions of the set", setVersionRow.version)
	if err != nil {
		return nil, err
	}
	events, err := all(r.q(ctx).Order("version, seq"), "what became of versions", setEventRow.event)
	of := map[int][]training.SetEvent{}
	for _, e := range events {
		of[e.Version] = append(of[e.Version], e)
	}
	for i := range versions {
		versions[i].Events = of[versions[i].Number]
	}
	return versions, err
}

// SetFiles are the files of a version by their names.
func (r reads) SetFiles(ctx context.Context, version int) (map[string][]byte, error) {
	var rows []namedFileRow
	err := r.q(ctx).Raw("SELECT v.name, f.bytes FROM set_version_files v JOIN set_files f ON f.hash = v.hash WHERE v.version = ?", version).Scan(&rows).Error
	switch {
	case err != nil:
		return nil, fmt.Errorf("read files of the set: %w", err)
	case len(rows) == 0:
		return nil, fmt.Errorf("version %d of the set: %w", version, training.ErrNotFound)
	}
	return byName(rows), nil
}

func byName(rows []namedFileRow) map[string][]byte {
	files := make(map[string][]byte, len(rows))
	for _, row := range rows {
		files[row.Name] = row.Bytes
	}
	return files
}

// SetDraft is the one draft with its files.
func (r reads) SetDraft(ctx context.Context) (training.SetDraft, error) {
	row, err := one[setDraftRow](r.q(ctx), "draft of the set")
	if err != nil {
		return training.SetDraft{}, err
	}
	var files []namedFileRow
	if err := r.q(ctx).Find(&files).Error; err != nil {
		return training.SetDraft{}, fmt.Errorf("read files of the draft: %w", err)
	}
	d := row.draft()
	if d.Open {
		d.Files = byName(files)
	}
	return d, nil
}

// SetNames are the hashes of files by version and name.
func (r reads) SetNames(ctx context.Context) (map[int]map[string]string, error) {
	var rows []setVersionFileRow
	if err := r.q(ctx).Find(&rows).Error; err != nil {
		return nil, fmt.Errorf("read names of files: %w", err)
	}
	of := map[int]map[string]string{}
	for _, row := range rows {
		if of[row.Version] == nil {
			of[row.Version] = map[string]string{}
		}
		of[row.Version][row.Name] = row.Hash
	}
	return of, nil
}

// SetContents is every kept file, one after another.
func (r reads) SetContents(ctx context.Context) iter.Seq2[training.SetFile, error] {
	return each(r.q(ctx).Raw("SELECT hash, bytes FROM set_files ORDER BY hash"), "files of sets", func(rows *sql.Rows) (f training.SetFile, err error) {
		err = rows.Scan(&f.Hash, &f.Bytes)
		return f, err
	})
}

// AddSetVersion keeps a version and those of its files that no earlier one had.
func (u unit) AddSetVersion(ctx context.Context, v training.SetVersion, files []training.SetFile) error {
	row := setVersionRow{v.Number, v.Hash, v.BasedOn, v.Origin, v.Why, v.Edits}
	if err := add(u.q(ctx), fmt.Sprintf("version %d of the set", v.Number), row); err != nil {
		return err
	}
	for _, f := range files {
		kept := setFileRow{f.Hash, bytesOf(f.Bytes)}
		if err := add(u.q(ctx).Clauses(clause.OnConflict{DoNothing: true}), "file of a set", kept); err != nil {
			return err
		}
		if err := add(u.q(ctx), "file of a version", setVersionFileRow{v.Number, f.Name, f.Hash}); err != nil {
			return err
		}
	}
	return nil
}

// bytesOf is never NULL, also of an empty file.
func bytesOf(text []byte) []byte {
	if text == nil {
		return []byte{}
	}
	return text
}

func (u unit) AddSetEvent(ctx context.Context, e training.SetEvent) error {
	a := e.Approval
	return add(u.q(ctx), "event of the set", setEventRow{e.Version, e.Seq, e.Event, e.At, e.ByID, e.ByName, e.Why, a.How, a.ByID, a.By, a.Role, a.On, a.Where, e.From, e.Leaf})
}

// SaveSetDraft writes the draft and those of its files that differ from what is there.
func (u unit) SaveSetDraft(ctx context.Context, d training.SetDraft, was int) error {
	row := setDraftRow{1, d.Open, d.Base, d.Revision, d.Origin, d.Edits, d.UpdatedAt, d.ByID, d.ByName}
	var err error
	if was == 0 {
		err = add(u.q(ctx), "draft of the set", row)
	} else {
		err = changed(u.q(ctx).Model(&setDraftRow{}).Where("id = 1 AND revision = ?", was).Select("*").UpdateColumns(row),
			"the draft has changed since", training.ErrConflict)
	}
	if err != nil {
		return err
	}
	names := slices.Sorted(maps.Keys(d.Files))
	if err := u.q(ctx).Where("name NOT IN (SELECT value FROM json_each(?))", list(names)).Delete(&namedFileRow{}).Error; err != nil {
		return fmt.Errorf("change the draft: %w", err)
	}
	for _, name := range names {
		over := clause.OnConflict{Columns: []clause.Column{{Name: "name"}}, DoUpdates: clause.AssignmentColumns([]string{"bytes"}),
			Where: clause.Where{Exprs: []clause.Expression{clause.Expr{SQL: "set_draft_files.bytes <> excluded.bytes"}}}}
		if err := add(u.q(ctx).Clauses(over), "file of the draft", namedFileRow{name, bytesOf(d.Files[name])}); err != nil {
			return err
		}
	}
	return nil
}
