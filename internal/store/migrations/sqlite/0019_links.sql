-- +goose Up
-- A link by which somebody chooses their own password, once: the first one, or a new one. What
-- is kept of it is its hash; it ends with its use, its time, or what else is done to the account.

CREATE TABLE account_links (
    person_id  TEXT NOT NULL PRIMARY KEY REFERENCES accounts (person_id),
    token_hash TEXT NOT NULL UNIQUE CHECK (length(token_hash) = 64),
    until      TEXT NOT NULL CHECK (until GLOB '????-??-??T??:??:??.???Z'),
    made_by    TEXT NOT NULL CHECK (made_by <> '') -- by name
) STRICT;
