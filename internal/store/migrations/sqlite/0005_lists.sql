-- +goose Up
-- Indexes that hold all that everyone's standing asks for, so that it reads no
-- row of a table.

DROP INDEX attempts_passed;
CREATE INDEX attempts_passed ON attempts (person_id, scenario_id, finished_at, id, outcome) WHERE outcome = 'pass';

DROP INDEX demonstrations_trainee;
CREATE INDEX demonstrations_trainee ON demonstrations (trainee_id, competency, started_at, id, preceptor_id);

CREATE INDEX signatures_meaning ON signatures (demonstration_id, meaning, signed_at);

DROP INDEX sign_offs_person;
CREATE INDEX sign_offs_person ON sign_offs (person_id, competency, signed_at, leaf, signed_on, id);
