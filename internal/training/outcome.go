package training

import (
	"context"
	"errors"
	"slices"

	"stillwet/internal/assess"
	"stillwet/internal/ledger"
	"stillwet/internal/procedure"
)

// DemonstrationState is how far a demonstration has come.
type DemonstrationState string

// The states. The first three are of the recording; the others come after its end.
const (
	Recording   DemonstrationState = "recording"
	Ended       DemonstrationState = "ended" // judged, to be reviewed; again after a correction
	Abandoned   DemonstrationState = "abandoned"
	Reviewed    DemonstrationState = "reviewed" // its outcome is chosen and nobody has signed it yet
	Refused     DemonstrationState = "refused"  // the learner will not sign that
	MetStandard DemonstrationState = "met"
	NotMet      DemonstrationState = "not met"
	AsPractice  DemonstrationState = "practice"
	NotAssessed DemonstrationState = "not assessed"
	Filed       DemonstrationState = "kept" // a routine observation
	Withdrawn   DemonstrationState = "withdrawn"
)

// Move is one that a demonstration may make.
type Move struct {
	Was, Next DemonstrationState
	Purpose   Purpose // "" for any
}

// Moves are all that a demonstration may make. The data file has the same.
var Moves = []Move{
	{Recording, Ended, ""}, {Recording, Abandoned, ""},
	{Ended, Ended, ""}, {Reviewed, Ended, ""}, {Refused, Ended, ""}, // corrections
	{Ended, Reviewed, ForReturn}, {Reviewed, Reviewed, ForReturn}, {Refused, Reviewed, ForReturn}, {Reviewed, Refused, ForReturn},
	{Reviewed, MetStandard, ForReturn}, {Reviewed, NotMet, ForReturn}, {Reviewed, AsPractice, ForReturn}, {Reviewed, NotAssessed, ForReturn},
	{Refused, NotMet, ForReturn}, {Refused, AsPractice, ForReturn}, {Refused, NotAssessed, ForReturn},
	{Ended, Filed, ForRoutine},
	{Ended, Withdrawn, ""}, {Reviewed, Withdrawn, ""}, {Refused, Withdrawn, ""}, {MetStandard, Withdrawn, ""}, {NotMet, Withdrawn, ""},
	{AsPractice, Withdrawn, ""}, {NotAssessed, Withdrawn, ""}, {Filed, Withdrawn, ""},
}

// may refuses a move that a demonstration in its state does not make.
func (d *Demonstration) may(next DemonstrationState) error {
	if slices.ContainsFunc(Moves, func(m Move) bool {
		return m.Was == d.Stage && m.Next == next && (m.Purpose == "" || m.Purpose == d.Setting.Purpose)
	}) {
		return nil
	}
	return refuse(ErrConflict, "%s", d.whyStays())
}

// whyStays says why a demonstration does not come to another state.
func (d *Demonstration) whyStays() string {
	switch d.Stage {
	case Recording:
		return "The recording has to be finished first."
	case Abandoned:
		return "It was stopped without being judged. Nothing becomes of it any more."
	case Withdrawn:
		return "It was withdrawn. Nothing becomes of it any more."
	case Ended, Reviewed, Refused:
		if d.Setting.Purpose == ForRoutine {
			return "This is a routine observation: it is kept or withdrawn, and nobody signs it."
		}
		if d.Stage == Ended {
			return "The preceptor chooses the outcome first."
		}
		return "This does not fit what was chosen. Load the page again."
	}
	return "Its outcome stands already. It can only be withdrawn, with a reason."
}

// DemonstrationEvent is a state that a demonstration came to, and how.
type DemonstrationEvent struct {
	Seq          int
	State        DemonstrationState
	At           Instant
	ByID, ByName string  // "" of the recording
	Meaning      Meaning // the outcome that was chosen, or signed
	Why          string
	Leaf         int64 // 0 of the recording
}

// outcomes are the states in which signed outcomes end.
var outcomes = map[Meaning]DemonstrationState{WatchedMet: MetStandard, WatchedNotMet: NotMet, WatchedPractice: AsPractice, WatchedOpen: NotAssessed}

// Decided reports whether an outcome is signed. What was signed before outcomes were chosen
// has both signatures and no state of them.
func (d *Demonstration) Decided() bool {
	switch d.Stage {
	case MetStandard, NotMet, AsPractice, NotAssessed:
		return true
	}
	return d.Stage == Ended && len(d.Signatures) > 1
}

// Outcomes are the meanings that a preceptor may choose, as pages show them.
var Outcomes = []Meaning{WatchedMet, WatchedNotMet, WatchedPractice, WatchedOpen}

// Chosen is the last outcome that the preceptor chose, "" before. What was signed before
// outcomes were chosen has that of its signature.
func (d *Demonstration) Chosen() Meaning {
	for _, e := range slices.Backward(d.Events) {
		switch {
		case e.State == Ended:
			return ""
		case e.Meaning != "":
			return e.Meaning
		}
	}
	return ""
}

// chosenBefore is what had been chosen when a leaf was added, "" when nothing had; 0 is a
// leaf to come.
func (d *Demonstration) chosenBefore(leaf int64) (m Meaning) {
	for _, e := range d.Events {
		if e.State == Reviewed && (leaf == 0 || e.Leaf < leaf) {
			m = e.Meaning
		}
	}
	return m
}

// comeTo adds a state with its leaf, after the checks of a move.
func (s *Service) comeTo(ctx context.Context, u Unit, d Demonstration, e DemonstrationEvent, by Person, also ...Correction) error {
	if err := d.may(e.State); err != nil {
		return err
	}
	last := d.Events[len(d.Events)-1]
	e.Seq, e.At, e.ByID, e.ByName = last.Seq+1, max(s.Now(), last.At), by.ID, by.Name
	for i := range also {
		also[i].Event, also[i].N = e.Seq, i+1
	}
	people, err := s.watchers(ctx, u, d)
	if err != nil {
		return err
	}
	f, err := eventFields(d, e, also)
	if err != nil {
		return err
	}
	about := LeafAbout{Kind: ReviewLeaf, Record: d.ID, At: e.At, People: append(people, named(PartBy, by))}
	if e.Leaf, err = s.ledgered(ctx, u, about, f); err != nil {
		return err
	}
	return u.AddDemonstrationEvent(ctx, d, e, also)
}

// decision is an act by which a demonstration comes to a state.
type decision struct {
	act    string
	body   []any
	before func() error
	do     func(Unit, Demonstration) error
}

// decide does it once, and gives the demonstration as it is then.
func (s *Service) decide(ctx context.Context, actor Actor, key, demoID string, x decision) (Demonstration, error) {
	if err := need(actor); err != nil {
		return Demonstration{}, err
	}
	a, err := ask(actor.Person.ID, key, x.act, append([]any{demoID}, x.body...)...)
	if err != nil {
		return Demonstration{}, err
	}
	_, _, err = s.once(ctx, a, x.before, func(u Unit) (string, error) {
		d, err := s.visible(ctx, u, actor, demoID)
		if err != nil {
			return "", err
		}
		return d.ID, x.do(u, d)
	})
	if err != nil {
		return Demonstration{}, err
	}
	return s.Demonstration(ctx, actor, demoID)
}

// own refuses everybody but who watched.
func (d *Demonstration) own(actor Actor) error {
	if d.PreceptorID != actor.Person.ID {
		return refuse(ErrForbidden, "Only the preceptor who watched can do this.")
	}
	return nil
}

// Choose is the preceptor's choice of an outcome, which the learner then reads and signs.
// Nobody has signed anything by it.
func (s *Service) Choose(ctx context.Context, actor Actor, key, demoID string, m Meaning, why string) (Demonstration, error) {
	if outcomes[m] == "" {
		return Demonstration{}, refuse(ErrInvalid, "Choose the sentence that is true.")
	}
	why, err := tidy("The reason", why, maxReason)
	if err != nil {
		return Demonstration{}, err
	}
	return s.decide(ctx, actor, key, demoID, decision{act: "choose the outcome", body: []any{m, why}, do: func(u Unit, d Demonstration) error {
		if err := s.mayChoose(ctx, u, actor, d, m); err != nil {
			return err
		}
		if why == "" && d.NeedsWhy(m) {
			return refuse(ErrInvalid, "Say why: %s", d.whyAsked(m))
		}
		return s.comeTo(ctx, u, d, DemonstrationEvent{State: Reviewed, Meaning: m, Why: why}, actor.Person)
	}})
}

// NeedsWhy reports whether an outcome is not what the log says by itself, so that its
// reason is asked for.
func (d *Demonstration) NeedsWhy(m Meaning) bool { return d.whyAsked(m) != "" }

func (d *Demonstration) whyAsked(m Meaning) string {
	switch {
	case m == WatchedNotMet && d.Outcome == assess.Pass:
		return "by the log it passed."
	case m == WatchedNotMet && d.Outcome == assess.Incomplete:
		return "by the log it is open."
	case m == WatchedPractice && d.Outcome == assess.NotPass && !d.Prompted:
		return "it did not pass, and would count as practice only."
	}
	return ""
}

// Choice is an outcome that a preceptor may or may not choose, and why not.
type Choice struct {
	Meaning Meaning
	Words   string
	WhyNot  string // "" when it may be chosen
	WhyAsks string // what a reason is asked for; "" when none is
}

// Choices are the outcomes for the preceptor of a demonstration, as they are shown.
func (s *Service) Choices(ctx context.Context, actor Actor, d Demonstration) ([]Choice, error) {
	if err := need(actor); err != nil {
		return nil, err
	}
	var choices []Choice
	for _, m := range Outcomes {
		c := Choice{Meaning: m, Words: m.Words(), WhyAsks: d.whyAsked(m)}
		err := s.mayChoose(ctx, s.Records, actor, d, m)
		if c.WhyNot = sentenceOf(err); err != nil && c.WhyNot == "" {
			return nil, err
		}
		choices = append(choices, c)
	}
	return choices, nil
}

// mayChoose checks what must be so for an outcome.
func (s *Service) mayChoose(ctx context.Context, r Reader, actor Actor, d Demonstration, m Meaning) error {
	if err := d.own(actor); err != nil {
		return err
	}
	if err := d.may(Reviewed); err != nil {
		return err
	}
	if d.signed(LearnerDid) != nil && d.Stage != Ended {
		if err := s.stillSigned(ctx, r, actor, d); err != nil {
			return err
		}
	}
	switch {
	case m == WatchedOpen && d.Outcome != assess.Incomplete:
		return refuse(ErrConflict, "Nothing that decides it was left open.")
	case m == WatchedMet:
		return s.mayBeMet(ctx, r, actor, d)
	}
	return nil
}

// stillSigned refuses another choice after the learner has signed, unless what was chosen
// cannot be signed any more: the procedure changed since, or an entitlement ended.
func (s *Service) stillSigned(ctx context.Context, r Reader, actor Actor, d Demonstration) error {
	if d.Chosen() == WatchedMet {
		if err := s.mayBeMet(ctx, r, actor, d); err != nil {
			var why *Refusal
			if errors.As(err, &why) {
				return nil
			}
			return err
		}
	}
	return refuse(ErrConflict, "The learner has signed what was chosen. Sign it, or have an educator withdraw the demonstration.")
}

// mayBeMet checks what must be so for an outcome of met.
func (s *Service) mayBeMet(ctx context.Context, r Reader, actor Actor, d Demonstration) error {
	switch {
	case d.Prompted:
		return refuse(ErrConflict, "You helped, so this was practice and cannot be signed as met.")
	case d.Outcome == assess.NotPass:
		return refuse(ErrConflict, "It did not pass, so it cannot be signed as met.")
	case d.Outcome == assess.Incomplete:
		return refuse(ErrConflict, "A critical mark could not be assessed, so it cannot be signed as met.")
	}
	why, err := s.overtaken(ctx, r, d)
	if err != nil {
		return err
	}
	if why != "" {
		return refuse(ErrConflict, "%s", why)
	}
	c, ok := s.competency(d.Competency)
	if !ok {
		c.ID = d.Competency // of one that is no more: who was entitled for it
	}
	ok, err = entitled(ctx, r, actor.Person.ID, c, s.Today(), mayWatchBy)
	if err == nil && !ok {
		return refuse(ErrForbidden, "You are not entitled to watch this competency today. %s", whoEntitles(actor))
	}
	return err
}

// Refuse notes that the learner will not sign what was chosen: the learner says so, or the
// preceptor for them.
func (s *Service) Refuse(ctx context.Context, actor Actor, key, demoID, why string) (Demonstration, error) {
	why, err := s.reason(why, "Say why the learner will not sign: it is kept.")
	if err != nil {
		return Demonstration{}, err
	}
	return s.decide(ctx, actor, key, demoID, decision{act: "refuse to sign", body: []any{why}, do: func(u Unit, d Demonstration) error {
		switch {
		case actor.Person.ID != d.PreceptorID && actor.Person.ID != d.TraineeID:
			return refuse(ErrForbidden, "Only the learner, or the preceptor who watched, can note this.")
		case d.signed(LearnerDid) != nil:
			return refuse(ErrConflict, "The learner has signed this demonstration already.")
		}
		return s.comeTo(ctx, u, d, DemonstrationEvent{State: Refused, Why: why}, actor.Person)
	}})
}

// reason is a text that is kept, or what is asked when there is none.
func (s *Service) reason(why, missing string) (string, error) {
	why, err := tidy("The reason", why, maxReason)
	if err == nil && !legible(why) {
		err = refuse(ErrInvalid, "%s", missing)
	}
	return why, err
}

// Keep keeps a routine observation: its preceptor has read it.
func (s *Service) Keep(ctx context.Context, actor Actor, key, demoID string) (Demonstration, error) {
	return s.decide(ctx, actor, key, demoID, decision{act: "keep an observation", do: func(u Unit, d Demonstration) error {
		if err := d.own(actor); err != nil {
			return err
		}
		return s.comeTo(ctx, u, d, DemonstrationEvent{State: Filed}, actor.Person)
	}})
}

// Withdraw takes a demonstration out of everything it counts for, with a reason; nothing of
// it is removed. Its preceptor may before the outcome is signed, an educator always, each
// with their password.
func (s *Service) Withdraw(ctx context.Context, actor Actor, key, demoID, why, password string) (Demonstration, error) {
	var by signer
	x := decision{act: "withdraw a demonstration", body: []any{why}}
	x.before = func() (err error) {
		if why, err = s.reason(why, "Say why it is withdrawn: it is kept."); err != nil {
			return err
		}
		d, err := s.visible(ctx, s.Records, actor, demoID)
		if err == nil {
			err = d.mayWithdraw(actor) // nobody else tries passwords here
		}
		if err == nil {
			by, err = s.ownSigner(ctx, actor, password)
		}
		return err
	}
	x.do = func(u Unit, d Demonstration) error {
		if err := d.mayWithdraw(actor); err != nil {
			return err
		}
		if err := unchanged(ctx, u, by.account); err != nil {
			return err
		}
		return s.comeTo(ctx, u, d, DemonstrationEvent{State: Withdrawn, Why: why}, by.Person)
	}
	return s.decide(ctx, actor, key, demoID, x)
}

// MayWithdraw reports whether the actor may withdraw a demonstration now.
func (d *Demonstration) MayWithdraw(actor Actor) bool { return d.mayWithdraw(actor) == nil }

// mayWithdraw says who may withdraw a demonstration.
func (d *Demonstration) mayWithdraw(actor Actor) error {
	open := d.Stage == Ended || d.Stage == Reviewed || d.Stage == Refused
	if !actor.Person.Has(Educator) && (d.PreceptorID != actor.Person.ID || !open) {
		return refuse(ErrForbidden, "Only an educator can withdraw it, or the preceptor who watched before its outcome is signed.")
	}
	return d.may(Withdrawn)
}

// eventFields is what is signed of a state: of which demonstration as it was judged then,
// who brought it there, and why.
func eventFields(d Demonstration, e DemonstrationEvent, also []Correction) (ledger.Fields, error) {
	f := ledger.Fields{"seq": e.Seq, "state": string(e.State), "by_id": e.ByID, "by_name": e.ByName, "meaning": string(e.Meaning), "why": e.Why,
		"trainee_id": d.TraineeID, "preceptor_id": d.PreceptorID, "competency": d.Competency, "started_at": string(d.StartedAt),
		"outcome": string(d.Outcome), "prompted": d.Prompted, "comment": d.Comment, "rules_version": d.RulesVersion,
		"procedure": d.Procedure, "procedure_hash": d.ProcedureHash, "result_sha256": procedure.Digest(d.ResultJSON), "log_sha256": procedure.Digest([]byte(d.Log))}
	if len(also) > 0 {
		f["corrections"] = correctionFields(also)
	}
	return f, nil
}
