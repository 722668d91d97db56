-- +goose Up
-- Sign-offs from before this program, from paper or another list. A batch counts once an
-- educator has read and signed it: its leaf holds all of it. What waits for that is a draft.

INSERT INTO leaf_kinds (word) VALUES ('earlier');

CREATE TABLE earlier_drafts (
    id      TEXT NOT NULL PRIMARY KEY CHECK (id <> ''),
    at      TEXT NOT NULL CHECK (at GLOB '????-??-??T??:??:??.???Z'),
    by_name TEXT NOT NULL,
    lines   TEXT NOT NULL CHECK (json_valid(lines))
) STRICT;

CREATE TABLE earlier_batches (
    id      TEXT NOT NULL PRIMARY KEY CHECK (id <> ''),
    at      TEXT NOT NULL CHECK (at GLOB '????-??-??T??:??:??.???Z'),
    by_id   TEXT NOT NULL REFERENCES people (id),
    by_name TEXT NOT NULL CHECK (by_name <> ''),
    leaf    INTEGER NOT NULL UNIQUE REFERENCES record_leaves (leaf)
) STRICT;

CREATE TABLE earlier_sign_offs (
    id           TEXT NOT NULL PRIMARY KEY CHECK (id <> ''),
    batch_id     TEXT NOT NULL REFERENCES earlier_batches (id),
    n            INTEGER NOT NULL CHECK (n >= 1),
    person_id    TEXT NOT NULL REFERENCES people (id),
    name         TEXT NOT NULL CHECK (name <> ''),
    staff_no     TEXT NOT NULL,
    competency   TEXT NOT NULL CHECK (competency <> ''),
    on_day       TEXT NOT NULL CHECK (on_day GLOB '????-??-??'),
    counts_at    TEXT NOT NULL CHECK (counts_at GLOB '????-??-??T??:??:??.???Z'),
    due          TEXT NOT NULL CHECK (due GLOB '????-??-??' AND due >= on_day),
    requirements INTEGER NOT NULL CHECK (requirements >= 0),
    signed_by    TEXT NOT NULL CHECK (signed_by <> ''),
    evidence     TEXT NOT NULL CHECK (evidence <> ''),
    site         TEXT NOT NULL,
    shown_here   INTEGER NOT NULL CHECK (shown_here IN (0, 1)),
    corrects     TEXT UNIQUE REFERENCES earlier_sign_offs (id),
    why          TEXT NOT NULL,
    UNIQUE (batch_id, n),
    CONSTRAINT what_stands_for_it_says_why CHECK (corrects IS NULL OR why <> '' AND corrects <> id),
    CONSTRAINT elsewhere_has_a_name CHECK (shown_here = 1 OR site <> '')
) STRICT;
CREATE INDEX earlier_sign_offs_person ON earlier_sign_offs (person_id, competency, counts_at);

CREATE TABLE earlier_ends (
    leaf     INTEGER NOT NULL PRIMARY KEY REFERENCES record_leaves (leaf),
    entry_id TEXT NOT NULL UNIQUE REFERENCES earlier_sign_offs (id),
    at       TEXT NOT NULL CHECK (at GLOB '????-??-??T??:??:??.???Z'),
    by_id    TEXT NOT NULL REFERENCES people (id),
    by_name  TEXT NOT NULL CHECK (by_name <> ''),
    why      TEXT NOT NULL CHECK (why <> '')
) STRICT;

-- +goose StatementBegin
CREATE TRIGGER earlier_batches_kept BEFORE UPDATE ON earlier_batches
BEGIN SELECT RAISE(ABORT, 'a confirmed batch is kept'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER earlier_batches_stay BEFORE DELETE ON earlier_batches
BEGIN SELECT RAISE(ABORT, 'a confirmed batch is kept'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER earlier_sign_offs_kept BEFORE UPDATE ON earlier_sign_offs
BEGIN SELECT RAISE(ABORT, 'an earlier sign-off is kept'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER earlier_sign_offs_stay BEFORE DELETE ON earlier_sign_offs
BEGIN SELECT RAISE(ABORT, 'an earlier sign-off is kept'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER earlier_ends_kept BEFORE UPDATE ON earlier_ends
BEGIN SELECT RAISE(ABORT, 'that an earlier sign-off holds no longer is kept'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER earlier_ends_stay BEFORE DELETE ON earlier_ends
BEGIN SELECT RAISE(ABORT, 'that an earlier sign-off holds no longer is kept'); END;
-- +goose StatementEnd
