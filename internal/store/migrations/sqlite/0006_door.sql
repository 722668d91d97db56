-- +goose Up
-- The door. Wrong passwords are counted by lane: who tries, from where, at which
-- name. Counts of the earlier program were by name alone and are not carried over.

DROP TABLE tries;
CREATE TABLE tries (
    lane     TEXT NOT NULL PRIMARY KEY CHECK (length(lane) = 64),
    failures INTEGER NOT NULL CHECK (failures > 0),
    last_at  TEXT NOT NULL CHECK (last_at GLOB '????-??-??T??:??:??.???Z')
) STRICT;
CREATE INDEX tries_oldest ON tries (last_at);
CREATE INDEX tries_least ON tries (failures, last_at);

-- In what kind of browser a session was begun, and when the password was last
-- given in it ('' while it was not).
ALTER TABLE sessions ADD COLUMN browser TEXT NOT NULL DEFAULT '';
ALTER TABLE sessions ADD COLUMN proved_at TEXT NOT NULL DEFAULT ''
    CHECK (proved_at = '' OR proved_at GLOB '????-??-??T??:??:??.???Z');

-- Grows with each new password and each closing; what was sealed for an earlier
-- one is void.
ALTER TABLE accounts ADD COLUMN generation INTEGER NOT NULL DEFAULT 0;

-- Seals the cookie of a browser in which somebody signed in before.
CREATE TABLE door_secret (
    id     INTEGER NOT NULL PRIMARY KEY CHECK (id = 1),
    secret TEXT NOT NULL CHECK (length(secret) = 64)
) STRICT;
INSERT INTO door_secret (id, secret) VALUES (1, lower(hex(randomblob(32))));
