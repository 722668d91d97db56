-- +goose Up
-- What each leaf of the ledger is of, and everyone named in it as they stood when
-- it was signed. Entitlements say what they allow, on what they rest and who
-- approved them; accounts say who last gave them a first password.

CREATE TABLE leaf_kinds (word TEXT NOT NULL PRIMARY KEY CHECK (word <> '')) STRICT;
INSERT INTO leaf_kinds (word) VALUES ('signature'), ('sign-off'), ('attempt'), ('demonstration'), ('person'), ('account'),
    ('entitlement'), ('requirements'), ('clock'), ('baseline');

CREATE TABLE record_leaves (
    leaf         INTEGER NOT NULL PRIMARY KEY REFERENCES ledger_leaves (i),
    version      INTEGER NOT NULL CHECK (version >= 1),
    kind         TEXT NOT NULL REFERENCES leaf_kinds (word),
    record       TEXT NOT NULL CHECK (record <> ''),
    at           TEXT NOT NULL CHECK (at GLOB '????-??-??T??:??:??.???Z'),
    clock_behind INTEGER NOT NULL CHECK (clock_behind IN (0, 1))
) STRICT;
INSERT INTO record_leaves (leaf, version, kind, record, at, clock_behind)
    SELECT leaf, 1, 'signature', demonstration_id, signed_at, 0 FROM signatures;
INSERT INTO record_leaves (leaf, version, kind, record, at, clock_behind)
    SELECT leaf, 1, 'sign-off', id, signed_at, 0 FROM sign_offs;

CREATE INDEX record_leaves_record ON record_leaves (kind, record);
CREATE INDEX record_leaves_at ON record_leaves (at);

CREATE TABLE signed_people (
    leaf       INTEGER NOT NULL REFERENCES record_leaves (leaf),
    part       TEXT NOT NULL CHECK (part <> ''),
    person_id  TEXT NOT NULL,
    name       TEXT NOT NULL,
    staff_no   TEXT NOT NULL,
    credential TEXT NOT NULL,
    at         TEXT NOT NULL CHECK (at = '' OR at GLOB '????-??-??T??:??:??.???Z'),
    PRIMARY KEY (leaf, part)
) STRICT;

-- +goose StatementBegin
CREATE TRIGGER record_leaves_kept BEFORE UPDATE ON record_leaves
BEGIN SELECT RAISE(ABORT, 'what a leaf is of is kept'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER record_leaves_stay BEFORE DELETE ON record_leaves
BEGIN SELECT RAISE(ABORT, 'what a leaf is of is kept'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER signed_people_kept BEFORE UPDATE ON signed_people
BEGIN SELECT RAISE(ABORT, 'who was named in a signed record is kept'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER signed_people_stay BEFORE DELETE ON signed_people
BEGIN SELECT RAISE(ABORT, 'who was named in a signed record is kept'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER leaf_kinds_kept BEFORE UPDATE ON leaf_kinds
BEGIN SELECT RAISE(ABORT, 'words are kept'); END;
-- +goose StatementEnd

-- An entitlement of before allowed both, on nobody's word but that of who gave it.
ALTER TABLE entitlements ADD COLUMN may_watch INTEGER NOT NULL DEFAULT 1 CHECK (may_watch IN (0, 1));
ALTER TABLE entitlements ADD COLUMN may_sign_off INTEGER NOT NULL DEFAULT 1 CHECK (may_sign_off IN (0, 1));
ALTER TABLE entitlements ADD COLUMN credential TEXT NOT NULL DEFAULT '';
ALTER TABLE entitlements ADD COLUMN founding TEXT NOT NULL DEFAULT '';
ALTER TABLE entitlements ADD COLUMN approval TEXT NOT NULL DEFAULT '' CHECK (approval IN ('', 'here', 'paper', 'alone'));
ALTER TABLE entitlements ADD COLUMN approver_id TEXT NOT NULL DEFAULT '';
ALTER TABLE entitlements ADD COLUMN approver TEXT NOT NULL DEFAULT '';
ALTER TABLE entitlements ADD COLUMN approver_role TEXT NOT NULL DEFAULT '';
ALTER TABLE entitlements ADD COLUMN approved_on TEXT NOT NULL DEFAULT '' CHECK (approved_on = '' OR approved_on GLOB '????-??-??');
ALTER TABLE entitlements ADD COLUMN approval_at TEXT NOT NULL DEFAULT '';

ALTER TABLE accounts ADD COLUMN reset_by TEXT NOT NULL DEFAULT '';
ALTER TABLE accounts ADD COLUMN reset_at TEXT NOT NULL DEFAULT '' CHECK (reset_at = '' OR reset_at GLOB '????-??-??T??:??:??.???Z');

-- A one-time link of an account that is there already, made by whoever owns the folder.
ALTER TABLE first_run ADD COLUMN person_id TEXT NOT NULL DEFAULT '';
