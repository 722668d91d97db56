package web

import (
	"stillwet/internal/training"
	"stillwet/views"
)

// withdrawSignOff withdraws a sign-off; what is refused is told at its form on the person's
// record.
func withdrawSignOff(v *visit) error {
	in, err := v.form("key", "person")
	if err != nil {
		return err
	}
	if warning := patientWarning(in, "why"); warning != "" {
		return v.showRecordOf(in["person"], 422, views.Record{WrongFor: v.Params("id"), Wrong: warning, Why: in["why"], Sure: in["sure"]})
	}
	o, err := v.Service.WithdrawSignOff(v.ctx, v.actor, in["key"], v.Params("id"), in["why"], in["password"])
	if err != nil {
		return v.notEnded(onlyPassword(err), in["person"], v.Params("id"), in["why"])
	}
	return v.doneAt("/people/"+o.PersonID+"#sign-offs", views.SignOffIsWithdrawn, 0)
}

func endEntitlement(v *visit) error {
	in, err := v.form("key")
	if err != nil {
		return err
	}
	id, person := v.Params("entitlement"), v.Params("id")
	if warning := patientWarning(in, "why"); warning != "" {
		return v.showRecordOf(person, 422, views.Record{WrongFor: id, Wrong: warning, Why: in["why"], Sure: in["sure"]})
	}
	if err = v.prove(in); err == nil {
		err = v.Service.EndEntitlement(v.ctx, v.actor, in["key"], person, id, in["why"])
	}
	if err != nil {
		return v.notEnded(err, person, id, in["why"])
	}
	return v.doneAt("/people/"+person+"#entitled", views.EntitlementIsEnded, 0)
}

// notEnded says at its form why something goes on as it was, with the reason that was typed.
func (v *visit) notEnded(err error, person, form, why string) error {
	if status, text, is := atForm(err, training.ErrProve); is {
		return v.showRecordOf(person, status, views.Record{WrongFor: form, Wrong: text, Why: why})
	}
	return err
}
