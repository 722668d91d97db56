-- +goose Up
-- What follows from a version of the set, as an educator confirmed it, what people have to
-- do because of it, and how that ended where no other record says it.

INSERT INTO leaf_kinds (word) VALUES ('follow-up'), ('duty');

CREATE TABLE duty_kinds (word TEXT NOT NULL PRIMARY KEY CHECK (word <> '')) STRICT;
INSERT INTO duty_kinds (word) VALUES ('read'), ('module'), ('demonstration');

-- An educator's word on what follows. Nothing may follow; a later one adds people.
CREATE TABLE set_follow_ups (
    version     INTEGER NOT NULL REFERENCES set_versions (number),
    seq         INTEGER NOT NULL CHECK (seq >= 1),
    at          TEXT NOT NULL CHECK (at GLOB '????-??-??T??:??:??.???Z'),
    by_id       TEXT NOT NULL REFERENCES people (id),
    by_name     TEXT NOT NULL CHECK (by_name <> ''),
    in_force_at TEXT NOT NULL CHECK (in_force_at GLOB '????-??-??T??:??:??.???Z'), -- what is done before it is no work under the version
    why         TEXT NOT NULL, -- the version's
    changes     TEXT NOT NULL, -- what the version has otherwise, as JSON
    chosen      TEXT NOT NULL, -- what was asked of whom, as JSON
    leaf        INTEGER NOT NULL UNIQUE REFERENCES record_leaves (leaf),
    PRIMARY KEY (version, seq)
) STRICT;

-- Nobody has the same to do twice because of one version.
CREATE TABLE duties (
    id        TEXT NOT NULL PRIMARY KEY,
    version   INTEGER NOT NULL,
    follow_up INTEGER NOT NULL,
    person_id TEXT NOT NULL REFERENCES people (id),
    name      TEXT NOT NULL CHECK (name <> ''), -- as it stood
    staff_no  TEXT NOT NULL,
    kind      TEXT NOT NULL REFERENCES duty_kinds (word),
    subject   TEXT NOT NULL, -- module or competency, '' for reading
    title     TEXT NOT NULL,
    due       TEXT NOT NULL CHECK (due GLOB '????-??-??'),
    FOREIGN KEY (version, follow_up) REFERENCES set_follow_ups (version, seq),
    UNIQUE (version, person_id, kind, subject),
    CONSTRAINT of_something CHECK ((kind = 'read') = (subject = ''))
) STRICT;
CREATE INDEX duties_person ON duties (person_id);
CREATE INDEX duties_follow_up ON duties (version, follow_up);

-- How a duty ended: it was read and signed, or taken back. That a module was passed or a
-- demonstration was met stands in attempts and signatures, and is not kept once more.
CREATE TABLE duty_ends (
    duty_id TEXT NOT NULL PRIMARY KEY REFERENCES duties (id),
    ended   TEXT NOT NULL CHECK (ended IN ('read', 'taken back')),
    at      TEXT NOT NULL CHECK (at GLOB '????-??-??T??:??:??.???Z'),
    by_id   TEXT NOT NULL REFERENCES people (id),
    by_name TEXT NOT NULL CHECK (by_name <> ''),
    said    TEXT NOT NULL CHECK (said <> ''), -- the words that were signed, or why it was taken back
    leaf    INTEGER NOT NULL UNIQUE REFERENCES record_leaves (leaf)
) STRICT;

-- +goose StatementBegin
CREATE TRIGGER set_follow_ups_follow BEFORE INSERT ON set_follow_ups
WHEN NEW.seq <> COALESCE((SELECT MAX(seq) FROM set_follow_ups WHERE version = NEW.version), 0) + 1
    OR NOT EXISTS (SELECT 1 FROM set_events WHERE version = NEW.version AND event = 'approved')
BEGIN SELECT RAISE(ABORT, 'something follows from what was approved, one after the other'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER duty_ends_read_by_oneself BEFORE INSERT ON duty_ends
WHEN NEW.ended = 'read' AND NOT EXISTS (SELECT 1 FROM duties WHERE id = NEW.duty_id AND kind = 'read' AND person_id = NEW.by_id)
BEGIN SELECT RAISE(ABORT, 'who has to read it has read it'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER set_follow_ups_kept BEFORE UPDATE ON set_follow_ups
BEGIN SELECT RAISE(ABORT, 'what follows from a version is kept'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER set_follow_ups_stay BEFORE DELETE ON set_follow_ups
BEGIN SELECT RAISE(ABORT, 'what follows from a version is kept'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER duties_kept BEFORE UPDATE ON duties
BEGIN SELECT RAISE(ABORT, 'what people have to do is kept'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER duties_stay BEFORE DELETE ON duties
BEGIN SELECT RAISE(ABORT, 'what people have to do is kept'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER duty_ends_kept BEFORE UPDATE ON duty_ends
BEGIN SELECT RAISE(ABORT, 'how a duty ended is kept'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER duty_ends_stay BEFORE DELETE ON duty_ends
BEGIN SELECT RAISE(ABORT, 'how a duty ended is kept'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER duty_kinds_kept BEFORE UPDATE ON duty_kinds
BEGIN SELECT RAISE(ABORT, 'words are kept'); END;
-- +goose StatementEnd
