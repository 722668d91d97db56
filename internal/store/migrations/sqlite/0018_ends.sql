-- +goose Up
-- What was signed stays as it was signed. That it holds no longer is a record of its own:
-- a sign-off that was given in error, or an entitlement that ends before its last day.

INSERT INTO leaf_kinds (word) VALUES ('end');

CREATE TABLE record_ends (
    leaf           INTEGER NOT NULL PRIMARY KEY REFERENCES record_leaves (leaf),
    sign_off_id    TEXT UNIQUE REFERENCES sign_offs (id),
    entitlement_id TEXT UNIQUE REFERENCES entitlements (id),
    at             TEXT NOT NULL CHECK (at GLOB '????-??-??T??:??:??.???Z'),
    by_id          TEXT NOT NULL REFERENCES people (id),
    by_name        TEXT NOT NULL CHECK (by_name <> ''),
    why            TEXT NOT NULL CHECK (why <> ''),
    CONSTRAINT ends_one_record CHECK ((sign_off_id IS NULL) <> (entitlement_id IS NULL))
) STRICT;

-- +goose StatementBegin
CREATE TRIGGER record_ends_kept BEFORE UPDATE ON record_ends
BEGIN SELECT RAISE(ABORT, 'that a record holds no longer is kept'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER record_ends_stay BEFORE DELETE ON record_ends
BEGIN SELECT RAISE(ABORT, 'that a record holds no longer is kept'); END;
-- +goose StatementEnd
