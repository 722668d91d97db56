package training

import (
	"context"
	"encoding/json"
	"fmt"
	"maps"
	"time"

	"stillwet/internal/ledger"
	"stillwet/internal/procedure"
)

// leafVersion is the version of what a leaf holds. Version 1 knew signatures and
// sign-offs only, and named nobody but by id; its leaves are verified as such.
const leafVersion = 2

// LeafKind is what a leaf is of.
type LeafKind string

// The kinds of leaves.
const (
	SignatureLeaf     LeafKind = "signature"
	SignOffLeaf       LeafKind = "sign-off"
	AttemptLeaf       LeafKind = "attempt"       // that was finished
	DemonstrationLeaf LeafKind = "demonstration" // that was ended and judged
	PersonLeaf        LeafKind = "person"
	AccountLeaf       LeafKind = "account"
	EntitlementLeaf   LeafKind = "entitlement"
	RequirementsLeaf  LeafKind = "requirements" // what each competency takes
	ClockLeaf         LeafKind = "clock"        // the server's time was confirmed
	BaselineLeaf      LeafKind = "baseline"     // what was there when leaves of this version began
	SetLeaf           LeafKind = "set"          // what became of a version of the clinic's set
	FollowUpLeaf      LeafKind = "follow-up"    // what follows from a version, and who has to do what
	DutyLeaf          LeafKind = "duty"         // that it was read, or taken back, or got another day
	ReviewLeaf        LeafKind = "review"       // what became of a demonstration after its recording
	PlanLeaf          LeafKind = "plan"         // what is to be practised after an unmet one
	EndLeaf           LeafKind = "end"          // that a sign-off, an entitlement or an entry holds no longer
	EarlierLeaf       LeafKind = "earlier"      // a batch of sign-offs from before this program
	ItemLeaf          LeafKind = "item"         // what another annual item asks for
	ItemEntryLeaf     LeafKind = "item-entry"   // that somebody had one, or what stands for such an entry
	RequirementLeaf   LeafKind = "requirement"  // a version of what one competency takes
	AbsenceLeaf       LeafKind = "absence"      // a leave, as it was entered or changed
	AssignmentLeaf    LeafKind = "assignment"   // what was asked of several people, or taken back of it

	ObservationTargetLeaf LeafKind = "observation-target" // how many station observations a month are wanted
)

// LeafAbout says what a leaf is of, when, and who is named in it.
type LeafAbout struct {
	Leaf        int64
	Version     int
	Kind        LeafKind
	Record      string // id
	At          Instant
	ClockBehind bool // the server's clock stood before what was ledgered already
	People      []Named
}

// Named is a person as they stood in a record when it was signed.
type Named struct {
	Part                                string
	PersonID, Name, StaffNo, Credential string
	At                                  Instant // of a reset; else ""
}

// The parts that people have in records.
const (
	PartPerson    = "person" // whose record it is
	PartBy        = "by"     // who did it
	PartLearner   = "learner"
	PartPreceptor = "preceptor"
	PartSigner    = "signer"
	PartApprover  = "approver"
	PartBefore    = "before" // whose record it was said to be, where that was wrong
	// PartResetBy is somebody named in the record who had given the signer a new first
	// password: they could have signed in the signer's place.
	PartResetBy = "reset_by"
)

// Named finds who has a part; the zero Named when nobody has.
func (l LeafAbout) Named(part string) Named {
	for _, n := range l.People {
		if n.Part == part {
			return n
		}
	}
	return Named{}
}

func named(part string, p Person) Named {
	return Named{Part: part, PersonID: p.ID, Name: p.Name, StaffNo: p.StaffNo}
}

// text is a whole leaf: what is signed of its record, who is named in it, and when.
func (l LeafAbout) text(of ledger.Fields) ([]byte, error) {
	f := maps.Clone(of)
	f["version"], f["kind"], f["record"] = l.Version, string(l.Kind), l.Record
	if l.Version == 1 {
		return ledger.Canonical(f)
	}
	people := ledger.Fields{}
	for _, n := range l.People {
		people[n.Part] = n.fields()
	}
	f["at"], f["people"] = string(l.At), people
	if l.ClockBehind {
		f["clock"] = "behind"
	}
	return ledger.Canonical(f)
}

func (n Named) fields() ledger.Fields {
	f := ledger.Fields{"id": n.PersonID, "name": n.Name, "staff_no": n.StaffNo}
	if n.Credential != "" {
		f["credential"] = n.Credential
	}
	if n.At != "" {
		f["at"] = string(n.At)
	}
	return f
}

// ledgerSlack is how far a clock may go back before it is told: less is what a
// machine mends by itself.
const ledgerSlack = time.Hour

func clockBehind(now, last Instant) bool {
	return last != "" && now < last.Add(-ledgerSlack)
}

// ledgered adds a leaf of what was just kept, in its transaction.
func (s *Service) ledgered(ctx context.Context, u Unit, about LeafAbout, of ledger.Fields) (int64, error) {
	last, err := u.LastLedgered(ctx)
	if err != nil {
		return 0, err
	}
	about.ClockBehind = about.Kind != ClockLeaf && clockBehind(about.At, last)
	return appendLeaf(ctx, u, about, of)
}

// appendLeaf adds a leaf without a look at the clock.
func appendLeaf(ctx context.Context, u LedgerWriter, about LeafAbout, of ledger.Fields) (int64, error) {
	about.Version = leafVersion
	text, err := about.text(of)
	if err != nil {
		return 0, err
	}
	return u.AppendLeaf(ctx, text, about)
}

// demonstrationFields is what is signed of a demonstration: who did what, by which
// rules it was judged, and the hashes of log, result and recorded lines.
func demonstrationFields(d Demonstration, lines []Observed) (ledger.Fields, error) {
	recorded, err := json.Marshal(lines)
	if err != nil {
		return nil, fmt.Errorf("lines of demonstration %s: %w", d.ID, err)
	}
	f := ledger.Fields{
		"trainee_id": d.TraineeID, "preceptor_id": d.PreceptorID, "competency": d.Competency, "product": d.Product,
		"started_at": string(d.StartedAt), "ended_at": string(d.EndedAt), "state": string(d.State),
		"procedure": d.Procedure, "procedure_hash": d.ProcedureHash, "rules_version": d.RulesVersion,
		"outcome": string(d.Outcome), "prompted": d.Prompted, "comment": d.Comment,
		"result_sha256": procedure.Digest(d.ResultJSON), "log_sha256": procedure.Digest([]byte(d.Log)),
		"lines_sha256": procedure.Digest(recorded),
	}
	return f, d.Setting.sign(f)
}

// sign adds what was said before it began. Of before that was asked the leaf has no word.
func (s *Setting) sign(f ledger.Fields) error {
	if s.Purpose != ForReturn {
		f["purpose"] = string(s.Purpose)
	}
	for name, text := range map[string]string{"announced": s.Announced, "discipline": s.Discipline, "shift": s.Shift, "corrects": s.Corrects} {
		if text != "" {
			f[name] = text
		}
	}
	if len(s.InUse) > 0 {
		text, err := json.Marshal(s.InUse)
		if err != nil {
			return fmt.Errorf("products in use: %w", err)
		}
		f["in_use"] = string(text)
	}
	return nil
}

// signatureFields is what a signature on a demonstration signs: all of it, and the words.
func signatureFields(d Demonstration, lines []Observed, n Signature) (ledger.Fields, error) {
	f, err := demonstrationFields(d, lines)
	if err != nil {
		return nil, err
	}
	f["signer_id"], f["signer_name"], f["signed_at"] = n.SignerID, n.SignerName, string(n.SignedAt)
	f["meaning"], f["words"] = string(n.Meaning), n.Meaning.Words()
	if n.Said != "" {
		f["said"] = n.Said
	}
	if chosen := d.chosenBefore(n.Leaf); n.Meaning == LearnerDid && chosen != "" {
		f["chosen"], f["chosen_words"] = string(chosen), chosen.Words()
	}
	if len(d.Corrections) > 0 { // the lines are those that were recorded
		f["corrections"] = correctionFields(d.Corrections)
	}
	return f, nil
}

// attemptFields is what is signed of an attempt. Of what was before guided practice the
// leaf has no word of it.
func attemptFields(a WholeAttempt) ledger.Fields {
	f := ledger.Fields{"id": a.ID, "person_id": a.PersonID, "scenario": a.ScenarioID, "scenario_hash": a.ScenarioHash,
		"kind": string(a.Kind), "pace": a.Pace, "started_at": string(a.StartedAt), "finished_at": string(a.FinishedAt),
		"procedure": a.Procedure, "procedure_hash": a.ProcedureHash, "rules_version": a.RulesVersion, "outcome": string(a.Outcome),
		"result_sha256": procedure.Digest(a.ResultJSON), "log_sha256": procedure.Digest([]byte(a.Log)), "played_sha256": procedure.Digest(a.Played)}
	if a.Seed != "" {
		f["seed"] = a.Seed
	}
	if a.Guided {
		f["guided"] = true
	}
	return f
}

// finishedFields is the same in a leaf of its own, where the kind is the leaf's.
func finishedFields(a WholeAttempt) ledger.Fields {
	f := attemptFields(a)
	f["practice"] = f["kind"]
	delete(f, "kind")
	delete(f, "id")
	return f
}

// signOffFields is what a sign-off signs: the person, the competency, until when, under
// which version of the requirements, and the evidence by its hashes.
func signOffFields(o SignOff, demonstrations []Demonstration, attempts []WholeAttempt) ledger.Fields {
	watched := make([]ledger.Fields, len(demonstrations))
	for i, d := range demonstrations {
		watched[i] = ledger.Fields{"id": d.ID, "trainee_id": d.TraineeID, "competency": d.Competency, "started_at": string(d.StartedAt),
			"outcome": string(d.Outcome), "prompted": d.Prompted, "procedure_hash": d.ProcedureHash, "rules_version": d.RulesVersion,
			"result_sha256": procedure.Digest(d.ResultJSON), "log_sha256": procedure.Digest([]byte(d.Log))}
	}
	practised := make([]ledger.Fields, len(attempts))
	for i, a := range attempts {
		practised[i] = attemptFields(a)
	}
	f := ledger.Fields{
		"person_id": o.PersonID, "competency": o.Competency, "signed_on": string(o.On), "due": string(o.Due),
		"demonstrations": watched, "attempts": practised,
		"signer_id": o.SignerID, "signer_name": o.SignerName, "meaning": string(SignedOff), "words": SignedOff.Words(),
		"signed_at": string(o.SignedAt),
	}
	if o.Requirements != 0 {
		f["requirements"] = o.Requirements
	}
	return f
}

// wholePerson is what is kept of a person, with what their leaves have in who is named.
func wholePerson(p Person) ledger.Fields {
	f := personFields(p)
	maps.Copy(f, furtherFields(p))
	f["id"], f["name"], f["staff_no"] = p.ID, p.Name, p.StaffNo
	return f
}

// personFields is what is kept of a person besides name and staff number. What people had
// not at first is left out while it is empty.
func personFields(p Person) ledger.Fields {
	f := ledger.Fields{"role": string(p.Role), "hired": string(p.Hired), "left": string(p.Left)}
	for name, text := range furtherFields(p) {
		if text != "" {
			f[name] = text
		}
	}
	return f
}

func furtherFields(p Person) ledger.Fields {
	f := ledger.Fields{"also": string(p.Also), "job": p.Job, "team": p.Team, "email": p.Email, "earlier": string(p.Earlier), "sees_today": ""}
	if p.SeesToday {
		f["sees_today"] = "yes"
	}
	return f
}

// accountFields is an account after a change. Of the password's stored form only the
// hash is signed, so that another one put in its place is noticed.
func accountFields(a Account) ledger.Fields {
	return ledger.Fields{"username": a.Username, "password_sha256": procedure.Digest([]byte(a.PasswordHash)), "first_until": string(a.FirstUntil),
		"disabled": a.Disabled, "generation": a.Generation, "reset_by": a.ResetBy, "reset_at": string(a.ResetAt)}
}

// entitlementFields is an entitlement with all that it rests on.
func entitlementFields(e Entitlement) ledger.Fields {
	return ledger.Fields{"person_id": e.PersonID, "competency": e.Competency, "from": string(e.From), "until": string(e.Until),
		"granted_by": e.GrantedBy, "may_watch": e.Watch, "may_sign_off": e.SignOff, "credential": e.Credential, "founding": e.Founding,
		"approval": string(e.Approval.How), "approver_id": e.Approval.ByID, "approver": e.Approval.By, "approver_role": e.Approval.Role,
		"approved_on": string(e.Approval.On), "approval_at": e.Approval.Where}
}

// setFields is a version of the set with what became of it. Its hash is that of all its
// files.
func setFields(v SetVersion, e SetEvent) ledger.Fields {
	return ledger.Fields{"hash": v.Hash, "number": v.Number, "based_on": v.BasedOn, "origin": string(v.Origin), "why": v.Why,
		"edits_sha256": procedure.Digest([]byte(v.Edits)),
		"event":        string(e.Event), "seq": e.Seq, "by_id": e.ByID, "by_name": e.ByName, "event_why": e.Why, "approval": string(e.Approval.How),
		"approver_id": e.Approval.ByID, "approver": e.Approval.By, "approver_role": e.Approval.Role, "approved_on": string(e.Approval.On),
		"approval_at": e.Approval.Where, "in_force_from": string(e.From)}
}

// followUpFields is what follows from a version, with all that people have to do.
func followUpFields(f FollowUp, duties []Duty) ledger.Fields {
	given := make([]ledger.Fields, len(duties))
	for i, d := range duties {
		given[i] = dutyFields(d)
	}
	return ledger.Fields{"number": f.Version, "seq": f.Seq, "by_id": f.ByID, "by_name": f.ByName, "in_force_at": string(f.InForceAt), "why": f.Why,
		"changes_sha256": procedure.Digest([]byte(f.Changes)), "chosen_sha256": procedure.Digest([]byte(f.Chosen)), "duties": given}
}

func dutyFields(d Duty) ledger.Fields {
	return ledger.Fields{"id": d.ID, "person_id": d.PersonID, "name": d.Name, "staff_no": d.StaffNo, "duty": string(d.Kind), "subject": d.Of, "title": d.Title, "due": string(d.FirstDue)}
}

// dutyDateFields is another day of a duty, with the duty as it was given.
func dutyDateFields(d Duty, x DutyDate) ledger.Fields {
	return ledger.Fields{"duty": dutyFields(d), "number": d.Version, "seq": x.Seq, "due": string(x.Due), "was": string(d.before(x.Seq)), "by_id": x.ByID, "by_name": x.ByName, "why": x.Why}
}

// dutyEndFields is how a duty ended, with the duty.
func dutyEndFields(d Duty, e DutyEnd) ledger.Fields {
	return ledger.Fields{"duty": dutyFields(d), "number": d.Version, "ended": string(e.Ended), "by_id": e.ByID, "by_name": e.ByName, "said": e.Said}
}

// requirementFields is a version of what a competency takes.
func requirementFields(r Requirements) (ledger.Fields, error) {
	terms, err := r.text()
	if err != nil {
		return nil, err
	}
	return ledger.Fields{"competency": r.Competency, "number": r.Version, "from": string(r.From), "terms": terms, "by_id": r.ByID, "by_name": r.ByName, "why": r.Why}, nil
}

// absenceFields is a leave as it was entered or changed.
func absenceFields(a Absence) ledger.Fields {
	return ledger.Fields{"person_id": a.PersonID, "seq": a.Seq, "from": string(a.From), "until": string(a.Until), "cancelled": a.Cancelled, "by_id": a.ByID, "by_name": a.ByName, "why": a.Why}
}
