-- +goose Up
-- What recorders sent, as it was received. The lines of a log are derived from it: while
-- it is recorded, for the page; at the close, into observations.

CREATE TABLE watched_acts (
    demonstration_id TEXT NOT NULL REFERENCES demonstrations (id),
    act_key          TEXT NOT NULL CHECK (act_key <> ''),
    device           TEXT NOT NULL CHECK (device <> ''),
    n                INTEGER NOT NULL CHECK (n >= 1),     -- of this device, in this demonstration
    at_ms            INTEGER NOT NULL,                    -- since the start, by the device
    wall             TEXT NOT NULL,                       -- the device's clock, as it was told
    step             TEXT NOT NULL,
    text             TEXT NOT NULL,
    undo             TEXT NOT NULL, -- the key of the act that it takes back
    lines            INTEGER NOT NULL CHECK (lines >= 0), -- of the log, that it stands for
    received_at      TEXT NOT NULL CHECK (received_at GLOB '????-??-??T??:??:??.???Z'),
    by_id            TEXT NOT NULL REFERENCES people (id),
    by_name          TEXT NOT NULL CHECK (by_name <> ''), -- as it stood
    late             INTEGER NOT NULL CHECK (late IN (0, 1)), -- it came after the close and is no part of the record
    refused          TEXT NOT NULL, -- why it is none either, '' for what counts
    PRIMARY KEY (demonstration_id, act_key),
    UNIQUE (demonstration_id, device, n),
    CONSTRAINT counts_or_refused CHECK (refused <> '' OR at_ms >= 0 AND (undo = '') = (step <> '' OR text <> ''))
) STRICT;

-- Which device records a demonstration, from when on.
CREATE TABLE recording_devices (
    demonstration_id TEXT NOT NULL REFERENCES demonstrations (id),
    seq              INTEGER NOT NULL CHECK (seq >= 1),
    device           TEXT NOT NULL CHECK (device <> ''),
    at               TEXT NOT NULL CHECK (at GLOB '????-??-??T??:??:??.???Z'),
    by_id            TEXT NOT NULL REFERENCES people (id),
    by_name          TEXT NOT NULL CHECK (by_name <> ''),
    PRIMARY KEY (demonstration_id, seq)
) STRICT;

-- +goose StatementBegin
CREATE TRIGGER watched_acts_late_after_the_end BEFORE INSERT ON watched_acts
WHEN NEW.late IS NOT (SELECT s.ends FROM demonstrations_now d JOIN demonstration_states s ON s.word = d.state WHERE d.id = NEW.demonstration_id)
BEGIN SELECT RAISE(ABORT, 'what comes after the end is late, and nothing else is'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER watched_acts_kept BEFORE UPDATE ON watched_acts
BEGIN SELECT RAISE(ABORT, 'what was received is kept'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER watched_acts_stay BEFORE DELETE ON watched_acts
BEGIN SELECT RAISE(ABORT, 'what was received is kept'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER recording_devices_follow BEFORE INSERT ON recording_devices
WHEN NEW.seq <> COALESCE((SELECT MAX(seq) FROM recording_devices WHERE demonstration_id = NEW.demonstration_id), 0) + 1
    OR (SELECT s.ends FROM demonstrations_now d JOIN demonstration_states s ON s.word = d.state WHERE d.id = NEW.demonstration_id) IS NOT 0
BEGIN SELECT RAISE(ABORT, 'devices take over one after the other, while it is recorded'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER recording_devices_kept BEFORE UPDATE ON recording_devices
BEGIN SELECT RAISE(ABORT, 'who recorded is kept'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER recording_devices_stay BEFORE DELETE ON recording_devices
BEGIN SELECT RAISE(ABORT, 'who recorded is kept'); END;
-- +goose StatementEnd
