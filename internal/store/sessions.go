package store

import (
	"context"
	"errors"
	"fmt"

	"gorm.io/gorm/clause"

	"stillwet/internal/training"
)

type sessionRow struct {
	IDHash   string `gorm:"primaryKey"`
	PersonID string
	BeganAt  training.Instant
	LastSeen training.Instant
	Browser  string
	ProvedAt training.Instant
	Handed   string
}

func (sessionRow) TableName() string { return "sessions" }

func (r sessionRow) session() training.Session {
	return training.Session{IDHash: r.IDHash, PersonID: r.PersonID, CreatedAt: r.BeganAt, LastSeen: r.LastSeen, Browser: r.Browser, ProvedAt: r.ProvedAt, Handed: r.Handed}
}

func (r reads) Session(ctx context.Context, idHash string) (training.Session, error) {
	row, err := one[sessionRow](r.q(ctx).Where("id_hash = ?", idHash), "session")
	return row.session(), err
}

func (r reads) SessionsOf(ctx context.Context, personID string) ([]training.Session, error) {
	return all(r.q(ctx).Where("person_id = ?", personID).Order("began_at DESC, id_hash"), "sessions", sessionRow.session)
}

func (u unit) OpenSession(ctx context.Context, n training.Session) error {
	return add(u.q(ctx), "session", sessionRow{IDHash: n.IDHash, PersonID: n.PersonID, BeganAt: n.CreatedAt, LastSeen: n.LastSeen,
		Browser: n.Browser, ProvedAt: n.ProvedAt, Handed: n.Handed})
}

func (u unit) SeeSession(ctx context.Context, idHash string, at training.Instant) error {
	return u.changeSession(ctx, idHash, "last_seen", at)
}

func (u unit) ProveSession(ctx context.Context, idHash string, at training.Instant) error {
	return u.changeSession(ctx, idHash, "proved_at", at)
}

func (u unit) HandSession(ctx context.Context, idHash, demonstrationID string) error {
	return u.changeSession(ctx, idHash, "handed", demonstrationID)
}

func (u unit) TakeBackSessions(ctx context.Context, demonstrationID string) error {
	if err := u.q(ctx).Model(&sessionRow{}).Where("handed = ?", demonstrationID).Updates(map[string]any{"handed": ""}).Error; err != nil {
		return fmt.Errorf("take back sessions: %w", err)
	}
	return nil
}

func (u unit) changeSession(ctx context.Context, idHash, column string, to any) error {
	return changed(u.q(ctx).Model(&sessionRow{}).Where("id_hash = ?", idHash).
		Updates(map[string]any{column: to}), "session", training.ErrNotFound)
}

func (u unit) EndSession(ctx context.Context, idHash string) error {
	return u.endSessions(ctx, "id_hash = ?", idHash)
}

func (u unit) EndSessions(ctx context.Context, personID, but string) error {
	return u.endSessions(ctx, "person_id = ? AND id_hash <> ?", personID, but)
}

func (u unit) EndOldestSessions(ctx context.Context, personID string, keep int) error {
	return u.endSessions(ctx, `person_id = ? AND id_hash NOT IN
		(SELECT id_hash FROM sessions WHERE person_id = ? ORDER BY began_at DESC, rowid DESC LIMIT ?)`, personID, personID, keep)
}

func (u unit) EndSessionsBefore(ctx context.Context, began training.Instant) error {
	return u.endSessions(ctx, "began_at < ?", began)
}

func (u unit) endSessions(ctx context.Context, where string, args ...any) error {
	if err := u.q(ctx).Where(where, args...).Delete(&sessionRow{}).Error; err != nil {
		return fmt.Errorf("end sessions: %w", err)
	}
	return nil
}

type triesRow struct {
	Lane     string `gorm:"primaryKey"`
	Failures int
	LastAt   training.Instant
}

func (triesRow) TableName() string { return "tries" }

func (r reads) Tries(ctx context.Context, lane string) (training.Tries, error) {
	row, err := one[triesRow](r.q(ctx).Where("lane = ?", lane), "tries")
	if errors.Is(err, training.ErrNotFound) {
		return training.Tries{}, nil
	}
	return training.Tries{Failures: row.Failures, Last: row.LastAt}, err
}

func (u unit) SetTries(ctx context.Context, lane string, t training.Tries) error {
	var err error
	if t.Failures == 0 {
		err = u.q(ctx).Where("lane = ?", lane).Delete(&triesRow{}).Error
	} else {
		row := triesRow{Lane: lane, Failures: t.Failures, LastAt: t.Last}
		err = u.q(ctx).Clauses(clause.OnConflict{UpdateAll: true}).Create(&row).Error
	}
	if err != nil {
		return fmt.Errorf("count tries: %w", err)
	}
	return nil
}

// SweepTries forgets what is old, and above a number of rows those with the
// fewest failures: a flood of new lanes drives out no lane that is being tried.
func (u unit) SweepTries(ctx context.Context, last training.Instant, most int) error {
	err := u.q(ctx).Where("last_at < ?", last).Delete(&triesRow{}).Error
	var rows int64
	if err == nil {
		err = u.q(ctx).Model(&triesRow{}).Count(&rows).Error
	}
	if over := int(rows) - most; err == nil && over > 0 {
		err = u.q(ctx).Where("lane IN (SELECT lane FROM tries ORDER BY failures, last_at LIMIT ?)", over).Delete(&triesRow{}).Error
	}
	if err != nil {
		return fmt.Errorf("forget tries: %w", err)
	}
	return nil
}

type doorSecretRow struct {
	ID     int64 `gorm:"primaryKey;autoIncrement:false"`
	Secret string
}

func (doorSecretRow) TableName() string { return "door_secret" }

func (r reads) DoorSecret(ctx context.Context) (string, error) {
	row, err := one[doorSecretRow](r.q(ctx).Where("id = 1"), "secret of the door")
	return row.Secret, err
}
