package web

import (
	"errors"
	"fmt"
	"strings"

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
	if r.MayWithdraw && !r.HandedOver {
		if r.People, err = v.Service.WhoseWork(v.ctx, v.actor, d); err != nil {
			return r, err
		}
	}
	if r.StandsAs, err = v.Service.RestatedAs(v.ctx, v.actor, d); err != nil {
		return r, err
	}
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
		if r.Corrected, err = v.Service.Corrected(v.ctx, v.actor, d); err != nil {
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
	if status, text, is := atForm(err, training.ErrForbidden); is {
		return v.showReview(status, views.Review{Wrong: text, WrongFor: at, Typed: typed(in)})
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

// patientWarning is what is said of free text that looks as if it spoke of a patient.
func patientWarning(in map[string]string, field string) string {
	return warnedOf(training.PatientDataWarning, in, field)
}

// warnedOf is what is said of free texts in which there are signs of what does not belong here,
// until whoever wrote them says of just these words that they may stay. in remembers which were
// asked about.
func warnedOf(signs func(text string) string, in map[string]string, fields ...string) string {
	var texts []string
	for _, name := range fields {
		texts = append(texts, in[name])
	}
	all := strings.Join(texts, "\n")
	warning, sure := signs(all), procedure.Digest([]byte(all))
	if warning == "" || in["sure"] == sure {
		return ""
	}
	in["sure"] = views.AskSure + sure
	return warning + " Change your words, or tick below that they may stay."
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

// restateDemonstration shows what was withdrawn, which leads on to what stands for it.
func restateDemonstration(v *visit) error {
	return v.act(reviewForm{views.AtRestate, []string{"whose", "with", "restated", "password"}, "restated", func(in map[string]string) error {
		_, err := v.Service.Restate(v.ctx, v.actor, in["key"], v.Params("id"), training.Restated{TraineeID: in["whose"], Product: in["with"], Why: in["restated"]}, in["password"])
		return onlyPassword(err)
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
