-- +goose Up
-- A demonstration that was recorded under the wrong person or product is withdrawn, and stands
-- again as a record of its own, which names it.

DROP VIEW demonstrations_now;
ALTER TABLE demonstrations ADD COLUMN corrects TEXT NOT NULL DEFAULT ''; -- id of the one that was withdrawn for it
CREATE UNIQUE INDEX demonstrations_corrects ON demonstrations (corrects) WHERE corrects <> '';

CREATE VIEW demonstrations_now AS
    SELECT d.id, d.trainee_id, d.preceptor_id, d.competency, d.product, d.started_at, d.purpose, d.announced, d.in_use, d.discipline, d.shift, d.corrects,
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

-- +goose StatementBegin
CREATE TRIGGER demonstrations_correct_what_is_there BEFORE INSERT ON demonstrations
WHEN NEW.corrects <> '' AND NOT EXISTS (SELECT 1 FROM demonstration_events WHERE demonstration_id = NEW.corrects AND state = 'withdrawn')
BEGIN SELECT RAISE(ABORT, 'what a demonstration corrects was withdrawn for it'); END;
-- +goose StatementEnd
