-- +goose Up
-- Kept free for what the door keeps.
SELECT 1;
