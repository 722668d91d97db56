-- +goose Up
-- What was judged, recorded or signed is never changed and never removed.

-- +goose StatementBegin
CREATE TRIGGER attempts_kept BEFORE UPDATE ON attempts
BEGIN SELECT RAISE(ABORT, 'attempts are kept as they were judged'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER attempts_stay BEFORE DELETE ON attempts
BEGIN SELECT RAISE(ABORT, 'attempts are kept as they were judged'); END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER demonstrations_kept BEFORE UPDATE ON demonstrations
WHEN OLD.state <> 'recording'
BEGIN SELECT RAISE(ABORT, 'a demonstration that has ended is kept as it was judged'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER demonstrations_same BEFORE UPDATE ON demonstrations
WHEN OLD.id <> NEW.id OR OLD.trainee_id <> NEW.trainee_id OR OLD.preceptor_id <> NEW.preceptor_id
  OR OLD.competency <> NEW.competency OR OLD.product <> NEW.product OR OLD.started_at <> NEW.started_at
BEGIN SELECT RAISE(ABORT, 'who, what and when of a demonstration do not change'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER demonstrations_stay BEFORE DELETE ON demonstrations
BEGIN SELECT RAISE(ABORT, 'demonstrations are kept'); END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER observations_while_recording BEFORE INSERT ON observations
WHEN (SELECT state FROM demonstrations WHERE id = NEW.demonstration_id) IS NOT 'recording'
BEGIN SELECT RAISE(ABORT, 'nothing is added to a demonstration that has ended'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER observations_kept BEFORE UPDATE ON observations
BEGIN SELECT RAISE(ABORT, 'recorded lines are kept'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER observations_stay BEFORE DELETE ON observations
BEGIN SELECT RAISE(ABORT, 'recorded lines are kept'); END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER signatures_right BEFORE INSERT ON signatures
WHEN NOT EXISTS (
    SELECT 1 FROM demonstrations d WHERE d.id = NEW.demonstration_id AND d.state = 'ended'
      AND NEW.signer_id = CASE NEW.meaning WHEN 'learner' THEN d.trainee_id ELSE d.preceptor_id END
      AND (NEW.meaning <> 'watched-met' OR (d.outcome = 'pass' AND d.prompted = 0)))
BEGIN SELECT RAISE(ABORT, 'this signature does not fit its demonstration'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER signatures_kept BEFORE UPDATE ON signatures
BEGIN SELECT RAISE(ABORT, 'signatures are kept'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER signatures_stay BEFORE DELETE ON signatures
BEGIN SELECT RAISE(ABORT, 'signatures are kept'); END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER sign_offs_kept BEFORE UPDATE ON sign_offs
BEGIN SELECT RAISE(ABORT, 'sign-offs are kept'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER sign_offs_stay BEFORE DELETE ON sign_offs
BEGIN SELECT RAISE(ABORT, 'sign-offs are kept'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER sign_off_evidence_kept BEFORE UPDATE ON sign_off_evidence
BEGIN SELECT RAISE(ABORT, 'the evidence of a sign-off is kept'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER sign_off_evidence_stay BEFORE DELETE ON sign_off_evidence
BEGIN SELECT RAISE(ABORT, 'the evidence of a sign-off is kept'); END;
-- +goose StatementEnd

-- +goose StatementBegin
CREATE TRIGGER ledger_leaves_kept BEFORE UPDATE ON ledger_leaves
BEGIN SELECT RAISE(ABORT, 'the ledger only grows'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER ledger_leaves_stay BEFORE DELETE ON ledger_leaves
BEGIN SELECT RAISE(ABORT, 'the ledger only grows'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER ledger_nodes_kept BEFORE UPDATE ON ledger_nodes
BEGIN SELECT RAISE(ABORT, 'the ledger only grows'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER ledger_nodes_stay BEFORE DELETE ON ledger_nodes
BEGIN SELECT RAISE(ABORT, 'the ledger only grows'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER ledger_heads_kept BEFORE UPDATE ON ledger_heads
BEGIN SELECT RAISE(ABORT, 'the ledger only grows'); END;
-- +goose StatementEnd
-- +goose StatementBegin
CREATE TRIGGER ledger_heads_stay BEFORE DELETE ON ledger_heads
BEGIN SELECT RAISE(ABORT, 'the ledger only grows'); END;
-- +goose StatementEnd
