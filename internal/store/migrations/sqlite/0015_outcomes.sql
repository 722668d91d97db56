-- +goose Up
-- What becomes of a demonstration after its recording: it may be corrected, its outcome is
-- chosen, signed, refused or withdrawn. Each is an event with who, why and a leaf. A
-- watched work may also be a routine observation, of a person or only of a discipline.

DROP VIEW demonstrations_now;
DROP TRIGGER demonstration_events_last;

CREATE TABLE watching_purposes (word TEXT NOT NULL PRIMARY KEY CHECK (word <> '')) STRICT;
INSERT INTO watching_purposes (word) VALUES ('return'), ('routine');

-- Tables that others name are made anew: the legacy way of renaming leaves those names alone.
PRAGMA legacy_alter_table = ON;

CREATE TABLE demonstrations_15 (
    id             TEXT NOT NULL PRIMARY KEY CHECK (id <> ''),
    trainee_id     TEXT REFERENCES people (id), -- nobody: an observation that names none
    preceptor_id   TEXT NOT NULL REFERENCES people (id),
    competency     TEXT NOT NULL CHECK (competency <> ''),
    product        TEXT NOT NULL CHECK (product <> ''),
    started_at     TEXT NOT NULL CHECK (started_at GLOB '????-??-??T??:??:??.???Z'),
    procedure      TEXT NOT NULL CHECK (procedure <> ''),
    procedure_hash TEXT NOT NULL CHECK (length(procedure_hash) = 64),
    purpose        TEXT NOT NULL DEFAULT 'return' REFERENCES watching_purposes (word),
    announced      TEXT NOT NULL DEFAULT '' CHECK (announced IN ('', 'yes', 'no')), -- nobody said of those of before
    in_use         TEXT NOT NULL DEFAULT '',            -- further products, and when what is mixed was made, as JSON
    discipline     TEXT NOT NULL DEFAULT '',            -- of whoever is not named
    shift          TEXT NOT NULL DEFAULT '',
    CONSTRAINT nobody_watches_themself CHECK (trainee_id IS NULL OR trainee_id <> preceptor_id),
    CONSTRAINT only_a_routine_observation_names_nobody CHECK (trainee_id IS NOT NULL OR purpose = 'routine' AND discipline <> '')
) STRICT;
INSERT INTO demonstrations_15 (id, trainee_id, preceptor_id, competency, product, started_at, procedure, procedure_hash)
    SELECT id, trainee_id, preceptor_id, competency, product, started_at, procedure, procedure_hash FROM demonstrations ORDER BY rowid;
DROP TABLE demonstrations;
ALTER TABLE demonstrations_15 RENAME TO demonstrations;
CREATE INDEX demonstrations_trainee ON demonstrations (trainee_id, competency, started_at, id, preceptor_id);
CREATE INDEX demonstrations_preceptor ON demonstrations (preceptor_id, started_at);
CREATE INDEX demonstrations_started ON demonstrations (started_at);

-- A result is of the event that judged: the end of the recording, or a correction.
CREATE TABLE demonstration_results_15 (
    demonstration_id TEXT NOT NULL REFERENCES demonstrations (id),
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
    PRIMARY KEY (demonstration_id, event),
    FOREIGN KEY (demonstration_id, event) REFERENCES demonstration_events (demonstration_id, seq) DEFERRABLE INITIALLY DEFERRED
) STRICT;
INSERT INTO demonstration_results_15 (demonstration_id, event, outcome, prompted, rules_version, procedure, procedure_hash, comment, log, result_json)
    SELECT demonstration_id, event, outcome, prompted, rules_version, procedure, procedure_hash, comment, log, result_json
    FROM demonstration_results ORDER BY rowid;
DROP TABLE demonstration_results;
ALTER TABLE demonstration_results_15 RENAME TO demonstration_results;
CREATE INDEX demonstration_results_told ON demonstration_results (demonstration_id, event, outcome, prompted, score);

PRAGMA legacy_alter_table = OFF;

-- The states that come after the recording end nothing of it.
INSERT INTO demonstration_states (word, ends, judged) VALUES ('reviewed', 0, 0), ('refused', 0, 0), ('met', 0, 0), ('not met', 0, 0), ('practice', 0, 0),
    ('not assessed', 0, 0), ('kept', 0, 0), ('withdrawn', 0, 0);
INSERT INTO meanings (word, signer, clean) VALUES ('watched-incomplete', 'preceptor', 0);
INSERT INTO leaf_kinds (word) VALUES ('review'), ('plan');

ALTER TABLE demonstration_events ADD COLUMN by_id TEXT NOT NULL DEFAULT '';
ALTER TABLE demonstration_events ADD COLUMN by_name TEXT NOT NULL DEFAULT '';
ALTER TABLE demonstration_events ADD COLUMN meaning TEXT NOT NULL DEFAULT ''; -- the outcome that was chosen, or signed
ALTER TABLE demonstration_events ADD COLUMN why TEXT NOT NULL DEFAULT '';
ALTER TABLE demonstration_events ADD COLUMN leaf INTEGER REFERENCES record_leaves (leaf);

-- Which state may follow which, by what it was watched for; '' is either.
CREATE TABLE demonstration_moves (
    was     TEXT NOT NULL REFERENCES demonstration_states (word),
    next    TEXT NOT NULL REFERENCES demonstration_states (word),
    purpose TEXT NOT NULL,
    PRIMARY KEY (was, next)
) STRICT;
INSERT INTO demonstration_moves (was, next, purpose) VALUES ('recording', 'ended', ''), ('recording', 'abandoned', ''),
    ('ended', 'ended', ''), ('reviewed', 'ended', ''), ('refused', 'ended', ''),
    ('ended', 'reviewed', 'return'), ('reviewed', 'reviewed', 'return'), ('refused', 'reviewed', 'return'),
    ('reviewed', 'refused', 'return'),
    ('reviewed', 'met', 'return'), ('reviewed', 'not met', 'return'), ('reviewed', 'practice', 'return'), ('reviewed', 'not assessed', 'return'),
    ('refused', 'not met', 'return'), ('refused', 'practice', 'return'), ('refused', 'not assessed', 'return'),
    ('ended', 'kept', 'routine'),
    ('ended', 'withdrawn', ''), ('reviewed', 'withdrawn', ''), ('refused', 'withdrawn', ''), ('met', 'withdrawn', ''), ('not met', 'withdrawn', ''),
    ('practice', 'withdrawn', ''), ('not assessed', 'withdrawn', ''), ('kept', 'withdrawn', '');

-- What a correction struck from the log and put into it.
CREATE TABLE demonstration_corrections (
    demonstration_id TEXT NOT NULL REFERENCES demonstrations (id),
    event            INTEGER NOT NULL,
    n                INTEGER NOT NULL CHECK (n >= 1),
    struck           INTEGER NOT NULL CHECK (struck >= 0), -- number of a recorded line, 0 for none
    at_ms            INTEGER NOT NULL CHECK (at_ms >= 0),
    step             TEXT NOT NULL,
    text             TEXT NOT NULL,
    PRIMARY KEY (demonstration_id, event, n),
    FOREIGN KEY (demonstration_id, event) REFERENCES demonstration_events (demonstration_id, seq) DEFERRABLE INITIALLY DEFERRED,
    CONSTRAINT strikes_or_puts CHECK ((struck > 0) <> (step <> '' OR text <> ''))
) STRICT;

ALTER TABLE signatures ADD COLUMN said TEXT NOT NULL DEFAULT '';          -- the learner's own sentence
ALTER TABLE sessions ADD COLUMN handed TEXT NOT NULL DEFAULT '';          -- the demonstration that a learner signs in it

-- What an unmet demonstration proposes to practise, and what became of it.
CREATE TABLE plans (
    id               TEXT NOT NULL PRIMARY KEY CHECK (id <> ''),
    person_id        TEXT NOT NULL REFERENCES people (id),
    competency       TEXT NOT NULL CHECK (competency <> ''),
    demonstration_id TEXT NOT NULL UNIQUE REFERENCES demonstrations (id),
    marks            TEXT NOT NULL, -- that were missed or left open, as JSON
    scenarios        TEXT NOT NULL  -- that train just these, as JSON
) STRICT;
CREATE INDEX plans_person ON plans (person_id, competency);

CREATE TABLE plan_event_kinds (word TEXT NOT NULL PRIMARY KEY CHECK (word <> '')) STRICT;
INSERT INTO plan_event_kinds (word) VALUES ('proposed'), ('opened'), ('declined');

CREATE TABLE plan_events (
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
    CONSTRAINT proposed_first_and_answered_once CHECK ((seq = 1) = (event = 'proposed') AND seq <= 2)
) STRICT;

-- A demonstration as far as it has come: state is how its recording ended, stage what
-- became of it since.
CREATE VIEW demonstrations_now AS
    SELECT d.id, d.trainee_id, d.preceptor_id, d.competency, d.product, d.started_at, d.purpose, d.announced, d.in_use, d.discipline, d.shift,
        CASE WHEN s.ends THEN e.at ELSE '' END AS ended_at, COALESCE(e.state, '') AS state, COALESCE(l.state, '') AS stage,
        COALESCE(r.outcome, '') AS outcome, r.score, COALESCE(r.prompted, 0) AS prompted, COALESCE(r.rules_version, 0) AS rules_version,
        COALESCE(r.procedure, d.procedure) AS procedure, COALESCE(r.procedure_hash, d.procedure_hash) AS procedure_hash,
        COALESCE(r.comment, '') AS comment, COALESCE(r.log, '') AS log, r.result_json
    FROM demonstrations d
    LEFT JOIN demonstration_events e ON e.demonstration_id = d.id
        AND e.seq = (SELECT MAX(seq) FROM demonstration_events WHERE demonstration_id = d.id AND seq <= 2)
    LEFT JOIN demonstration_states s ON s.word = e.state
    LEFT JOIN demonstration_events l ON l.demonstration_id = d.id
        AND l.seq = (SELECT MAX(seq) FROM demonstration_events WHERE demonstration_id = d.id)
    LEFT JOIN demonstration_results r ON r.demonstration_id = d.id
        AND r.event = (SELECT MAX(event) FROM demonstration_results WHERE demonstration_id = d.id);

DROP TRIGGER signatures_right;

-- +goose StatementBegin
CREATE TRIGGER demonstrations_kept BEFORE UPDATE ON demonstrations
BEGIN SELECT RAISE(ABORT, 'a demonstration is kept as it was begun'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER demonstrations_stay BEFORE DELETE ON demonstrations
BEGIN SELECT RAISE(ABORT, 'demonstrations are kept'); END;
-- +goose StatementEnd

-- A record comes after what it cites.
-- +goose StatementBegin
CREATE TRIGGER demonstrations_cite BEFORE INSERT ON demonstrations
WHEN NOT EXISTS (SELECT 1 FROM definitions WHERE hash = NEW.procedure_hash AND kind = 'procedure' AND id = NEW.procedure)
BEGIN SELECT RAISE(ABORT, 'what a record cites is kept with it'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER demonstration_results_cite BEFORE INSERT ON demonstration_results
WHEN NOT EXISTS (SELECT 1 FROM definitions WHERE hash = NEW.procedure_hash AND kind = 'procedure' AND id = NEW.procedure)
BEGIN SELECT RAISE(ABORT, 'what a record cites is kept with it'); END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER demonstration_events_move BEFORE INSERT ON demonstration_events
WHEN NEW.seq > 1 AND NOT EXISTS (SELECT 1 FROM demonstration_moves m JOIN demonstrations_now d ON d.id = NEW.demonstration_id
    WHERE m.was = d.stage AND m.next = NEW.state AND m.purpose IN ('', d.purpose))
BEGIN SELECT RAISE(ABORT, 'a demonstration in this state does not come to that one'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER demonstration_events_say_who BEFORE INSERT ON demonstration_events
WHEN NEW.seq > 2 AND (NEW.by_id = '' OR NEW.by_name = '' OR NEW.leaf IS NULL
    OR NEW.why = '' AND NEW.state IN ('ended', 'refused', 'withdrawn')
    OR (NEW.meaning <> '') <> (NEW.state IN ('reviewed', 'met', 'not met', 'practice', 'not assessed')))
BEGIN SELECT RAISE(ABORT, 'what becomes of a demonstration says who, and why'); END;
-- +goose StatementEnd

-- A result comes just before the event that it is of, in one transaction.
-- +goose StatementBegin
CREATE TRIGGER demonstration_results_once BEFORE INSERT ON demonstration_results
WHEN NEW.event IS NOT (SELECT MAX(seq) + 1 FROM demonstration_events WHERE demonstration_id = NEW.demonstration_id)
  OR NOT EXISTS (SELECT 1 FROM demonstrations_now d JOIN demonstration_moves m ON m.was = d.stage AND m.next = 'ended' WHERE d.id = NEW.demonstration_id)
  OR EXISTS (SELECT 1 FROM signatures WHERE demonstration_id = NEW.demonstration_id)
BEGIN SELECT RAISE(ABORT, 'only a demonstration that nobody has signed is judged'); END;
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
CREATE TRIGGER demonstration_corrections_kept BEFORE UPDATE ON demonstration_corrections
BEGIN SELECT RAISE(ABORT, 'corrections are kept'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER demonstration_corrections_stay BEFORE DELETE ON demonstration_corrections
BEGIN SELECT RAISE(ABORT, 'corrections are kept'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER demonstration_corrections_first BEFORE INSERT ON demonstration_corrections
WHEN NEW.event IS NOT (SELECT MAX(seq) + 1 FROM demonstration_events WHERE demonstration_id = NEW.demonstration_id)
BEGIN SELECT RAISE(ABORT, 'a correction comes just before its event'); END;
-- +goose StatementEnd

-- The outcome is chosen first; the learner signs it, then the preceptor what was chosen.
-- Where the learner refuses, what says nothing good of them can be signed all the same.
-- +goose StatementBegin
CREATE TRIGGER signatures_right BEFORE INSERT ON signatures
WHEN NOT EXISTS (
    SELECT 1 FROM demonstrations_now d JOIN meanings m ON m.word = NEW.meaning
    WHERE d.id = NEW.demonstration_id AND d.purpose = 'return' AND d.stage IN ('reviewed', 'refused')
      AND NEW.signer_id = CASE m.signer WHEN 'trainee' THEN d.trainee_id ELSE d.preceptor_id END
      AND (m.clean = 0 OR (d.outcome = 'pass' AND d.prompted = 0))
      AND (m.signer = 'trainee' OR (
        NEW.meaning = (SELECT meaning FROM demonstration_events WHERE demonstration_id = d.id AND state = 'reviewed' ORDER BY seq DESC LIMIT 1)
        AND (d.stage = 'refused' AND m.clean = 0
          OR EXISTS (SELECT 1 FROM signatures n WHERE n.demonstration_id = d.id AND n.signer_id = d.trainee_id)))))
BEGIN SELECT RAISE(ABORT, 'this signature does not fit its demonstration'); END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER plans_kept BEFORE UPDATE ON plans BEGIN SELECT RAISE(ABORT, 'plans are kept'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER plans_stay BEFORE DELETE ON plans BEGIN SELECT RAISE(ABORT, 'plans are kept'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER plan_events_in_turn BEFORE INSERT ON plan_events
WHEN NEW.seq IS NOT (SELECT COALESCE(MAX(seq), 0) + 1 FROM plan_events WHERE plan_id = NEW.plan_id)
BEGIN SELECT RAISE(ABORT, 'what becomes of a plan comes one after the other'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER plan_events_kept BEFORE UPDATE ON plan_events BEGIN SELECT RAISE(ABORT, 'what became of a plan is kept'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER plan_events_stay BEFORE DELETE ON plan_events BEGIN SELECT RAISE(ABORT, 'what became of a plan is kept'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER watching_purposes_kept BEFORE UPDATE ON watching_purposes BEGIN SELECT RAISE(ABORT, 'words are kept'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER plan_event_kinds_kept BEFORE UPDATE ON plan_event_kinds BEGIN SELECT RAISE(ABORT, 'words are kept'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER demonstration_moves_kept BEFORE UPDATE ON demonstration_moves BEGIN SELECT RAISE(ABORT, 'words are kept'); END;
-- +goose StatementEnd

-- Nothing may refer to what is not there.
CREATE TABLE dangling (n INTEGER NOT NULL CONSTRAINT every_row_that_is_referred_to_is_there CHECK (n = 0)) STRICT;
INSERT INTO dangling (n) SELECT COUNT(*) FROM pragma_foreign_key_check;
DROP TABLE dangling;
