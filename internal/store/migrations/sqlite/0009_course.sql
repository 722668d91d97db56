-- +goose Up
-- Guided practice, which counts for nothing but practice; what people did of the course;
-- who looks after a new hire, and until when.

ALTER TABLE attempts ADD COLUMN guided INTEGER NOT NULL DEFAULT 0 CHECK (guided IN (0, 1));

DROP INDEX attempts_newest;
DROP INDEX attempts_of_scenario;
DROP INDEX attempts_passed;
CREATE INDEX attempts_newest ON attempts (person_id, finished_at, id, scenario_id, outcome, score, guided);
CREATE INDEX attempts_of_scenario ON attempts (person_id, scenario_id, finished_at, id, outcome, guided, score);
CREATE INDEX attempts_passed ON attempts (person_id, scenario_id, finished_at, id, outcome) WHERE outcome = 'pass' AND guided = 0;

-- A person has one unfinished work of a scenario guided, and one that is not.
CREATE TABLE drafts_9 (
    id          TEXT NOT NULL PRIMARY KEY CHECK (id <> ''),
    person_id   TEXT NOT NULL REFERENCES people (id),
    scenario_id TEXT NOT NULL CHECK (scenario_id <> ''),
    kind        TEXT NOT NULL REFERENCES practice_kinds (word),
    started_at  TEXT NOT NULL CHECK (started_at GLOB '????-??-??T??:??:??.???Z'),
    pace        INTEGER NOT NULL CHECK (pace >= 1),
    revision    INTEGER NOT NULL CHECK (revision >= 0),
    updated_at  TEXT NOT NULL CHECK (updated_at GLOB '????-??-??T??:??:??.???Z'),
    steps       TEXT NOT NULL,
    seed        TEXT NOT NULL DEFAULT '',
    guided      INTEGER NOT NULL DEFAULT 0 CHECK (guided IN (0, 1)),
    UNIQUE (person_id, scenario_id, guided)
) STRICT;
INSERT INTO drafts_9 (id, person_id, scenario_id, kind, started_at, pace, revision, updated_at, steps, seed)
    SELECT id, person_id, scenario_id, kind, started_at, pace, revision, updated_at, steps, seed FROM drafts;
DROP TABLE drafts;
ALTER TABLE drafts_9 RENAME TO drafts;

-- Every answer to a question of a lesson: choice is the place of the option, from 1.
CREATE TABLE course_answers (
    person_id TEXT NOT NULL REFERENCES people (id),
    module    TEXT NOT NULL CHECK (module <> ''),
    part      TEXT NOT NULL CHECK (part <> ''),
    question  TEXT NOT NULL CHECK (question <> ''),
    at        TEXT NOT NULL CHECK (at GLOB '????-??-??T??:??:??.???Z'),
    seq       INTEGER NOT NULL CHECK (seq >= 1),
    choice    INTEGER NOT NULL CHECK (choice >= 1),
    step      TEXT NOT NULL,
    is_right  INTEGER NOT NULL CHECK (is_right IN (0, 1)),
    PRIMARY KEY (person_id, module, part, question, seq)
) STRICT, WITHOUT ROWID;

-- A part that was read or watched: how many questions were answered rightly at first.
CREATE TABLE course_marks (
    person_id   TEXT NOT NULL REFERENCES people (id),
    module      TEXT NOT NULL CHECK (module <> ''),
    part        TEXT NOT NULL CHECK (part <> ''),
    done_at     TEXT NOT NULL CHECK (done_at GLOB '????-??-??T??:??:??.???Z'),
    right_first INTEGER NOT NULL CHECK (right_first >= 0),
    questions   INTEGER NOT NULL CHECK (questions >= right_first),
    PRIMARY KEY (person_id, module, part, done_at)
) STRICT, WITHOUT ROWID;

-- The last row of a person counts. Names are as they stood.
CREATE TABLE orientations (
    person_id      TEXT NOT NULL REFERENCES people (id),
    seq            INTEGER NOT NULL CHECK (seq >= 1),
    preceptor_id   TEXT NOT NULL REFERENCES people (id),
    preceptor_name TEXT NOT NULL CHECK (preceptor_name <> ''),
    last_day       TEXT NOT NULL CHECK (last_day GLOB '????-??-??'),
    set_by         TEXT NOT NULL REFERENCES people (id),
    set_by_name    TEXT NOT NULL CHECK (set_by_name <> ''),
    set_at         TEXT NOT NULL CHECK (set_at GLOB '????-??-??T??:??:??.???Z'),
    PRIMARY KEY (person_id, seq),
    CONSTRAINT nobody_precepts_themself CHECK (preceptor_id <> person_id)
) STRICT, WITHOUT ROWID;
CREATE INDEX orientations_preceptor ON orientations (preceptor_id, person_id);

-- +goose StatementBegin
CREATE TRIGGER course_answers_kept BEFORE UPDATE ON course_answers
BEGIN SELECT RAISE(ABORT, 'answers are kept as they were given'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER course_answers_stay BEFORE DELETE ON course_answers
BEGIN SELECT RAISE(ABORT, 'answers are kept as they were given'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER course_marks_kept BEFORE UPDATE ON course_marks
BEGIN SELECT RAISE(ABORT, 'what was done of the course is kept'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER course_marks_stay BEFORE DELETE ON course_marks
BEGIN SELECT RAISE(ABORT, 'what was done of the course is kept'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER orientations_kept BEFORE UPDATE ON orientations
BEGIN SELECT RAISE(ABORT, 'who was set for an orientation is kept'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER orientations_stay BEFORE DELETE ON orientations
BEGIN SELECT RAISE(ABORT, 'who was set for an orientation is kept'); END;
-- +goose StatementEnd

-- Nothing may refer to what is not there.
CREATE TABLE dangling (n INTEGER NOT NULL CONSTRAINT every_row_that_is_referred_to_is_there CHECK (n = 0)) STRICT;
INSERT INTO dangling (n) SELECT COUNT(*) FROM pragma_foreign_key_check;
DROP TABLE dangling;
