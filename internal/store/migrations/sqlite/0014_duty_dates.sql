-- +goose Up
-- A day by which something is to be done may be another later on, for a reason that is
-- kept: the day that was given first stays where it stands.

CREATE TABLE duty_dates (
    duty_id TEXT NOT NULL REFERENCES duties (id),
    seq     INTEGER NOT NULL CHECK (seq >= 1),
    due     TEXT NOT NULL CHECK (due GLOB '????-??-??'),
    at      TEXT NOT NULL CHECK (at GLOB '????-??-??T??:??:??.???Z'),
    by_id   TEXT NOT NULL REFERENCES people (id),
    by_name TEXT NOT NULL CHECK (by_name <> ''),
    why     TEXT NOT NULL CHECK (why <> ''),
    leaf    INTEGER NOT NULL UNIQUE REFERENCES record_leaves (leaf),
    PRIMARY KEY (duty_id, seq)
) STRICT;

-- +goose StatementBegin
CREATE TRIGGER duty_dates_follow BEFORE INSERT ON duty_dates
WHEN NEW.seq <> COALESCE((SELECT MAX(seq) FROM duty_dates WHERE duty_id = NEW.duty_id), 0) + 1
    OR EXISTS (SELECT 1 FROM duty_ends WHERE duty_id = NEW.duty_id)
BEGIN SELECT RAISE(ABORT, 'another day comes after the one before it, while it is to be done'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER duty_dates_kept BEFORE UPDATE ON duty_dates
BEGIN SELECT RAISE(ABORT, 'by which day it was to be done is kept'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER duty_dates_stay BEFORE DELETE ON duty_dates
BEGIN SELECT RAISE(ABORT, 'by which day it was to be done is kept'); END;
-- +goose StatementEnd
