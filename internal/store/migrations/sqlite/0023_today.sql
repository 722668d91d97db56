-- +goose Up
-- Who may see today's list of who may work alone besides those whose role lets them: a right
-- of a person, no role.

ALTER TABLE people ADD COLUMN sees_today INTEGER NOT NULL DEFAULT 0 CHECK (sees_today IN (0, 1));
