package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"

	"gorm.io/gorm"
	"gorm.io/gorm/clause"

	"stillwet/internal/training"
)

type personRow struct {
	ID        string `gorm:"primaryKey"`
	Name      string
	StaffNo   string
	Role      training.Role
	Also      training.Roles
	Job       string
	Team      string
	Email     string
	Hired     training.Day
	LeftOn    training.Day
	AddedAt   training.Instant
	SeesToday int             // 0 or 1, so that what somebody put there beside the program can be read and told
	Earlier   training.Spells `gorm:"->"`
}

func (personRow) TableName() string { return "people" }

func (r personRow) person() training.Person {
	return training.Person{ID: r.ID, Name: r.Name, StaffNo: r.StaffNo, Role: r.Role, Also: r.Also, Job: r.Job, Team: r.Team, Email: r.Email,
		Hired: r.Hired, Left: r.LeftOn, Earlier: r.Earlier, SeesToday: r.SeesToday != 0}
}

func zeroOne(is bool) int {
	if is {
		return 1
	}
	return 0
}

// people asks for people with their earlier spells.
func (r reads) people(ctx context.Context) *gorm.DB {
	return r.q(ctx).Select("people.*, " + earlierSQL)
}

// earlierSQL is somebody's spells that are over, as training.Spells has them.
const earlierSQL = `COALESCE((SELECT group_concat(s.hired || '/' || s.left_on, ' ' ORDER BY s.hired)
	FROM employment_spells s WHERE s.person_id = people.id), '') AS earlier`

func (r reads) Person(ctx context.Context, id string) (training.Person, error) {
	row, err := one[personRow](r.people(ctx).Where("id = ?", id), "person")
	return row.person(), err
}

// People reads row by row: there are many, on every page of a large clinic.
func (r reads) People(ctx context.Context) (all []training.Person, err error) {
	rows, err := r.people(ctx).Select("id, name, staff_no, role, also, job, team, email, hired, left_on, sees_today, " + earlierSQL).Model(&personRow{}).
		Order("name COLLATE NOCASE, id").Rows()
	if err != nil {
		return nil, fmt.Errorf("read people: %w", err)
	}
	for rows.Next() && err == nil {
		var p training.Person
		var today int
		err = rows.Scan(&p.ID, &p.Name, &p.StaffNo, (*string)(&p.Role), (*string)(&p.Also), &p.Job, &p.Team, &p.Email, (*string)(&p.Hired), (*string)(&p.Left), &today, (*string)(&p.Earlier))
		p.SeesToday = today != 0
		all = append(all, p)
	}
	if err = errors.Join(err, rows.Err(), rows.Close()); err != nil {
		return nil, fmt.Errorf("read people: %w", err)
	}
	return all, nil
}

func (r reads) PeopleOf(ctx context.Context, ids []string) ([]training.Person, error) {
	return all(r.people(ctx).Where("id IN (SELECT value FROM json_each(?))", list(ids)), "people", personRow.person)
}

func (r reads) EducatorsBut(ctx context.Context, day training.Day, ids ...string) (int, error) {
	var n int64
	err := r.q(ctx).Model(&personRow{}).Where("(role = @role OR instr(' ' || also || ' ', ' ' || @role || ' ') > 0) AND id NOT IN (SELECT value FROM json_each(@but))",
		sql.Named("role", string(training.Educator)), sql.Named("but", list(ids))).
		Where("(left_on = '' OR left_on >= @day) AND (hired <= @day OR NOT EXISTS (SELECT 1 FROM employment_spells s WHERE s.person_id = people.id))", sql.Named("day", string(day))).
		Where("EXISTS (SELECT 1 FROM accounts a WHERE a.person_id = people.id AND NOT a.disabled)").Count(&n).Error
	if err != nil {
		return 0, fmt.Errorf("count educators: %w", err)
	}
	return int(n), nil
}

func (u unit) AddPerson(ctx context.Context, p training.Person, at training.Instant) error {
	err := add(u.q(ctx), "this staff number", personRow{ID: p.ID, Name: p.Name, StaffNo: p.StaffNo, Role: p.Role, Also: p.Also, Job: p.Job, Team: p.Team, Email: p.Email,
		Hired: p.Hired, LeftOn: p.Left, AddedAt: at, SeesToday: zeroOne(p.SeesToday)})
	return errors.Join(err, u.addSpells(ctx, p))
}

func (u unit) SavePerson(ctx context.Context, p training.Person) error {
	err := changed(u.q(ctx).Model(&personRow{}).Where("id = ?", p.ID).
		Updates(map[string]any{"name": p.Name, "staff_no": p.StaffNo, "role": p.Role, "also": p.Also, "job": p.Job, "team": p.Team, "email": p.Email,
			"hired": p.Hired, "left_on": p.Left, "sees_today": zeroOne(p.SeesToday)}), "this staff number", training.ErrNotFound)
	return errors.Join(err, u.addSpells(ctx, p))
}

type spellRow struct {
	PersonID string       `gorm:"primaryKey"`
	Hired    training.Day `gorm:"primaryKey"`
	LeftOn   training.Day
}

func (spellRow) TableName() string { return "employment_spells" }

// addSpells keeps those of a person's earlier spells that are not kept yet.
func (u unit) addSpells(ctx context.Context, p training.Person) error {
	for _, s := range p.Earlier.All() {
		err := u.q(ctx).Clauses(clause.OnConflict{DoNothing: true}).Create(&spellRow{p.ID, s.Hired, s.Left}).Error
		if err != nil {
			return fmt.Errorf("keep a spell of employment: %w", err)
		}
	}
	return nil
}

type accountRow struct {
	PersonID     string `gorm:"primaryKey"`
	Username     string
	PasswordHash string
	FirstUntil   training.Instant
	Disabled     bool
	ResetBy      string
	ResetAt      training.Instant
	Generation   int
}

func (accountRow) TableName() string { return "accounts" }

func (r accountRow) account() training.Account {
	return training.Account{PersonID: r.PersonID, Username: r.Username, PasswordHash: r.PasswordHash, FirstUntil: r.FirstUntil, Disabled: r.Disabled,
		ResetBy: r.ResetBy, ResetAt: r.ResetAt, Generation: r.Generation}
}

func (r reads) AccountOf(ctx context.Context, personID string) (training.Account, error) {
	row, err := one[accountRow](r.q(ctx).Where("person_id = ?", personID), "account")
	return row.account(), err
}

func (r reads) AccountNamed(ctx context.Context, username string) (training.Account, error) {
	row, err := one[accountRow](r.q(ctx).Where("username = ?", username), "account")
	return row.account(), err
}

func (r reads) ClosedAccounts(ctx context.Context) ([]string, error) {
	return all(r.q(ctx).Select("person_id").Where("disabled"), "closed accounts", func(a accountRow) string { return a.PersonID })
}

func (u unit) AddAccount(ctx context.Context, a training.Account) error {
	return add(u.q(ctx), "this username", accountRow{PersonID: a.PersonID, Username: a.Username,
		PasswordHash: a.PasswordHash, FirstUntil: a.FirstUntil, Disabled: a.Disabled})
}

func (u unit) SetPassword(ctx context.Context, personID, hash string, firstUntil training.Instant) error {
	return changed(u.q(ctx).Model(&accountRow{}).Where("person_id = ?", personID).
		Updates(map[string]any{"password_hash": hash, "first_until": firstUntil, "generation": nextGeneration}), "account", training.ErrNotFound)
}

func (u unit) SetDisabled(ctx context.Context, personID string, disabled bool) error {
	return changed(u.q(ctx).Model(&accountRow{}).Where("person_id = ?", personID).
		Updates(map[string]any{"disabled": disabled, "generation": nextGeneration}), "account", training.ErrNotFound)
}

func (u unit) SetReset(ctx context.Context, personID, by string, at training.Instant) error {
	return changed(u.q(ctx).Model(&accountRow{}).Where("person_id = ?", personID).
		Updates(map[string]any{"reset_by": by, "reset_at": at}), "account", training.ErrNotFound)
}

// nextGeneration voids what was sealed for an account as it was.
var nextGeneration = gorm.Expr("generation + 1")

type entitlementRow struct {
	ID                string `gorm:"primaryKey"`
	PersonID          string
	Competency        string
	FromDay, UntilDay training.Day
	GrantedBy         string
	GrantedAt         training.Instant
	MayWatch          bool
	MaySignOff        bool
	Credential        string
	Founding          string
	Approval          training.ApprovalHow
	ApproverID        string
	Approver          string
	ApproverRole      string
	ApprovedOn        training.Day
	ApprovalAt        string
}

func (entitlementRow) TableName() string { return "entitlements" }

func (r entitlementRow) entitlement() training.Entitlement {
	return training.Entitlement{ID: r.ID, PersonID: r.PersonID, Competency: r.Competency, From: r.FromDay, Until: r.UntilDay, GrantedBy: r.GrantedBy,
		Watch: r.MayWatch, SignOff: r.MaySignOff, Credential: r.Credential, Founding: r.Founding,
		Approval: training.Approval{How: r.Approval, ByID: r.ApproverID, By: r.Approver, Role: r.ApproverRole, On: r.ApprovedOn, Where: r.ApprovalAt}}
}

// endedEntitlementRow is an entitlement with its end.
type endedEntitlementRow struct {
	Row entitlementRow `gorm:"embedded"`
	End endColumns     `gorm:"embedded"`
}

func (r endedEntitlementRow) entitlement() training.Entitlement {
	e := r.Row.entitlement()
	e.End = r.End.end(training.EntitlementLeaf, e.ID)
	return e
}

func (r reads) Entitlements(ctx context.Context, personID string) ([]training.Entitlement, error) {
	q := withEnds(r.q(ctx), "entitlements", "entitlement_id").Order("granted_at, id")
	if personID != "" {
		q = q.Where("person_id = ?", personID)
	}
	return all(q, "entitlements", endedEntitlementRow.entitlement)
}

func (u unit) AddEntitlement(ctx context.Context, e training.Entitlement, at training.Instant) error {
	return add(u.q(ctx), "entitlement", entitlementRow{ID: e.ID, PersonID: e.PersonID, Competency: e.Competency,
		FromDay: e.From, UntilDay: e.Until, GrantedBy: e.GrantedBy, GrantedAt: at,
		MayWatch: e.Watch, MaySignOff: e.SignOff, Credential: e.Credential, Founding: e.Founding, Approval: e.Approval.How,
		ApproverID: e.Approval.ByID, Approver: e.Approval.By, ApproverRole: e.Approval.Role, ApprovedOn: e.Approval.On, ApprovalAt: e.Approval.Where})
}

type keyRow struct {
	PersonID string `gorm:"primaryKey"`
	Key      string `gorm:"primaryKey"`
	Act      string
	BodyHash string
	AnswerID string
	DoneAt   training.Instant
}

func (keyRow) TableName() string { return "act_keys" }

func (r reads) ActKey(ctx context.Context, personID, key string) (training.ActKey, error) {
	row, err := one[keyRow](r.q(ctx).Where(&keyRow{PersonID: personID, Key: key}, "PersonID", "Key"), "key")
	return training.ActKey{PersonID: row.PersonID, Key: row.Key, Act: row.Act, BodyHash: row.BodyHash, AnswerID: row.AnswerID, At: row.DoneAt}, err
}

func (u unit) AddActKey(ctx context.Context, k training.ActKey) error {
	return add(u.q(ctx), "key", keyRow{PersonID: k.PersonID, Key: k.Key, Act: k.Act, BodyHash: k.BodyHash,
		AnswerID: k.AnswerID, DoneAt: k.At})
}

type firstRunRow struct {
	ID        int64 `gorm:"primaryKey;autoIncrement:false"`
	TokenHash string
	Until     training.Instant
	PersonID  string
}

func (firstRunRow) TableName() string { return "first_run" }

func (r reads) FirstRun(ctx context.Context) (training.FirstRun, error) {
	row, err := one[firstRunRow](r.q(ctx).Where("id = 1"), "first-run link")
	return training.FirstRun{TokenHash: row.TokenHash, Until: row.Until, PersonID: row.PersonID}, err
}

func (u unit) SetFirstRun(ctx context.Context, f training.FirstRun) error {
	row := firstRunRow{ID: 1, TokenHash: f.TokenHash, Until: f.Until, PersonID: f.PersonID}
	if err := u.q(ctx).Clauses(clause.OnConflict{UpdateAll: true}).Create(&row).Error; err != nil {
		return fmt.Errorf("keep the first-run link: %w", err)
	}
	return nil
}

func (u unit) EndFirstRun(ctx context.Context) error {
	if err := u.q(ctx).Where("id = 1").Delete(&firstRunRow{}).Error; err != nil {
		return fmt.Errorf("end the first-run link: %w", err)
	}
	return nil
}

type linkRow struct {
	PersonID  string `gorm:"primaryKey"`
	TokenHash string
	Until     training.Instant
	MadeBy    string
}

func (linkRow) TableName() string { return "account_links" }

func (r linkRow) link() training.FirstRun {
	return training.FirstRun{TokenHash: r.TokenHash, Until: r.Until, PersonID: r.PersonID, MadeBy: r.MadeBy}
}

func (r reads) AccountLink(ctx context.Context, tokenHash string) (training.FirstRun, error) {
	row, err := one[linkRow](r.q(ctx).Where("token_hash = ?", tokenHash), "link")
	return row.link(), err
}

func (r reads) AccountLinks(ctx context.Context) ([]training.FirstRun, error) {
	return all(r.q(ctx).Order("person_id"), "links", linkRow.link)
}

func (u unit) SetAccountLink(ctx context.Context, f training.FirstRun) error {
	row := linkRow{f.PersonID, f.TokenHash, f.Until, f.MadeBy}
	if err := u.q(ctx).Clauses(clause.OnConflict{UpdateAll: true}).Create(&row).Error; err != nil {
		return fmt.Errorf("keep a link: %w", err)
	}
	return nil
}

func (u unit) EndAccountLink(ctx context.Context, personID string) error {
	if err := u.q(ctx).Where("person_id = ?", personID).Delete(&linkRow{}).Error; err != nil {
		return fmt.Errorf("end a link: %w", err)
	}
	return nil
}
