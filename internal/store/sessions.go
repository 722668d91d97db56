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
}

func (sessionRow) TableName() string { return "sessions" }

func (r reads) Session(ctx context.Context, idHash string) (training.Session, error) {
	row, err := one[sessionRow](r.q(ctx).Where("id_hash = ?", idHash), "session")
	return training.Session{IDHash: row.IDHash, PersonID: row.PersonID, CreatedAt: row.BeganAt, LastSeen: row.LastSeen}, err
}

func (u unit) OpenSession(ctx context.Context, n training.Session) error {
	return add(u.q(ctx), "session", sessionRow{IDHash: n.IDHash, PersonID: n.PersonID, BeganAt: n.CreatedAt, LastSeen: n.LastSeen})
}

func (u unit) SeeSession(ctx context.Context, idHash string, at training.Instant) error {
	return changed(u.q(ctx).Model(&sessionRow{}).Where("id_hash = ?", idHash).
		Updates(map[string]any{"last_seen": at}), "session", training.ErrNotFound)
}

func (u unit) EndSession(ctx context.Context, idHash string) error {
	return u.endSessions(ctx, "id_hash = ?", idHash)
}

func (u unit) EndSessions(ctx context.Context, personID, but string) error {
	return u.endSessions(ctx, "person_id = ? AND id_hash <> ?", personID, but)
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
	NameHash string `gorm:"primaryKey"`
	Failures int
	LastAt   training.Instant
}

func (triesRow) TableName() string { return "tries" }

func (r reads) Tries(ctx context.Context, nameHash string) (training.Tries, error) {
	row, err := one[triesRow](r.q(ctx).Where("name_hash = ?", nameHash), "tries")
	if errors.Is(err, training.ErrNotFound) {
		return training.Tries{}, nil
	}
	return training.Tries{Failures: row.Failures, Last: row.LastAt}, err
}

func (u unit) SetTries(ctx context.Context, nameHash string, t training.Tries) error {
	var err error
	if t.Failures == 0 {
		err = u.q(ctx).Where("name_hash = ?", nameHash).Delete(&triesRow{}).Error
	} else {
		row := triesRow{NameHash: nameHash, Failures: t.Failures, LastAt: t.Last}
		err = u.q(ctx).Clauses(clause.OnConflict{UpdateAll: true}).Create(&row).Error
	}
	if err != nil {
		return fmt.Errorf("count tries: %w", err)
	}
	return nil
}

func (u unit) ForgetTriesBefore(ctx context.Context, last training.Instant, failuresBelow int) error {
	err := u.q(ctx).Where("last_at < ? AND failures < ?", last, failuresBelow).Delete(&triesRow{}).Error
	if err != nil {
		return fmt.Errorf("forget tries: %w", err)
	}
	return nil
}
