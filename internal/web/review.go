package web

import (
	"errors"
	"fmt"

	"stillwet/internal/training"
	"stillwet/views"
)

func review(v *visit) error { return v.showReview(200, views.Review{}) }

// showReview fills a review; what a signer got wrong is given by the caller.
func (v *visit) showReview(status int, r views.Review) error {
	d, err := v.Service.Demonstration(v.ctx, v.actor, v.Params("id"))
	if err != nil {
		return err
	}
	who, err := v.Service.Person(v.ctx, v.actor, d.TraineeID)
	if err != nil {
		return err
	}
	own := d.PreceptorID == v.actor.Person.ID
	f := v.frame("Demonstration by "+who.Name, views.AtWatch)
	if d.TraineeID == v.actor.Person.ID {
		f.At = views.AtRecord
	}
	if d.State != training.Ended {
		return v.page(status, views.StoppedPage(f, d, who.Name, own))
	}
	if r.Result, err = v.result(d.Procedure, d.ProcedureHash, d.Log, d.ResultJSON, d.StartedAt); err != nil {
		return err
	}
	r.Steps = tapsOf(r.Log)
	r.Demonstration, r.Learner, r.MaySign = d, who, own
	names, err := v.Service.Names(v.ctx, v.actor, d.PreceptorID)
	if err != nil {
		return err
	}
	r.PreceptorName = names[d.PreceptorID]
	if own {
		r.PreceptorName = v.actor.Person.Name
		if r.Choices, err = v.Service.Choices(v.ctx, v.actor, d); err != nil {
			return err
		}
	}
	if r.Overtaken, err = v.Service.Overtaken(v.ctx, v.actor, d); err != nil {
		return err
	}
	if r.Signed, err = v.Service.SignedAs(v.ctx, d); err != nil {
		return err
	}
	if r.Received, err = v.Service.Received(v.ctx, v.actor, d); err != nil {
		return err
	}
	if v.Service.Demo {
		if r.LearnerUsername, err = v.Service.SignInName(v.ctx, v.actor, d.TraineeID); err != nil {
			return err
		}
	}
	r.Competency, r.Product = views.AtStation(v.competencyTitle(d.Competency), r.Procedure), r.Procedure.Title(d.Product)
	return v.page(status, views.ReviewPage(f, r))
}

func (s *server) competencyTitle(id string) string {
	for _, c := range s.Library.Competencies() {
		if c.ID == id {
			return c.Title
		}
	}
	return id
}

// notSigned shows the review again with the reason at the signer's card. Other
// errors go on.
func (v *visit) notSigned(err error, r views.Review) error {
	for _, kind := range []error{training.ErrPassword, training.ErrForbidden, training.ErrInvalid, training.ErrConflict, training.ErrThrottled} {
		if errors.Is(err, kind) {
			status, text := explain(err)
			r.Wrong = text
			return v.showReview(status, r)
		}
	}
	return err
}

func signLearner(v *visit) error {
	in, err := v.form("key", "username", "password")
	if err != nil {
		return err
	}
	_, err = v.Service.SignAsLearner(v.ctx, v.actor, in["key"], v.Params("id"), training.Learner{Username: in["username"], Password: in["password"]})
	if err != nil {
		return v.notSigned(err, views.Review{WrongFor: views.LearnerSigns, Username: in["username"]})
	}
	return v.goTo("/demonstrations/" + v.Params("id") + "#signing")
}

// onlyPassword speaks of the password alone, where no name was asked for.
func onlyPassword(err error) error {
	if errors.Is(err, training.ErrPassword) {
		return fmt.Errorf("%w: %w", problem{422, "That password is not right. Nothing was signed."}, err)
	}
	return err
}

func signPreceptor(v *visit) error {
	in, err := v.form("key", "meaning", "password")
	if err != nil {
		return err
	}
	meaning := training.Meaning(in["meaning"])
	_, err = v.Service.SignAsPreceptor(v.ctx, v.actor, in["key"], v.Params("id"), meaning, in["password"])
	if err != nil {
		return v.notSigned(onlyPassword(err), views.Review{WrongFor: views.PreceptorSigns, Chosen: meaning})
	}
	return v.goTo("/demonstrations/" + v.Params("id") + "#signing")
}
