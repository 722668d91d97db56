-- +goose Up
-- How many station observations a month the clinic wants to make, in versions that never
-- change; before the first the program's own starting value holds.

INSERT INTO leaf_kinds (word) VALUES ('observation-target');

CREATE TABLE observation_targets (
    seq     INTEGER NOT NULL PRIMARY KEY CHECK (seq >= 1),
    monthly INTEGER NOT NULL CHECK (monthly BETWEEN 0 AND 500),
    at      TEXT NOT NULL CHECK (at GLOB '????-??-??T??:??:??.???Z'),
    by_id   TEXT NOT NULL REFERENCES people (id),
    by_name TEXT NOT NULL CHECK (by_name <> ''),
    why     TEXT NOT NULL CHECK (why <> ''),
    leaf    INTEGER NOT NULL UNIQUE REFERENCES record_leaves (leaf)
) STRICT;

-- +goose StatementBegin
CREATE TRIGGER observation_targets_in_turn BEFORE INSERT ON observation_targets
WHEN NEW.seq IS NOT (SELECT COALESCE(MAX(seq), 0) + 1 FROM observation_targets)
BEGIN SELECT RAISE(ABORT, 'targets of a month come one after the other'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER observation_targets_kept BEFORE UPDATE ON observation_targets
BEGIN SELECT RAISE(ABORT, 'targets of a month are kept'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER observation_targets_stay BEFORE DELETE ON observation_targets
BEGIN SELECT RAISE(ABORT, 'targets of a month are kept'); END;
-- +goose StatementEnd

-- A month of observations is found without a look at any other work.
CREATE INDEX demonstrations_routine ON demonstrations (started_at) WHERE purpose = 'routine';
