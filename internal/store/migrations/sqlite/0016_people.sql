-- +goose Up
-- People may have several roles and several times in which they work here. The latest of
-- those stands with the person, and each that is over is a row.

INSERT INTO roles (word) VALUES ('manager');

ALTER TABLE people ADD COLUMN also  TEXT NOT NULL DEFAULT '' CHECK (also NOT GLOB '*[^a-z ]*');
ALTER TABLE people ADD COLUMN job   TEXT NOT NULL DEFAULT '';
ALTER TABLE people ADD COLUMN team  TEXT NOT NULL DEFAULT '';
ALTER TABLE people ADD COLUMN email TEXT NOT NULL DEFAULT '';

CREATE TABLE employment_spells (
    person_id TEXT NOT NULL REFERENCES people (id),
    hired     TEXT NOT NULL CHECK (hired = '' OR hired GLOB '????-??-??'),
    left_on   TEXT NOT NULL CHECK (left_on GLOB '????-??-??'),
    PRIMARY KEY (person_id, hired),
    CONSTRAINT a_spell_ends_after_it_began CHECK (left_on >= hired)
) STRICT;

-- +goose StatementBegin
CREATE TRIGGER employment_spells_kept BEFORE UPDATE ON employment_spells BEGIN SELECT RAISE(ABORT, 'spells of employment are kept'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER employment_spells_stay BEFORE DELETE ON employment_spells BEGIN SELECT RAISE(ABORT, 'spells of employment are kept'); END;
-- +goose StatementEnd
