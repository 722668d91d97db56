-- +goose Up
-- The clinic's own set of procedures, scenarios, products, programme and course, as
-- versions that never change, with what became of each; and the one draft that is being
-- worked on.

INSERT INTO leaf_kinds (word) VALUES ('set');

CREATE TABLE set_origins (word TEXT NOT NULL PRIMARY KEY CHECK (word <> '')) STRICT;
INSERT INTO set_origins (word) VALUES ('starting point'), ('edited'), ('imported');

-- What happens to a version. Words that move it on lead from one state to the next; the
-- two others say by how many people versions are approved from then on.
CREATE TABLE set_event_kinds (
    word  TEXT NOT NULL PRIMARY KEY CHECK (word <> ''),
    first INTEGER NOT NULL CHECK (first IN (0, 1)), -- a version begins with it
    after TEXT NOT NULL                             -- the state that it ends; '' where it moves nothing on
) STRICT;
INSERT INTO set_event_kinds (word, first, after) VALUES ('starting point', 1, ''), ('proposed', 1, ''), ('approved', 0, 'proposed'),
    ('withdrawn', 0, 'proposed'), ('two approve', 0, ''), ('one approves', 0, '');

-- A file of a set, kept once however many versions have it.
CREATE TABLE set_files (
    hash  TEXT NOT NULL PRIMARY KEY CHECK (length(hash) = 64),
    bytes BLOB NOT NULL CHECK (length(bytes) <= 1048576)
) STRICT;

CREATE TABLE set_versions (
    number   INTEGER NOT NULL PRIMARY KEY CHECK (number >= 1),
    hash     TEXT NOT NULL CHECK (length(hash) = 64),
    based_on INTEGER NOT NULL CHECK (based_on >= 0 AND based_on < number), -- 0 of the first
    origin   TEXT NOT NULL REFERENCES set_origins (word),
    why      TEXT NOT NULL,
    edits    TEXT NOT NULL -- what was done to the one it is based on, as JSON
) STRICT;

CREATE TABLE set_version_files (
    version INTEGER NOT NULL REFERENCES set_versions (number),
    name    TEXT NOT NULL CHECK (name <> ''),
    hash    TEXT NOT NULL REFERENCES set_files (hash),
    PRIMARY KEY (version, name)
) STRICT;
CREATE INDEX set_version_files_hash ON set_version_files (hash);

-- Who did what with a version. By is who did it here, '' the program itself; the
-- approver is whose word it is, who may have given it on paper.
CREATE TABLE set_events (
    version       INTEGER NOT NULL REFERENCES set_versions (number),
    seq           INTEGER NOT NULL CHECK (seq >= 1),
    event         TEXT NOT NULL REFERENCES set_event_kinds (word),
    at            TEXT NOT NULL CHECK (at GLOB '????-??-??T??:??:??.???Z'),
    by_id         TEXT NOT NULL,
    by_name       TEXT NOT NULL,
    why           TEXT NOT NULL,
    approval      TEXT NOT NULL CHECK (approval IN ('', 'here', 'paper')),
    approver_id   TEXT NOT NULL,
    approver      TEXT NOT NULL,
    approver_role TEXT NOT NULL,
    approved_on   TEXT NOT NULL CHECK (approved_on = '' OR approved_on GLOB '????-??-??'),
    approval_at   TEXT NOT NULL,
    in_force_from TEXT NOT NULL CHECK (in_force_from = '' OR in_force_from GLOB '????-??-??'),
    leaf          INTEGER NOT NULL UNIQUE REFERENCES record_leaves (leaf),
    PRIMARY KEY (version, seq),
    CONSTRAINT approved_by_somebody_from_a_day CHECK (event <> 'approved' OR (approver <> '' AND approval <> '' AND approved_on <> '' AND in_force_from <> ''))
) STRICT;

-- The draft. Its revision only grows, also over drafts that are no more, so that nobody
-- saves into another one than they saw.
CREATE TABLE set_draft (
    id         INTEGER NOT NULL PRIMARY KEY CHECK (id = 1),
    open       INTEGER NOT NULL CHECK (open IN (0, 1)),
    base       INTEGER NOT NULL REFERENCES set_versions (number),
    revision   INTEGER NOT NULL CHECK (revision >= 1),
    origin     TEXT NOT NULL REFERENCES set_origins (word),
    edits      TEXT NOT NULL,
    updated_at TEXT NOT NULL CHECK (updated_at GLOB '????-??-??T??:??:??.???Z'),
    by_id      TEXT NOT NULL,
    by_name    TEXT NOT NULL
) STRICT;

CREATE TABLE set_draft_files (
    name  TEXT NOT NULL PRIMARY KEY CHECK (name <> ''),
    bytes BLOB NOT NULL CHECK (length(bytes) <= 1048576)
) STRICT;

-- +goose StatementBegin
CREATE TRIGGER set_events_follow BEFORE INSERT ON set_events
WHEN NEW.seq <> COALESCE((SELECT MAX(seq) FROM set_events WHERE version = NEW.version), 0) + 1
    OR (NEW.seq = 1) <> (SELECT first FROM set_event_kinds WHERE word = NEW.event)
BEGIN SELECT RAISE(ABORT, 'what becomes of a version follows one after the other'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER set_events_lead_on BEFORE INSERT ON set_events
WHEN (SELECT after FROM set_event_kinds WHERE word = NEW.event) <> '' AND (SELECT after FROM set_event_kinds WHERE word = NEW.event) IS NOT
    (SELECT e.event FROM set_events e JOIN set_event_kinds k ON k.word = e.event WHERE e.version = NEW.version AND (k.first OR k.after <> '') ORDER BY e.seq DESC LIMIT 1)
BEGIN SELECT RAISE(ABORT, 'only what is proposed is approved or withdrawn'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER set_version_files_closed BEFORE INSERT ON set_version_files
WHEN EXISTS (SELECT 1 FROM set_events WHERE version = NEW.version)
BEGIN SELECT RAISE(ABORT, 'a version has the files it began with'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER set_files_kept BEFORE UPDATE ON set_files
BEGIN SELECT RAISE(ABORT, 'the files of a version are kept'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER set_files_stay BEFORE DELETE ON set_files
BEGIN SELECT RAISE(ABORT, 'the files of a version are kept'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER set_versions_kept BEFORE UPDATE ON set_versions
BEGIN SELECT RAISE(ABORT, 'a version of the set is kept'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER set_versions_stay BEFORE DELETE ON set_versions
BEGIN SELECT RAISE(ABORT, 'a version of the set is kept'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER set_version_files_kept BEFORE UPDATE ON set_version_files
BEGIN SELECT RAISE(ABORT, 'the files of a version are kept'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER set_version_files_stay BEFORE DELETE ON set_version_files
BEGIN SELECT RAISE(ABORT, 'the files of a version are kept'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER set_events_kept BEFORE UPDATE ON set_events
BEGIN SELECT RAISE(ABORT, 'what became of a version is kept'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER set_events_stay BEFORE DELETE ON set_events
BEGIN SELECT RAISE(ABORT, 'what became of a version is kept'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER set_origins_kept BEFORE UPDATE ON set_origins
BEGIN SELECT RAISE(ABORT, 'words are kept'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER set_event_kinds_kept BEFORE UPDATE ON set_event_kinds
BEGIN SELECT RAISE(ABORT, 'words are kept'); END;
-- +goose StatementEnd
