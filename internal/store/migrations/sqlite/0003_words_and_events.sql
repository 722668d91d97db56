-- +goose Up
-- The last rebuild of tables. Words are rows of small tables, so that a new word
-- is one INSERT; a demonstration's states are rows that are only ever added; what
-- was judged stands beside what was begun. The program runs migrations with
-- foreign keys off, for tables that others refer to are made anew; the end of
-- this file counts what would dangle and undoes everything when there is any.

DROP TRIGGER attempts_kept;
DROP TRIGGER attempts_stay;
DROP TRIGGER demonstrations_kept;
DROP TRIGGER demonstrations_same;
DROP TRIGGER demonstrations_stay;
DROP TRIGGER observations_while_recording;
DROP TRIGGER observations_kept;
DROP TRIGGER observations_stay;
DROP TRIGGER signatures_right;
DROP TRIGGER signatures_kept;
DROP TRIGGER signatures_stay;

-- The words.

CREATE TABLE roles (word TEXT NOT NULL PRIMARY KEY CHECK (word <> '')) STRICT;
INSERT INTO roles (word) VALUES ('trainee'), ('preceptor'), ('educator');

CREATE TABLE practice_kinds (word TEXT NOT NULL PRIMARY KEY CHECK (word <> '')) STRICT;
INSERT INTO practice_kinds (word) VALUES ('build'), ('run');

CREATE TABLE outcomes (word TEXT NOT NULL PRIMARY KEY CHECK (word <> '')) STRICT;
INSERT INTO outcomes (word) VALUES ('pass'), ('not pass'), ('incomplete');

-- After a state that ends nothing is added; a judged one needs its result.
CREATE TABLE demonstration_states (
    word   TEXT NOT NULL PRIMARY KEY CHECK (word <> ''),
    ends   INTEGER NOT NULL CHECK (ends IN (0, 1)),
    judged INTEGER NOT NULL CHECK (judged IN (0, ends))
) STRICT;
INSERT INTO demonstration_states (word, ends, judged) VALUES ('recording', 0, 0), ('ended', 1, 1), ('abandoned', 1, 0);

-- Who signs with a meaning, and whether it needs a pass without a prompt.
CREATE TABLE meanings (
    word   TEXT NOT NULL PRIMARY KEY CHECK (word <> ''),
    signer TEXT NOT NULL CHECK (signer IN ('trainee', 'preceptor')),
    clean  INTEGER NOT NULL CHECK (clean IN (0, 1))
) STRICT;
INSERT INTO meanings (word, signer, clean) VALUES
    ('learner', 'trainee', 0), ('watched-met', 'preceptor', 1), ('watched-not-met', 'preceptor', 0), ('watched-practice', 'preceptor', 0);

-- People and unfinished work.

CREATE TABLE people_3 (
    id       TEXT NOT NULL PRIMARY KEY CHECK (id <> ''),
    name     TEXT NOT NULL CONSTRAINT a_person_has_a_name CHECK (trim(name) <> ''),
    staff_no TEXT NOT NULL,
    role     TEXT NOT NULL REFERENCES roles (word),
    hired    TEXT NOT NULL CHECK (hired = '' OR hired GLOB '????-??-??'),
    left_on  TEXT NOT NULL CHECK (left_on = '' OR left_on GLOB '????-??-??'),
    added_at TEXT NOT NULL CHECK (added_at GLOB '????-??-??T??:??:??.???Z')
) STRICT;
INSERT INTO people_3 (id, name, staff_no, role, hired, left_on, added_at)
    SELECT id, name, staff_no, role, hired, left_on, added_at FROM people;
DROP TABLE people;
ALTER TABLE people_3 RENAME TO people;
CREATE UNIQUE INDEX people_staff_no ON people (staff_no) WHERE staff_no <> '';

CREATE TABLE drafts_3 (
    id          TEXT NOT NULL PRIMARY KEY CHECK (id <> ''),
    person_id   TEXT NOT NULL REFERENCES people (id),
    scenario_id TEXT NOT NULL CHECK (scenario_id <> ''),
    kind        TEXT NOT NULL REFERENCES practice_kinds (word),
    started_at  TEXT NOT NULL CHECK (started_at GLOB '????-??-??T??:??:??.???Z'),
    pace        INTEGER NOT NULL CHECK (pace >= 1),
    revision    INTEGER NOT NULL CHECK (revision >= 0),
    updated_at  TEXT NOT NULL CHECK (updated_at GLOB '????-??-??T??:??:??.???Z'),
    steps       TEXT NOT NULL,
    UNIQUE (person_id, scenario_id)
) STRICT;
INSERT INTO drafts_3 (id, person_id, scenario_id, kind, started_at, pace, revision, updated_at, steps)
    SELECT id, person_id, scenario_id, kind, started_at, pace, revision, updated_at, steps FROM drafts;
DROP TABLE drafts;
ALTER TABLE drafts_3 RENAME TO drafts;

-- Attempts. What lists show stands before the large columns, so that reading it
-- touches no page of a result. An old result without a score has none.

CREATE TABLE attempts_3 (
    id             TEXT NOT NULL PRIMARY KEY CHECK (id <> ''),
    person_id      TEXT NOT NULL REFERENCES people (id),
    scenario_id    TEXT NOT NULL CHECK (scenario_id <> ''),
    kind           TEXT NOT NULL REFERENCES practice_kinds (word),
    pace           INTEGER NOT NULL CHECK (pace >= 1),
    started_at     TEXT NOT NULL CHECK (started_at GLOB '????-??-??T??:??:??.???Z'),
    finished_at    TEXT NOT NULL CHECK (finished_at GLOB '????-??-??T??:??:??.???Z' AND finished_at >= started_at),
    outcome        TEXT NOT NULL REFERENCES outcomes (word),
    score          REAL GENERATED ALWAYS AS (
        CASE WHEN json_valid(CAST(result_json AS TEXT)) THEN
            CASE WHEN json_type(CAST(result_json AS TEXT), '$.marks.score') IN ('integer', 'real')
            THEN json_extract(CAST(result_json AS TEXT), '$.marks.score') END
        END) STORED,
    rules_version  INTEGER NOT NULL CHECK (rules_version >= 1),
    procedure      TEXT NOT NULL CHECK (procedure <> ''),
    procedure_hash TEXT NOT NULL CHECK (length(procedure_hash) = 64),
    scenario_hash  TEXT NOT NULL,
    steps          TEXT NOT NULL,
    lines          TEXT NOT NULL,
    log            TEXT NOT NULL CHECK (log <> ''),
    result_json    BLOB NOT NULL CHECK (length(result_json) > 0)
) STRICT;
INSERT INTO attempts_3 (id, person_id, scenario_id, kind, pace, started_at, finished_at, outcome, rules_version,
        procedure, procedure_hash, scenario_hash, steps, lines, log, result_json)
    SELECT id, person_id, scenario_id, kind, pace, started_at, finished_at, outcome, rules_version,
        procedure, procedure_hash, scenario_hash, steps, lines, log, result_json FROM attempts ORDER BY rowid;
DROP TABLE attempts;
ALTER TABLE attempts_3 RENAME TO attempts;

CREATE INDEX attempts_newest ON attempts (person_id, finished_at, id, scenario_id, outcome, score);
CREATE INDEX attempts_of_scenario ON attempts (person_id, scenario_id, finished_at, id, outcome, score);
CREATE INDEX attempts_passed ON attempts (person_id, scenario_id, finished_at, id) WHERE outcome = 'pass';

-- Demonstrations: what was begun, its states, and what was judged.

CREATE TABLE demonstrations_3 (
    id             TEXT NOT NULL PRIMARY KEY CHECK (id <> ''),
    trainee_id     TEXT NOT NULL REFERENCES people (id),
    preceptor_id   TEXT NOT NULL REFERENCES people (id),
    competency     TEXT NOT NULL CHECK (competency <> ''),
    product        TEXT NOT NULL CHECK (product <> ''),
    started_at     TEXT NOT NULL CHECK (started_at GLOB '????-??-??T??:??:??.???Z'),
    procedure      TEXT NOT NULL CHECK (procedure <> ''),
    procedure_hash TEXT NOT NULL CHECK (length(procedure_hash) = 64),
    CONSTRAINT nobody_watches_themself CHECK (trainee_id <> preceptor_id)
) STRICT;
INSERT INTO demonstrations_3 (id, trainee_id, preceptor_id, competency, product, started_at, procedure, procedure_hash)
    SELECT id, trainee_id, preceptor_id, competency, product, started_at, procedure, procedure_hash FROM demonstrations ORDER BY rowid;

CREATE TABLE demonstration_events (
    demonstration_id TEXT NOT NULL REFERENCES demonstrations (id),
    seq              INTEGER NOT NULL CHECK (seq >= 1),
    state            TEXT NOT NULL REFERENCES demonstration_states (word),
    at               TEXT NOT NULL CHECK (at GLOB '????-??-??T??:??:??.???Z'),
    PRIMARY KEY (demonstration_id, seq)
) STRICT;
INSERT INTO demonstration_events (demonstration_id, seq, state, at)
    SELECT id, 1, 'recording', started_at FROM demonstrations;
INSERT INTO demonstration_events (demonstration_id, seq, state, at)
    SELECT id, 2, state, ended_at FROM demonstrations WHERE state <> 'recording';

-- The result is of the event that ended the demonstration.
CREATE TABLE demonstration_results (
    demonstration_id TEXT NOT NULL PRIMARY KEY REFERENCES demonstrations (id),
    event            INTEGER NOT NULL,
    outcome          TEXT NOT NULL REFERENCES outcomes (word),
    score            REAL GENERATED ALWAYS AS (
        CASE WHEN json_valid(CAST(result_json AS TEXT)) THEN
            CASE WHEN json_type(CAST(result_json AS TEXT), '$.marks.score') IN ('integer', 'real')
            THEN json_extract(CAST(result_json AS TEXT), '$.marks.score') END
        END) STORED,
    prompted         INTEGER NOT NULL CHECK (prompted IN (0, 1)),
    rules_version    INTEGER NOT NULL CHECK (rules_version >= 1),
    procedure        TEXT NOT NULL CHECK (procedure <> ''),
    procedure_hash   TEXT NOT NULL CHECK (length(procedure_hash) = 64),
    comment          TEXT NOT NULL,
    log              TEXT NOT NULL CHECK (log <> ''),
    result_json      BLOB NOT NULL CHECK (length(result_json) > 0),
    FOREIGN KEY (demonstration_id, event) REFERENCES demonstration_events (demonstration_id, seq) DEFERRABLE INITIALLY DEFERRED
) STRICT;
INSERT INTO demonstration_results (demonstration_id, event, outcome, prompted, rules_version, procedure, procedure_hash, comment, log, result_json)
    SELECT id, 2, outcome, prompted, rules_version, procedure, procedure_hash, comment, log, result_json
    FROM demonstrations WHERE state = 'ended' ORDER BY rowid;

DROP TABLE demonstrations;
ALTER TABLE demonstrations_3 RENAME TO demonstrations;

CREATE INDEX demonstrations_trainee ON demonstrations (trainee_id, competency, started_at);
CREATE INDEX demonstrations_preceptor ON demonstrations (preceptor_id, started_at);
CREATE INDEX demonstrations_started ON demonstrations (started_at);
CREATE INDEX demonstration_results_told ON demonstration_results (demonstration_id, outcome, prompted, score);

-- A demonstration as far as it has come.
CREATE VIEW demonstrations_now AS
    SELECT d.id, d.trainee_id, d.preceptor_id, d.competency, d.product, d.started_at,
        CASE WHEN s.ends THEN e.at ELSE '' END AS ended_at, COALESCE(e.state, '') AS state,
        COALESCE(r.outcome, '') AS outcome, r.score, COALESCE(r.prompted, 0) AS prompted, COALESCE(r.rules_version, 0) AS rules_version,
        COALESCE(r.procedure, d.procedure) AS procedure, COALESCE(r.procedure_hash, d.procedure_hash) AS procedure_hash,
        COALESCE(r.comment, '') AS comment, COALESCE(r.log, '') AS log, r.result_json
    FROM demonstrations d
    LEFT JOIN demonstration_events e ON e.demonstration_id = d.id
        AND e.seq = (SELECT MAX(seq) FROM demonstration_events WHERE demonstration_id = d.id)
    LEFT JOIN demonstration_states s ON s.word = e.state
    LEFT JOIN demonstration_results r ON r.demonstration_id = d.id;

-- Signatures: one of the learner, one of the preceptor, who are two people.

CREATE TABLE signatures_3 (
    demonstration_id TEXT NOT NULL REFERENCES demonstrations (id),
    signer_id        TEXT NOT NULL REFERENCES people (id),
    signer_name      TEXT NOT NULL CHECK (signer_name <> ''),
    meaning          TEXT NOT NULL REFERENCES meanings (word),
    signed_at        TEXT NOT NULL CHECK (signed_at GLOB '????-??-??T??:??:??.???Z'),
    leaf             INTEGER NOT NULL PRIMARY KEY REFERENCES ledger_leaves (i)
) STRICT;
INSERT INTO signatures_3 (demonstration_id, signer_id, signer_name, meaning, signed_at, leaf)
    SELECT demonstration_id, signer_id, signer_name, meaning, signed_at, leaf FROM signatures;
DROP TABLE signatures;
ALTER TABLE signatures_3 RENAME TO signatures;
CREATE UNIQUE INDEX signatures_two ON signatures (demonstration_id, signer_id);

-- What was judged, recorded or signed is never changed and never removed.

-- +goose StatementBegin
CREATE TRIGGER attempts_kept BEFORE UPDATE ON attempts
BEGIN SELECT RAISE(ABORT, 'attempts are kept as they were judged'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER attempts_stay BEFORE DELETE ON attempts
BEGIN SELECT RAISE(ABORT, 'attempts are kept as they were judged'); END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER demonstrations_kept BEFORE UPDATE ON demonstrations
BEGIN SELECT RAISE(ABORT, 'a demonstration is kept as it was begun'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER demonstrations_stay BEFORE DELETE ON demonstrations
BEGIN SELECT RAISE(ABORT, 'demonstrations are kept'); END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER demonstration_events_in_turn BEFORE INSERT ON demonstration_events
WHEN NEW.seq IS NOT (SELECT COALESCE(MAX(seq), 0) + 1 FROM demonstration_events WHERE demonstration_id = NEW.demonstration_id)
  OR NEW.at < (SELECT MAX(at) FROM demonstration_events WHERE demonstration_id = NEW.demonstration_id)
BEGIN SELECT RAISE(ABORT, 'the states of a demonstration come one after the other'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER demonstration_events_first BEFORE INSERT ON demonstration_events
WHEN NEW.seq = 1 AND (NEW.state <> 'recording' OR NEW.at IS NOT (SELECT started_at FROM demonstrations WHERE id = NEW.demonstration_id))
BEGIN SELECT RAISE(ABORT, 'a demonstration begins with its recording'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER demonstration_events_last BEFORE INSERT ON demonstration_events
WHEN EXISTS (SELECT 1 FROM demonstration_events e JOIN demonstration_states s ON s.word = e.state
    WHERE e.demonstration_id = NEW.demonstration_id AND s.ends)
BEGIN SELECT RAISE(ABORT, 'a demonstration that has ended keeps its state'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER demonstration_events_judged BEFORE INSERT ON demonstration_events
WHEN (SELECT judged FROM demonstration_states WHERE word = NEW.state)
  <> EXISTS (SELECT 1 FROM demonstration_results WHERE demonstration_id = NEW.demonstration_id AND event = NEW.seq)
BEGIN SELECT RAISE(ABORT, 'a demonstration ends with its result, and no other state has one'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER demonstration_events_kept BEFORE UPDATE ON demonstration_events
BEGIN SELECT RAISE(ABORT, 'the states of a demonstration are kept'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER demonstration_events_stay BEFORE DELETE ON demonstration_events
BEGIN SELECT RAISE(ABORT, 'the states of a demonstration are kept'); END;
-- +goose StatementEnd

-- A result comes just before the event that it is of, in one transaction.
-- +goose StatementBegin
CREATE TRIGGER demonstration_results_once BEFORE INSERT ON demonstration_results
WHEN NEW.event IS NOT (SELECT MAX(seq) + 1 FROM demonstration_events WHERE demonstration_id = NEW.demonstration_id)
  OR EXISTS (SELECT 1 FROM demonstration_events e JOIN demonstration_states s ON s.word = e.state
    WHERE e.demonstration_id = NEW.demonstration_id AND s.ends)
BEGIN SELECT RAISE(ABORT, 'only a demonstration that is being recorded is judged'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER demonstration_results_kept BEFORE UPDATE ON demonstration_results
BEGIN SELECT RAISE(ABORT, 'a demonstration that has ended is kept as it was judged'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER demonstration_results_stay BEFORE DELETE ON demonstration_results
BEGIN SELECT RAISE(ABORT, 'a demonstration that has ended is kept as it was judged'); END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER observations_while_recording BEFORE INSERT ON observations
WHEN (SELECT s.ends FROM demonstrations_now d JOIN demonstration_states s ON s.word = d.state WHERE d.id = NEW.demonstration_id) IS NOT 0
BEGIN SELECT RAISE(ABORT, 'nothing is added to a demonstration that has ended'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER observations_kept BEFORE UPDATE ON observations
BEGIN SELECT RAISE(ABORT, 'recorded lines are kept'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER observations_stay BEFORE DELETE ON observations
BEGIN SELECT RAISE(ABORT, 'recorded lines are kept'); END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER signatures_right BEFORE INSERT ON signatures
WHEN NOT EXISTS (
    SELECT 1 FROM demonstrations_now d JOIN demonstration_states s ON s.word = d.state JOIN meanings m ON m.word = NEW.meaning
    WHERE d.id = NEW.demonstration_id AND s.judged
      AND NEW.signer_id = CASE m.signer WHEN 'trainee' THEN d.trainee_id ELSE d.preceptor_id END
      AND (m.clean = 0 OR (d.outcome = 'pass' AND d.prompted = 0)))
BEGIN SELECT RAISE(ABORT, 'this signature does not fit its demonstration'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER signatures_kept BEFORE UPDATE ON signatures
BEGIN SELECT RAISE(ABORT, 'signatures are kept'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER signatures_stay BEFORE DELETE ON signatures
BEGIN SELECT RAISE(ABORT, 'signatures are kept'); END;
-- +goose StatementEnd

-- Words are added, never changed: rows were written with what they meant.
-- +goose StatementBegin
CREATE TRIGGER roles_kept BEFORE UPDATE ON roles BEGIN SELECT RAISE(ABORT, 'words are kept'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER practice_kinds_kept BEFORE UPDATE ON practice_kinds BEGIN SELECT RAISE(ABORT, 'words are kept'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER outcomes_kept BEFORE UPDATE ON outcomes BEGIN SELECT RAISE(ABORT, 'words are kept'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER demonstration_states_kept BEFORE UPDATE ON demonstration_states BEGIN SELECT RAISE(ABORT, 'words are kept'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER meanings_kept BEFORE UPDATE ON meanings BEGIN SELECT RAISE(ABORT, 'words are kept'); END;
-- +goose StatementEnd

-- Nothing may refer to what is not there.
CREATE TABLE dangling (n INTEGER NOT NULL CONSTRAINT every_row_that_is_referred_to_is_there CHECK (n = 0)) STRICT;
INSERT INTO dangling (n) SELECT COUNT(*) FROM pragma_foreign_key_check;
DROP TABLE dangling;
