package training

import (
	"encoding/json"
	"fmt"

	"stillwet/internal/ledger"
	"stillwet/internal/procedure"
)

// leafVersion is the version of what a leaf holds.
const leafVersion = 1

// signatureLeaf is what a signature on a demonstration signs: who did what, by
// which rules it was judged, the hashes of log, result and recorded lines, and
// the words.
func signatureLeaf(d Demonstration, lines []Observed, n Signature) (ledger.Fields, error) {
	recorded, err := json.Marshal(lines)
	if err != nil {
		return nil, fmt.Errorf("lines of demonstration %s: %w", d.ID, err)
	}
	return ledger.Fields{
		"version": leafVersion, "kind": "signature", "record": d.ID,
		"trainee_id": d.TraineeID, "preceptor_id": d.PreceptorID, "competency": d.Competency, "product": d.Product,
		"started_at": string(d.StartedAt), "ended_at": string(d.EndedAt), "state": string(d.State),
		"procedure": d.Procedure, "procedure_hash": d.ProcedureHash, "rules_version": d.RulesVersion,
		"outcome": string(d.Outcome), "prompted": d.Prompted, "comment": d.Comment,
		"result_sha256": procedure.Digest(d.ResultJSON), "log_sha256": procedure.Digest([]byte(d.Log)),
		"signer_id": n.SignerID, "signer_name": n.SignerName, "meaning": string(n.Meaning), "words": n.Meaning.Words(),
		"signed_at": string(n.SignedAt), "lines_sha256": procedure.Digest(recorded),
	}, nil
}

// signOffLeaf is what a sign-off signs: the person, the competency, until when,
// and the evidence by its hashes.
func signOffLeaf(o SignOff, demonstrations []Demonstration, attempts []Attempt) (ledger.Fields, error) {
	watched := make([]ledger.Fields, len(demonstrations))
	for i, d := range demonstrations {
		watched[i] = ledger.Fields{"id": d.ID, "trainee_id": d.TraineeID, "competency": d.Competency, "started_at": string(d.StartedAt),
			"outcome": string(d.Outcome), "prompted": d.Prompted, "procedure_hash": d.ProcedureHash, "rules_version": d.RulesVersion,
			"result_sha256": procedure.Digest(d.ResultJSON), "log_sha256": procedure.Digest([]byte(d.Log))}
	}
	practised := make([]ledger.Fields, len(attempts))
	for i, a := range attempts {
		played, err := json.Marshal([]any{a.Steps, a.Lines})
		if err != nil {
			return nil, fmt.Errorf("attempt %s: %w", a.ID, err)
		}
		practised[i] = ledger.Fields{"id": a.ID, "person_id": a.PersonID, "scenario": a.ScenarioID, "scenario_hash": a.ScenarioHash,
			"kind": string(a.Kind), "pace": a.Pace, "started_at": string(a.StartedAt), "finished_at": string(a.FinishedAt),
			"procedure": a.Procedure, "procedure_hash": a.ProcedureHash, "rules_version": a.RulesVersion, "outcome": string(a.Outcome),
			"result_sha256": procedure.Digest(a.ResultJSON), "log_sha256": procedure.Digest([]byte(a.Log)), "played_sha256": procedure.Digest(played)}
	}
	return ledger.Fields{
		"version": leafVersion, "kind": "sign-off", "record": o.ID,
		"person_id": o.PersonID, "competency": o.Competency, "signed_on": string(o.On), "due": string(o.Due),
		"demonstrations": watched, "attempts": practised,
		"signer_id": o.SignerID, "signer_name": o.SignerName, "meaning": string(SignedOff), "words": SignedOff.Words(),
		"signed_at": string(o.SignedAt),
	}, nil
}
