-- +goose Up
-- What an educator asked of several people at once: pass a module, be watched again, have
-- another annual item. Its leaf holds it with everybody it was asked of. That it was done
-- stands in attempts, signatures and entries, and is not kept once more.

INSERT INTO leaf_kinds (word) VALUES ('assignment');
INSERT INTO duty_kinds (word) VALUES ('item');

CREATE TABLE assignments (
    id      TEXT NOT NULL PRIMARY KEY CHECK (id <> ''),
    at      TEXT NOT NULL CHECK (at GLOB '????-??-??T??:??:??.???Z'),
    by_id   TEXT NOT NULL REFERENCES people (id),
    by_name TEXT NOT NULL CHECK (by_name <> ''),
    kind    TEXT NOT NULL REFERENCES duty_kinds (word) CHECK (kind <> 'read'),
    subject TEXT NOT NULL CHECK (subject <> ''), -- module, competency or item
    title   TEXT NOT NULL CHECK (title <> ''),   -- as it stood
    due     TEXT NOT NULL CHECK (due GLOB '????-??-??'),
    why     TEXT NOT NULL,
    leaf    INTEGER NOT NULL UNIQUE REFERENCES record_leaves (leaf)
) STRICT;

-- Of whom it was asked, as they stood.
CREATE TABLE assigned (
    id            TEXT NOT NULL PRIMARY KEY CHECK (id <> ''),
    assignment_id TEXT NOT NULL REFERENCES assignments (id),
    n             INTEGER NOT NULL CHECK (n >= 1),
    person_id     TEXT NOT NULL REFERENCES people (id),
    name          TEXT NOT NULL CHECK (name <> ''),
    staff_no      TEXT NOT NULL,
    UNIQUE (assignment_id, n),
    UNIQUE (assignment_id, person_id)
) STRICT;
CREATE INDEX assigned_person ON assigned (person_id);

-- That it is asked no longer: of one of them, or with n 0 of all.
CREATE TABLE assignment_ends (
    leaf          INTEGER NOT NULL PRIMARY KEY REFERENCES record_leaves (leaf),
    assignment_id TEXT NOT NULL REFERENCES assignments (id),
    n             INTEGER NOT NULL CHECK (n >= 0),
    at            TEXT NOT NULL CHECK (at GLOB '????-??-??T??:??:??.???Z'),
    by_id         TEXT NOT NULL REFERENCES people (id),
    by_name       TEXT NOT NULL CHECK (by_name <> ''),
    why           TEXT NOT NULL CHECK (why <> ''),
    UNIQUE (assignment_id, n)
) STRICT;

-- +goose StatementBegin
CREATE TRIGGER assignment_ends_of_what_was_asked BEFORE INSERT ON assignment_ends
WHEN NEW.n > 0 AND NOT EXISTS (SELECT 1 FROM assigned WHERE assignment_id = NEW.assignment_id AND n = NEW.n)
    OR EXISTS (SELECT 1 FROM assignment_ends WHERE assignment_id = NEW.assignment_id AND n = 0)
BEGIN SELECT RAISE(ABORT, 'what is asked of somebody is taken back, once'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER assignments_kept BEFORE UPDATE ON assignments
BEGIN SELECT RAISE(ABORT, 'what was asked is kept'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER assignments_stay BEFORE DELETE ON assignments
BEGIN SELECT RAISE(ABORT, 'what was asked is kept'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER assigned_kept BEFORE UPDATE ON assigned
BEGIN SELECT RAISE(ABORT, 'of whom it was asked is kept'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER assigned_stay BEFORE DELETE ON assigned
BEGIN SELECT RAISE(ABORT, 'of whom it was asked is kept'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER assignment_ends_kept BEFORE UPDATE ON assignment_ends
BEGIN SELECT RAISE(ABORT, 'that it was taken back is kept'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER assignment_ends_stay BEFORE DELETE ON assignment_ends
BEGIN SELECT RAISE(ABORT, 'that it was taken back is kept'); END;
-- +goose StatementEnd
