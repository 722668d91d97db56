-- +goose Up
-- Words of states are checked here as well as in the program. Moments are UTC
-- text of fixed width and days are text, so that text order is time order.

CREATE TABLE clinic (
    id           INTEGER NOT NULL PRIMARY KEY CHECK (id = 1),
    verifier_key TEXT NOT NULL
) STRICT;

CREATE TABLE people (
    id       TEXT NOT NULL PRIMARY KEY CHECK (id <> ''),
    name     TEXT NOT NULL CHECK (trim(name) <> ''),
    staff_no TEXT NOT NULL,
    role     TEXT NOT NULL CHECK (role IN ('trainee', 'preceptor', 'educator')),
    hired    TEXT NOT NULL CHECK (hired = '' OR hired GLOB '????-??-??'),
    left_on  TEXT NOT NULL CHECK (left_on = '' OR left_on GLOB '????-??-??'),
    added_at TEXT NOT NULL CHECK (added_at GLOB '????-??-??T??:??:??.???Z')
) STRICT;

CREATE UNIQUE INDEX people_staff_no ON people (staff_no) WHERE staff_no <> '';

CREATE TABLE accounts (
    person_id     TEXT NOT NULL PRIMARY KEY REFERENCES people (id),
    username      TEXT NOT NULL UNIQUE CHECK (username <> '' AND username = lower(username)),
    password_hash TEXT NOT NULL,
    first_until   TEXT NOT NULL CHECK (first_until = '' OR first_until GLOB '????-??-??T??:??:??.???Z'),
    disabled      INTEGER NOT NULL CHECK (disabled IN (0, 1))
) STRICT;

CREATE TABLE sessions (
    id_hash   TEXT NOT NULL PRIMARY KEY CHECK (length(id_hash) = 64),
    person_id TEXT NOT NULL REFERENCES people (id),
    began_at  TEXT NOT NULL CHECK (began_at GLOB '????-??-??T??:??:??.???Z'),
    last_seen TEXT NOT NULL CHECK (last_seen GLOB '????-??-??T??:??:??.???Z')
) STRICT;

CREATE INDEX sessions_person ON sessions (person_id);

CREATE TABLE tries (
    name_hash TEXT NOT NULL PRIMARY KEY CHECK (length(name_hash) = 64),
    failures  INTEGER NOT NULL CHECK (failures > 0),
    last_at   TEXT NOT NULL CHECK (last_at GLOB '????-??-??T??:??:??.???Z')
) STRICT;

CREATE TABLE first_run (
    id         INTEGER NOT NULL PRIMARY KEY CHECK (id = 1),
    token_hash TEXT NOT NULL CHECK (length(token_hash) = 64),
    until      TEXT NOT NULL CHECK (until GLOB '????-??-??T??:??:??.???Z')
) STRICT;

CREATE TABLE entitlements (
    id         TEXT NOT NULL PRIMARY KEY CHECK (id <> ''),
    person_id  TEXT NOT NULL REFERENCES people (id),
    competency TEXT NOT NULL CHECK (competency <> ''),
    from_day   TEXT NOT NULL CHECK (from_day GLOB '????-??-??'),
    until_day  TEXT NOT NULL CHECK (until_day GLOB '????-??-??' AND until_day >= from_day),
    granted_by TEXT NOT NULL REFERENCES people (id),
    granted_at TEXT NOT NULL CHECK (granted_at GLOB '????-??-??T??:??:??.???Z')
) STRICT;

CREATE INDEX entitlements_person ON entitlements (person_id, competency);

-- The memory of what was done under which client-made key. person_id may be
-- nobody's yet (the first educator's own making), hence no foreign key.
CREATE TABLE act_keys (
    person_id TEXT NOT NULL,
    key       TEXT NOT NULL CHECK (length(key) BETWEEN 8 AND 100),
    act       TEXT NOT NULL CHECK (act <> ''),
    body_hash TEXT NOT NULL CHECK (length(body_hash) = 64),
    answer_id TEXT NOT NULL,
    done_at   TEXT NOT NULL CHECK (done_at GLOB '????-??-??T??:??:??.???Z'),
    PRIMARY KEY (person_id, key)
) STRICT;

CREATE TABLE drafts (
    id          TEXT NOT NULL PRIMARY KEY CHECK (id <> ''),
    person_id   TEXT NOT NULL REFERENCES people (id),
    scenario_id TEXT NOT NULL CHECK (scenario_id <> ''),
    kind        TEXT NOT NULL CHECK (kind IN ('build', 'run')),
    started_at  TEXT NOT NULL CHECK (started_at GLOB '????-??-??T??:??:??.???Z'),
    pace        INTEGER NOT NULL CHECK (pace >= 1),
    revision    INTEGER NOT NULL CHECK (revision >= 0),
    steps       TEXT NOT NULL,
    updated_at  TEXT NOT NULL CHECK (updated_at GLOB '????-??-??T??:??:??.???Z'),
    UNIQUE (person_id, scenario_id)
) STRICT;

CREATE TABLE draft_taps (
    draft_id TEXT NOT NULL REFERENCES drafts (id) ON DELETE CASCADE,
    seq      INTEGER NOT NULL CHECK (seq >= 1),
    step     TEXT NOT NULL CHECK (step <> ''),
    at_ms    INTEGER NOT NULL CHECK (at_ms >= 0),
    PRIMARY KEY (draft_id, seq)
) STRICT;

CREATE TABLE attempts (
    id             TEXT NOT NULL PRIMARY KEY CHECK (id <> ''),
    person_id      TEXT NOT NULL REFERENCES people (id),
    scenario_id    TEXT NOT NULL CHECK (scenario_id <> ''),
    scenario_hash  TEXT NOT NULL,
    kind           TEXT NOT NULL CHECK (kind IN ('build', 'run')),
    pace           INTEGER NOT NULL CHECK (pace >= 1),
    started_at     TEXT NOT NULL CHECK (started_at GLOB '????-??-??T??:??:??.???Z'),
    finished_at    TEXT NOT NULL CHECK (finished_at GLOB '????-??-??T??:??:??.???Z' AND finished_at >= started_at),
    log            TEXT NOT NULL CHECK (log <> ''),
    procedure      TEXT NOT NULL CHECK (procedure <> ''),
    procedure_hash TEXT NOT NULL CHECK (length(procedure_hash) = 64),
    rules_version  INTEGER NOT NULL CHECK (rules_version >= 1),
    result_json    BLOB NOT NULL CHECK (length(result_json) > 0),
    outcome        TEXT NOT NULL CHECK (outcome IN ('pass', 'not pass', 'incomplete')),
    steps          TEXT NOT NULL,
    lines          TEXT NOT NULL
) STRICT;

CREATE INDEX attempts_person ON attempts (person_id, finished_at);

CREATE TABLE demonstrations (
    id             TEXT NOT NULL PRIMARY KEY CHECK (id <> ''),
    trainee_id     TEXT NOT NULL REFERENCES people (id),
    preceptor_id   TEXT NOT NULL REFERENCES people (id),
    competency     TEXT NOT NULL CHECK (competency <> ''),
    product        TEXT NOT NULL CHECK (product <> ''),
    started_at     TEXT NOT NULL CHECK (started_at GLOB '????-??-??T??:??:??.???Z'),
    ended_at       TEXT NOT NULL CHECK (ended_at = '' OR ended_at GLOB '????-??-??T??:??:??.???Z'),
    state          TEXT NOT NULL CHECK (state IN ('recording', 'ended', 'abandoned')),
    log            TEXT NOT NULL,
    procedure      TEXT NOT NULL CHECK (procedure <> ''),
    procedure_hash TEXT NOT NULL CHECK (length(procedure_hash) = 64),
    rules_version  INTEGER NOT NULL CHECK (rules_version >= 0),
    result_json    BLOB NOT NULL,
    outcome        TEXT NOT NULL CHECK (outcome IN ('', 'pass', 'not pass', 'incomplete')),
    prompted       INTEGER NOT NULL CHECK (prompted IN (0, 1)),
    comment        TEXT NOT NULL,
    CHECK (trainee_id <> preceptor_id),
    CHECK ((state = 'recording') = (ended_at = '')),
    CHECK ((state = 'ended') = (outcome <> '')),
    CHECK ((state = 'ended') = (log <> '')),
    CHECK ((state = 'ended') = (length(result_json) > 0))
) STRICT;

CREATE INDEX demonstrations_trainee ON demonstrations (trainee_id, started_at);
CREATE INDEX demonstrations_preceptor ON demonstrations (preceptor_id, started_at);

CREATE TABLE observations (
    demonstration_id TEXT NOT NULL REFERENCES demonstrations (id),
    seq              INTEGER NOT NULL CHECK (seq >= 1),
    tap_key          TEXT NOT NULL CHECK (tap_key <> ''),
    at_ms            INTEGER NOT NULL CHECK (at_ms >= 0),
    text             TEXT NOT NULL CHECK (text <> ''),
    step             TEXT NOT NULL,
    sent_at          TEXT NOT NULL CHECK (sent_at GLOB '????-??-??T??:??:??.???Z'),
    PRIMARY KEY (demonstration_id, seq)
) STRICT;

CREATE INDEX observations_key ON observations (demonstration_id, tap_key);

CREATE TABLE ledger_leaves (
    i    INTEGER NOT NULL PRIMARY KEY CHECK (i >= 0),
    leaf BLOB NOT NULL CHECK (length(leaf) > 0)
) STRICT;

CREATE TABLE ledger_nodes (
    i    INTEGER NOT NULL PRIMARY KEY CHECK (i >= 0),
    hash BLOB NOT NULL CHECK (length(hash) = 32)
) STRICT;

CREATE TABLE ledger_heads (
    size INTEGER NOT NULL PRIMARY KEY CHECK (size >= 1),
    note TEXT NOT NULL
) STRICT;

CREATE TABLE signatures (
    demonstration_id TEXT NOT NULL REFERENCES demonstrations (id),
    signer_id        TEXT NOT NULL REFERENCES people (id),
    signer_name      TEXT NOT NULL CHECK (signer_name <> ''),
    meaning          TEXT NOT NULL CHECK (meaning IN ('learner', 'watched-met', 'watched-not-met', 'watched-practice')),
    signed_at        TEXT NOT NULL CHECK (signed_at GLOB '????-??-??T??:??:??.???Z'),
    leaf             INTEGER NOT NULL PRIMARY KEY REFERENCES ledger_leaves (i)
) STRICT;

-- One signature of the learner and one of the preceptor.
CREATE UNIQUE INDEX signatures_two ON signatures (demonstration_id, (meaning = 'learner'));

CREATE TABLE sign_offs (
    id          TEXT NOT NULL PRIMARY KEY CHECK (id <> ''),
    person_id   TEXT NOT NULL REFERENCES people (id),
    competency  TEXT NOT NULL CHECK (competency <> ''),
    signer_id   TEXT NOT NULL REFERENCES people (id),
    signer_name TEXT NOT NULL CHECK (signer_name <> ''),
    signed_on   TEXT NOT NULL CHECK (signed_on GLOB '????-??-??'),
    signed_at   TEXT NOT NULL CHECK (signed_at GLOB '????-??-??T??:??:??.???Z'),
    due         TEXT NOT NULL CHECK (due GLOB '????-??-??' AND due > signed_on),
    leaf        INTEGER NOT NULL UNIQUE REFERENCES ledger_leaves (i),
    CHECK (person_id <> signer_id)
) STRICT;

CREATE INDEX sign_offs_person ON sign_offs (person_id, competency, signed_at);

CREATE TABLE sign_off_evidence (
    sign_off_id      TEXT NOT NULL REFERENCES sign_offs (id),
    seq              INTEGER NOT NULL CHECK (seq >= 1),
    demonstration_id TEXT REFERENCES demonstrations (id),
    attempt_id       TEXT REFERENCES attempts (id),
    PRIMARY KEY (sign_off_id, seq),
    CHECK ((demonstration_id IS NULL) <> (attempt_id IS NULL))
) STRICT;
