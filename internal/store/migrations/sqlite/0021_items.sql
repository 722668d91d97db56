-- +goose Up
-- Other annual items, by date and evidence only. What an item asks for is kept in versions,
-- each entry stays as it was signed; that it was corrected is another entry, that it holds no
-- longer a record of its own. None of them holds health data.

INSERT INTO leaf_kinds (word) VALUES ('item'), ('item-entry');

CREATE TABLE item_versions (
    item_id      TEXT NOT NULL CHECK (item_id <> ''),
    seq          INTEGER NOT NULL CHECK (seq >= 1),
    title        TEXT NOT NULL CHECK (title <> ''),
    every_months INTEGER NOT NULL CHECK (every_months BETWEEN 0 AND 120),
    notice_days  INTEGER NOT NULL CHECK (notice_days BETWEEN 0 AND 366),
    everybody    INTEGER NOT NULL CHECK (everybody IN (0, 1)),
    roles        TEXT NOT NULL,
    jobs         TEXT NOT NULL,
    teams        TEXT NOT NULL,
    content      TEXT NOT NULL,
    keep_years   INTEGER NOT NULL CHECK (keep_years BETWEEN 3 AND 100),
    retired      INTEGER NOT NULL CHECK (retired IN (0, 1)),
    at           TEXT NOT NULL CHECK (at GLOB '????-??-??T??:??:??.???Z'),
    by_id        TEXT NOT NULL REFERENCES people (id),
    by_name      TEXT NOT NULL CHECK (by_name <> ''),
    why          TEXT NOT NULL,
    leaf         INTEGER NOT NULL UNIQUE REFERENCES record_leaves (leaf),
    PRIMARY KEY (item_id, seq)
) STRICT;

CREATE TABLE item_entries (
    id            TEXT NOT NULL PRIMARY KEY CHECK (id <> ''),
    item_id       TEXT NOT NULL,
    item_seq      INTEGER NOT NULL,
    person_id     TEXT NOT NULL REFERENCES people (id),
    on_day        TEXT NOT NULL CHECK (on_day GLOB '????-??-??'),
    job           TEXT NOT NULL,
    trainer       TEXT NOT NULL,
    qualification TEXT NOT NULL,
    content       TEXT NOT NULL,
    evidence      TEXT NOT NULL CHECK (evidence <> ''),
    expires       TEXT NOT NULL CHECK (expires = '' OR expires GLOB '????-??-??'),
    corrects      TEXT UNIQUE REFERENCES item_entries (id),
    why           TEXT NOT NULL,
    at            TEXT NOT NULL CHECK (at GLOB '????-??-??T??:??:??.???Z'),
    by_id         TEXT NOT NULL,
    by_name       TEXT NOT NULL,
    leaf          INTEGER NOT NULL UNIQUE REFERENCES record_leaves (leaf),
    FOREIGN KEY (item_id, item_seq) REFERENCES item_versions (item_id, seq),
    CONSTRAINT a_correction_says_why CHECK (corrects IS NULL OR why <> '' AND corrects <> id)
) STRICT;
CREATE INDEX item_entries_person ON item_entries (person_id, item_id, on_day);
CREATE INDEX item_entries_item ON item_entries (item_id);

CREATE TABLE item_ends (
    leaf     INTEGER NOT NULL PRIMARY KEY REFERENCES record_leaves (leaf),
    entry_id TEXT NOT NULL UNIQUE REFERENCES item_entries (id),
    at       TEXT NOT NULL CHECK (at GLOB '????-??-??T??:??:??.???Z'),
    by_id    TEXT NOT NULL REFERENCES people (id),
    by_name  TEXT NOT NULL CHECK (by_name <> ''),
    why      TEXT NOT NULL CHECK (why <> '')
) STRICT;

-- +goose StatementBegin
CREATE TRIGGER item_versions_kept BEFORE UPDATE ON item_versions
BEGIN SELECT RAISE(ABORT, 'a version of an item is kept'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER item_versions_stay BEFORE DELETE ON item_versions
BEGIN SELECT RAISE(ABORT, 'a version of an item is kept'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER item_entries_kept BEFORE UPDATE ON item_entries
BEGIN SELECT RAISE(ABORT, 'an entry is kept'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER item_entries_stay BEFORE DELETE ON item_entries
BEGIN SELECT RAISE(ABORT, 'an entry is kept'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER item_ends_kept BEFORE UPDATE ON item_ends
BEGIN SELECT RAISE(ABORT, 'that an entry holds no longer is kept'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER item_ends_stay BEFORE DELETE ON item_ends
BEGIN SELECT RAISE(ABORT, 'that an entry holds no longer is kept'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER a_corrected_entry_holds_no_longer BEFORE INSERT ON item_ends
WHEN EXISTS (SELECT 1 FROM item_entries WHERE corrects = NEW.entry_id)
BEGIN SELECT RAISE(ABORT, 'the entry was corrected'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER a_withdrawn_entry_is_not_corrected BEFORE INSERT ON item_entries
WHEN EXISTS (SELECT 1 FROM item_ends WHERE entry_id = NEW.corrects)
BEGIN SELECT RAISE(ABORT, 'the entry was withdrawn'); END;
-- +goose StatementEnd
