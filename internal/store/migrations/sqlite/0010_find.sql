-- +goose Up
-- A third kind of practice: what is wrong is found in the work of somebody else. The steps
-- of such a draft or attempt are the rows that were marked.
INSERT INTO practice_kinds (word) VALUES ('find');
