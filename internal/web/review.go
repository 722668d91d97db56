package web

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"stillwet/internal/action"
	"stillwet/internal/course"
	"stillwet/internal/procedure"
	"stillwet/internal/training"
	"stillwet/views"
)

func review(v *visit) error { return v.showReview(200, views.Review{}) }

// showReview fills a review; what a form got wrong is given by the caller.
func (v *visit) showReview(status int, r views.Review) error {
	d, err := v.Service.Demonstration(v.ctx, v.actor, v.Params("id"))
	if err != nil {
		return err
	}
	who, err := v.learner(d)
	if err != nil {
		return err
	}
	f := v.frame(titleOf(who, d), views.AtWatch)
	if d.TraineeID == v.actor.Person.ID {
		f.At = views.AtRecord
	}
	if d.State != training.Ended {
		return v.page(status, views.StoppedPage(f, d, who.Name, d.PreceptorID == v.actor.Person.ID))
	}
	if r, err = v.fillReview(r, d, who); err != nil {
		return err
	}
	if r.HandedOver {
		f.Handed = true
		return v.page(status, views.HandOverPage(f, r))
	}
	return v.page(status, views.ReviewPage(f, r))
}

func titleOf(who training.Person, d training.Demonstration) string {
	if d.Setting.Purpose == training.ForRoutine {
		return "Routine observation"
	}
	return "Demonstration by " + who.Name
}

// learner is whose work a demonstration is, nobody's of an observation that names none.
func (v *visit) learner(d training.Demonstration) (training.Person, error) {
	if d.TraineeID == "" {
		return training.Person{}, nil
	}
	return v.Service.Person(v.ctx, v.actor, d.TraineeID)
}

func (v *visit) fillReview(r views.Review, d training.Demonstration, who training.Person) (_ views.Review, err error) {
	if r.Result, err = v.result(d.Procedure, d.ProcedureHash, d.Log, d.ResultJSON, d.StartedAt); err != nil {
		return r, err
	}
	r.Steps = tapsOf(r.Log)
	r.Demonstration, r.Learner, r.HandedOver = d, who, v.actor.Handed == d.ID
	names, err := v.Service.Names(v.ctx, v.actor, d.PreceptorID)
	if err != nil {
		return r, err
	}
	r.PreceptorName = names[d.PreceptorID]
	switch v.actor.Person.ID {
	case d.PreceptorID:
		r.Reader, r.PreceptorName = views.ReadsAsPreceptor, v.actor.Person.Name
		if r.Choices, err = v.Service.Choices(v.ctx, v.actor, d); err != nil {
			return r, err
		}
	case d.TraineeID:
		r.Reader = views.ReadsAsLearner
	}
	if d.MayCorrect(v.actor) && !r.HandedOver {
		r.Amend = "/demonstrations/" + d.ID + "/correct"
	}
	r.MayWithdraw = d.MayWithdraw(v.actor)
	r.Competency, r.InUse = views.AtStation(v.competencyTitle(d.Competency), r.Procedure), views.InUse(r.Procedure, d)
	return v.fillRecords(r, d)
}

// fillRecords adds what other records say of a demonstration.
func (v *visit) fillRecords(r views.Review, d training.Demonstration) (_ views.Review, err error) {
	if r.Overtaken, err = v.Service.Overtaken(v.ctx, v.actor, d); err != nil {
		return r, err
	}
	if r.Signed, err = v.Service.SignedAs(v.ctx, d); err != nil {
		return r, err
	}
	if r.Received, err = v.Service.Received(v.ctx, v.actor, d); err != nil {
		return r, err
	}
	if len(d.Corrections) > 0 {
		if r.Corrected, err = v.Service.Corrected(v.ctx, v.actor, d.ID); err != nil {
			return r, err
		}
	}
	if r.Plan, err = v.Service.PlanOf(v.ctx, v.actor, d); err != nil {
		return r, err
	}
	if v.Service.Demo && r.HandedOver {
		r.LearnerUsername, err = v.Service.SignInName(v.ctx, v.actor, d.TraineeID)
	}
	return r, err
}

func (s *server) competencyTitle(id string) string {
	for _, c := range s.Library.Competencies() {
		if c.ID == id {
			return c.Title
		}
	}
	return id
}

// replay shows a demonstration on the picture, act by act.
func replay(v *visit) error {
	d, err := v.Service.Demonstration(v.ctx, v.actor, v.Params("id"))
	if err != nil {
		return err
	}
	if d.State != training.Ended {
		return v.goTo("/demonstrations/" + d.ID)
	}
	who, err := v.learner(d)
	if err != nil {
		return err
	}
	r, err := v.result(d.Procedure, d.ProcedureHash, d.Log, d.ResultJSON, d.StartedAt)
	if err != nil {
		return err
	}
	page := views.Replay{Back: "/demonstrations/" + d.ID, Kicker: views.Whose(who.Name, d.Setting), Procedure: r.Procedure}
	if page.Acts, err = course.Replay(r.Procedure, r.Log); err != nil {
		return problem{409, "This log cannot be played: it names what the procedure of today does not have."}
	}
	f := v.frame(titleOf(who, d), views.AtWatch)
	f.Script = "player.js"
	return v.page(200, views.ReplayPage(f, page))
}

// taken answers a form of the review: on to the review, or it again with the reason at that
// form and what was typed. Other errors go on.
func (v *visit) taken(err error, at views.FormAt, in map[string]string) error {
	if err == nil {
		return v.goTo("/demonstrations/" + v.Params("id") + "#signing")
	}
	for _, kind := range []error{training.ErrPassword, training.ErrForbidden, training.ErrInvalid, training.ErrConflict, training.ErrThrottled} {
		if errors.Is(err, kind) {
			status, text := explain(err)
			return v.showReview(status, views.Review{Wrong: text, WrongFor: at, Typed: typed(in)})
		}
	}
	return err
}

// typed is what a form held, without its passwords.
func typed(in map[string]string) map[string]string {
	kept := map[string]string{}
	for name, text := range in {
		if name != "password" && name != "token" && name != "key" {
			kept[name] = text
		}
	}
	return kept
}

// patientWarning is what is said of free text that looks as if it spoke of a patient, once:
// the same words sent again are taken. in remembers which were read.
func patientWarning(in map[string]string, field string) string {
	warning := training.PatientDataWarning(in[field])
	if warning == "" || in["sure"] == in[field] {
		return ""
	}
	in["sure"] = in[field]
	return warning + " Change your words, or send them once more to keep them."
}

// reviewForm is an act of a review with its free text.
type reviewForm struct {
	at     views.FormAt
	fields []string // besides the key
	text   string   // the field that is looked at for patients
	do     func(in map[string]string) error
}

func (v *visit) act(x reviewForm) error {
	in, err := v.form(append(x.fields, "key")...)
	if err != nil {
		return err
	}
	if warning := patientWarning(in, x.text); x.text != "" && warning != "" {
		return v.showReview(422, views.Review{Wrong: warning, WrongFor: x.at, Typed: typed(in)})
	}
	return v.taken(x.do(in), x.at, in)
}

func chooseOutcome(v *visit) error {
	return v.act(reviewForm{views.AtOutcome, []string{"meaning", "why"}, "why", func(in map[string]string) error {
		_, err := v.Service.Choose(v.ctx, v.actor, in["key"], v.Params("id"), training.Meaning(in["meaning"]), in["why"])
		return err
	}})
}

func refuseToSign(v *visit) error {
	return v.act(reviewForm{views.AtRefusal, []string{"refused"}, "refused", func(in map[string]string) error {
		_, err := v.Service.Refuse(v.ctx, v.actor, in["key"], v.Params("id"), in["refused"])
		return err
	}})
}

func keepObservation(v *visit) error {
	return v.act(reviewForm{at: views.AtOutcome, do: func(in map[string]string) error {
		_, err := v.Service.Keep(v.ctx, v.actor, in["key"], v.Params("id"))
		return err
	}})
}

func withdrawDemonstration(v *visit) error {
	return v.act(reviewForm{views.AtWithdraw, []string{"withdrawn", "password"}, "withdrawn", func(in map[string]string) error {
		_, err := v.Service.Withdraw(v.ctx, v.actor, in["key"], v.Params("id"), in["withdrawn"], in["password"])
		return onlyPassword(err)
	}})
}

func signLearner(v *visit) error {
	return v.act(reviewForm{views.AtLearner, []string{"password"}, "said", func(in map[string]string) error {
		by := training.Learner{Username: in["username"], Password: in["password"], Said: in["said"]}
		_, err := v.Service.SignAsLearner(v.ctx, v.actor, in["key"], v.Params("id"), by)
		if by.Username == "" {
			err = onlyPassword(err)
		}
		return err
	}})
}

// onlyPassword speaks of the password alone, where no name was asked for.
func onlyPassword(err error) error {
	if errors.Is(err, training.ErrPassword) {
		return fmt.Errorf("%w: %w", problem{422, "That password is not right. Nothing was kept."}, err)
	}
	return err
}

func signPreceptor(v *visit) error {
	return v.act(reviewForm{at: views.AtPreceptor, fields: []string{"meaning", "password"}, do: func(in map[string]string) error {
		_, err := v.Service.SignAsPreceptor(v.ctx, v.actor, in["key"], v.Params("id"), training.Meaning(in["meaning"]), in["password"])
		return onlyPassword(err)
	}})
}

// handOver gives the device to the learner: from now on it shows nothing but what they sign.
func handOver(v *visit) error {
	if _, err := v.form("key"); err != nil {
		return err
	}
	if err := v.Service.HandOver(v.ctx, v.actor, v.Params("id")); err != nil {
		return v.taken(err, views.AtOutcome, nil)
	}
	return v.goTo("/demonstrations/" + v.Params("id"))
}

func takeBack(v *visit) error {
	in, err := v.form("password")
	if err != nil {
		return err
	}
	return v.taken(onlyPassword(v.Service.TakeBack(v.ctx, v.actor, in["password"])), views.AtTakeBack, in)
}

// sayMarks keeps what the watcher says at the review of marks that no rule can see.
func sayMarks(v *visit) error {
	in, err := v.form("key")
	if err != nil {
		return err
	}
	d, err := v.Service.Demonstration(v.ctx, v.actor, v.Params("id"))
	if err != nil {
		return err
	}
	lines, err := v.Service.Corrected(v.ctx, v.actor, d.ID)
	if err != nil {
		return err
	}
	var said []training.Correction
	for name, verdict := range in {
		if mark, ok := strings.CutPrefix(name, "mark-"); ok && verdict != "" && len(lines) > 0 {
			said = append(said, training.Correction{AtMs: lines[len(lines)-1].AtMs, Text: "watcher says " + mark + " " + verdict})
		}
	}
	if len(said) == 0 {
		return v.showReview(422, views.Review{Wrong: "Answer at least one of them.", WrongFor: views.AtMarks})
	}
	slices.SortFunc(said, func(a, b training.Correction) int { return strings.Compare(a.Text, b.Text) })
	_, err = v.Service.Correct(v.ctx, v.actor, in["key"], d.ID, "Said at the review.", said)
	return v.taken(err, views.AtMarks, in)
}

// correctLog shows the form in which an act of the log is corrected, or one is added.
func correctLog(v *visit) error { return v.showCorrection(200, v.QueryInt("act"), "", nil) }

func (v *visit) showCorrection(status, act int, wrong string, in map[string]string) error {
	d, lines, p, err := v.correcting()
	if err != nil {
		return err
	}
	who, err := v.learner(d)
	if err != nil {
		return err
	}
	c := views.Correction{Demonstration: d, Learner: views.Whose(who.Name, d.Setting), Procedure: p, Wrong: wrong, Typed: typed(in), Ends: action.Millis(lines[len(lines)-1].AtMs).String()}
	if act > 0 {
		if act > len(lines) {
			return problem{404, "There is no such act in this log."}
		}
		l := lines[act-1]
		c.Act, c.Time, c.Said = act, action.Millis(l.AtMs).String(), views.LineWords(p, l.Step, l.Text)
		c.Short = action.Millis(l.AtMs / 1000 * 1000).String()
	}
	return v.page(status, views.CorrectPage(v.frame("Correct the log", views.AtWatch), c))
}

// correcting is a demonstration whose log the actor may correct, with its lines.
func (v *visit) correcting() (d training.Demonstration, lines []training.CorrectedLine, p *procedure.Procedure, err error) {
	if d, err = v.Service.Demonstration(v.ctx, v.actor, v.Params("id")); err != nil {
		return d, nil, nil, err
	}
	if !d.MayCorrect(v.actor) {
		return d, nil, nil, problem{409, "This log cannot be corrected by you, or not any more: only its preceptor can, before anybody has signed."}
	}
	if lines, err = v.Service.Corrected(v.ctx, v.actor, d.ID); err != nil {
		return d, nil, nil, err
	}
	p, _, _, err = v.judgedBy(d.Procedure, d.ProcedureHash)
	return d, lines, p, err
}

func keepCorrection(v *visit) error {
	in, err := v.form("key", "act", "kind", "what", "time", "why")
	if err != nil {
		return err
	}
	act := 0
	if _, err := fmt.Sscanf(in["act"], "%d", &act); err != nil || act < 0 {
		return problem{400, "The form does not say which act it corrects. Load the page again."}
	}
	if warning := patientWarning(in, "why"); warning != "" {
		return v.showCorrection(422, act, warning, in)
	}
	d, lines, _, err := v.correcting()
	if err != nil {
		return err
	}
	changes, wrong := correctionsOf(in, act, lines)
	if wrong != "" {
		return v.showCorrection(422, act, wrong, in)
	}
	_, err = v.Service.Correct(v.ctx, v.actor, in["key"], d.ID, in["why"], changes)
	if errors.Is(err, training.ErrInvalid) || errors.Is(err, training.ErrConflict) {
		status, text := explain(err)
		return v.showCorrection(status, act, text, in)
	}
	if err != nil {
		return err
	}
	return v.goTo("/demonstrations/" + d.ID + "#signing")
}

// correctionsOf reads a form as changes of the log, or says what is wrong with it.
func correctionsOf(in map[string]string, act int, lines []training.CorrectedLine) (changes []training.Correction, wrong string) {
	kind := views.FixKind(in["kind"])
	put := training.Correction{}
	if act > 0 {
		if act > len(lines) {
			return nil, "There is no such act in this log."
		}
		changes = append(changes, training.Correction{Struck: act})
		put = again(lines[act-1])
	}
	if kind == views.FixStrike && act > 0 {
		return changes, ""
	}
	if in["what"] != "" {
		put.Step, put.Text = "", ""
		if step, ok := strings.CutPrefix(in["what"], "step:"); ok {
			put.Step = step
		} else {
			put.Text = strings.TrimPrefix(in["what"], "text:")
		}
	}
	at, ok := action.ParseTime(strings.TrimSpace(in["time"]))
	put.AtMs = int64(at)
	switch {
	case !ok:
		return nil, "Write when it was, in minutes and seconds, as 4:07."
	case put.Step == "" && put.Text == "":
		return nil, "Choose what was done."
	case kind == views.FixOther && in["what"] == "":
		return nil, "Choose what was done instead."
	case kind != views.FixOther && kind != views.FixTime && kind != views.FixAdd:
		return nil, "Choose what is wrong with it."
	}
	return append(changes, put), ""
}

// again is the tap of a line, so that it can be put at another time.
func again(l training.CorrectedLine) training.Correction {
	if l.Step == "" {
		return training.Correction{Text: l.Text}
	}
	c := training.Correction{Step: l.Step}
	if strings.HasSuffix(l.Text, "s") && (strings.HasPrefix(l.Text, "rub hands ") || strings.HasPrefix(l.Text, "wash hands ")) {
		c.Text = l.Text // it was timed
	}
	return c
}
