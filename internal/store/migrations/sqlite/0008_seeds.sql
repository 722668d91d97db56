-- +goose Up
-- What varies in a try (small facts of the story, the order of the palette) is decided
-- by its seed. A try of before has none, and is as it was.

ALTER TABLE drafts ADD COLUMN seed TEXT NOT NULL DEFAULT '';
ALTER TABLE attempts ADD COLUMN seed TEXT NOT NULL DEFAULT '';
