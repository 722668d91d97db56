-- +goose Up
-- What a competency takes is kept in versions; a leave is kept as it was entered and
-- changed; an opened plan may be closed; a sign-off names the version that it was given under.

INSERT INTO leaf_kinds (word) VALUES ('requirement'), ('absence');
INSERT INTO plan_event_kinds (word) VALUES ('closed');

-- The first version of a competency is nobody's: the values of the clinic's set, as they
-- were when somebody changed them.
CREATE TABLE requirement_versions (
    competency TEXT NOT NULL CHECK (competency <> ''),
    number     INTEGER NOT NULL CHECK (number >= 1),
    from_day   TEXT NOT NULL CHECK (from_day = '' OR from_day GLOB '????-??-??'),
    at         TEXT NOT NULL CHECK (at GLOB '????-??-??T??:??:??.???Z'),
    by_id      TEXT NOT NULL,
    by_name    TEXT NOT NULL,
    why        TEXT NOT NULL,
    terms      TEXT NOT NULL CHECK (json_valid(terms)),
    leaf       INTEGER NOT NULL UNIQUE REFERENCES record_leaves (leaf),
    PRIMARY KEY (competency, number),
    CONSTRAINT only_the_first_is_nobodys CHECK ((number = 1) = (by_id = '') AND (number = 1) = (by_name = '') AND (number = 1) = (why = '') AND (number = 1) = (from_day = ''))
) STRICT;

-- +goose StatementBegin
CREATE TRIGGER requirement_versions_in_turn BEFORE INSERT ON requirement_versions
WHEN NEW.number IS NOT (SELECT COALESCE(MAX(number), 0) + 1 FROM requirement_versions WHERE competency = NEW.competency)
BEGIN SELECT RAISE(ABORT, 'versions of requirements come one after the other'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER requirement_versions_kept BEFORE UPDATE ON requirement_versions
BEGIN SELECT RAISE(ABORT, 'versions of requirements are kept'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER requirement_versions_stay BEFORE DELETE ON requirement_versions
BEGIN SELECT RAISE(ABORT, 'versions of requirements are kept'); END;
-- +goose StatementEnd

ALTER TABLE sign_offs ADD COLUMN requirements INTEGER CHECK (requirements >= 1); -- the version; of before there were any none

-- A leave as it was entered, and each change of it. There is no column for a reason of health.
CREATE TABLE absences (
    id        TEXT NOT NULL CHECK (id <> ''),
    seq       INTEGER NOT NULL CHECK (seq >= 1),
    person_id TEXT NOT NULL REFERENCES people (id),
    from_day  TEXT NOT NULL CHECK (from_day GLOB '????-??-??'),
    until_day TEXT NOT NULL CHECK (until_day = '' OR until_day GLOB '????-??-??'), -- '' while nobody knows
    cancelled INTEGER NOT NULL CHECK (cancelled IN (0, 1)),
    at        TEXT NOT NULL CHECK (at GLOB '????-??-??T??:??:??.???Z'),
    by_id     TEXT NOT NULL REFERENCES people (id),
    by_name   TEXT NOT NULL CHECK (by_name <> ''),
    why       TEXT NOT NULL,
    leaf      INTEGER NOT NULL UNIQUE REFERENCES record_leaves (leaf),
    PRIMARY KEY (id, seq),
    CONSTRAINT a_leave_ends_after_it_began CHECK (until_day = '' OR until_day >= from_day)
) STRICT;
CREATE INDEX absences_person ON absences (person_id);

-- +goose StatementBegin
CREATE TRIGGER absences_in_turn BEFORE INSERT ON absences
WHEN NEW.seq IS NOT (SELECT COALESCE(MAX(seq), 0) + 1 FROM absences WHERE id = NEW.id)
    OR EXISTS (SELECT 1 FROM absences WHERE id = NEW.id AND (person_id <> NEW.person_id OR cancelled = 1))
BEGIN SELECT RAISE(ABORT, 'what becomes of a leave comes one after the other, until it is cancelled'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER absences_kept BEFORE UPDATE ON absences
BEGIN SELECT RAISE(ABORT, 'leaves are kept as they were entered'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER absences_stay BEFORE DELETE ON absences
BEGIN SELECT RAISE(ABORT, 'leaves are kept as they were entered'); END;
-- +goose StatementEnd

-- An opened plan can be closed.
DROP TRIGGER plan_events_in_turn;
DROP TRIGGER plan_events_kept;
DROP TRIGGER plan_events_stay;
CREATE TABLE plan_events_17 (
    plan_id TEXT NOT NULL REFERENCES plans (id),
    seq     INTEGER NOT NULL CHECK (seq >= 1),
    event   TEXT NOT NULL REFERENCES plan_event_kinds (word),
    at      TEXT NOT NULL CHECK (at GLOB '????-??-??T??:??:??.???Z'),
    by_id   TEXT NOT NULL REFERENCES people (id),
    by_name TEXT NOT NULL CHECK (by_name <> ''),
    why     TEXT NOT NULL,
    due     TEXT NOT NULL CHECK (due = '' OR due GLOB '????-??-??'),
    leaf    INTEGER NOT NULL UNIQUE REFERENCES record_leaves (leaf),
    PRIMARY KEY (plan_id, seq),
    CONSTRAINT proposed_then_answered_then_closed CHECK ((seq = 1) = (event = 'proposed') AND (seq = 3) = (event = 'closed') AND seq <= 3)
) STRICT;
INSERT INTO plan_events_17 (plan_id, seq, event, at, by_id, by_name, why, due, leaf)
    SELECT plan_id, seq, event, at, by_id, by_name, why, due, leaf FROM plan_events ORDER BY rowid;
DROP TABLE plan_events;
ALTER TABLE plan_events_17 RENAME TO plan_events;

-- +goose StatementBegin
CREATE TRIGGER plan_events_in_turn BEFORE INSERT ON plan_events
WHEN NEW.seq IS NOT (SELECT COALESCE(MAX(seq), 0) + 1 FROM plan_events WHERE plan_id = NEW.plan_id)
    OR NEW.event = 'closed' AND NOT EXISTS (SELECT 1 FROM plan_events WHERE plan_id = NEW.plan_id AND event = 'opened')
BEGIN SELECT RAISE(ABORT, 'what becomes of a plan comes one after the other'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER plan_events_kept BEFORE UPDATE ON plan_events BEGIN SELECT RAISE(ABORT, 'what became of a plan is kept'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER plan_events_stay BEFORE DELETE ON plan_events BEGIN SELECT RAISE(ABORT, 'what became of a plan is kept'); END;
-- +goose StatementEnd

-- Nothing may refer to what is not there.
CREATE TABLE dangling (n INTEGER NOT NULL CONSTRAINT every_row_that_is_referred_to_is_there CHECK (n = 0)) STRICT;
INSERT INTO dangling (n) SELECT COUNT(*) FROM pragma_foreign_key_check;
DROP TABLE dangling;
