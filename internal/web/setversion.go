package web

import (
	"fmt"
	"slices"

	"stillwet/internal/training"
	"stillwet/scenarios"
	"stillwet/views"
)

func showVersion(v *visit) error { return v.showVersionWith(200, "") }

func (v *visit) showVersionWith(status int, wrong string) error {
	return v.showVersionPage(status, views.SetVersionView{Problem: wrong})
}

// showVersionPage shows a version; the page may hold what was refused, of its approval or
// of what follows from it.
func (v *visit) showVersionPage(status int, page views.SetVersionView) error {
	n, err := number(v.Params("number"))
	if err != nil {
		return problem{404, "There is no such version of the clinic's procedure."}
	}
	page.Today = v.Service.Today()
	if page.Sets, err = v.Service.Sets(v.ctx, v.actor); err != nil {
		return err
	}
	at := slices.IndexFunc(page.Sets.Versions, func(x training.SetVersion) bool { return x.Number == n })
	if at < 0 {
		return problem{404, "There is no such version of the clinic's procedure."}
	}
	page.Version = page.Sets.Versions[at]
	files, err := v.Service.SetFiles(v.ctx, v.actor, n)
	if err != nil {
		return err
	}
	_, is, err := read(files, proved)
	if err != nil {
		return err
	}
	page.Resting, page.Read = is.Resting(), namedOf(is)
	if page.Version.BasedOn > 0 {
		before, err := v.Service.SetFiles(v.ctx, v.actor, page.Version.BasedOn)
		if err != nil {
			return err
		}
		_, was, err := read(before, proved)
		if err != nil {
			return err
		}
		page.Changes = scenarios.Differences(was, is)
	}
	if page.Version.State() == training.SetProposed && v.Query("effect") == "yes" { // it judges every stored log
		effect, err := v.Service.Effect(v.ctx, files)
		if err != nil {
			return err
		}
		page.Effect = &effect
	}
	if page.Follow == nil {
		if page.Follow, err = v.following(page.Version); err != nil {
			return err
		}
	}
	return v.page(status, views.SetVersionPage(v.frame("Version "+v.Params("number"), views.AtSet), page))
}

// versionFiles gives a version as a zip.
func versionFiles(v *visit) error {
	n, err := number(v.Params("number"))
	if err != nil {
		return problem{404, "There is no such version of the clinic's procedure."}
	}
	files, err := v.Service.SetFiles(v.ctx, v.actor, n)
	if err != nil {
		return err
	}
	set, err := scenarios.SetOf(files)
	if err != nil {
		return err
	}
	v.Set("Content-Type", "application/zip")
	v.Set("Content-Disposition", fmt.Sprintf(`attachment; filename="stillwet-set-%d.zip"`, n))
	return v.Send(set.Zip())
}

// takeVersion makes a version the draft, to go back to it or to go on from it.
func takeVersion(v *visit) error {
	in, revision, err := v.draftForm()
	if err != nil {
		return err
	}
	n, err := number(v.Params("number"))
	if err != nil {
		return err
	}
	_, err = v.Service.TakeVersionAsDraft(v.ctx, v.actor, in["key"], n, revision)
	if told(err) {
		return v.showVersionWith(explain(err))
	}
	return v.afterSet(err)
}

func approveSet(v *visit) error {
	in, err := v.form("key", "hash", "from", "approval", "password")
	if err != nil {
		return err
	}
	n, err := number(v.Params("number"))
	if err != nil {
		return err
	}
	ap := training.SetApproving{Version: n, Hash: in["hash"], From: training.Day(in["from"]), Approval: approvalOf(in)}
	_, err = v.Service.ApproveSet(v.ctx, v.actor, in["key"], ap, in["password"], secondOf(in))
	if told(err) {
		status, text := explain(err)
		given := views.Approving{From: in["from"], Word: wordIn(in), Problem: text}
		return v.showVersionPage(status, views.SetVersionView{Approving: given})
	}
	return v.afterVersion(err)
}

func withdrawSet(v *visit) error {
	in, err := v.form("key", "why")
	if err != nil {
		return err
	}
	n, err := number(v.Params("number"))
	if err != nil {
		return err
	}
	_, err = v.Service.WithdrawSet(v.ctx, v.actor, in["key"], n, in["why"])
	if told(err) {
		status, text := explain(err)
		return v.showVersionPage(status, views.SetVersionView{Approving: views.Approving{Why: in["why"], NotBack: text}})
	}
	return v.afterVersion(err)
}

// afterVersion shows a refused act at its version, and goes to it otherwise.
func (v *visit) afterVersion(err error) error {
	if told(err) {
		return v.showVersionWith(explain(err))
	}
	if err != nil {
		return err
	}
	return v.goTo(views.SetURL + "/versions/" + v.Params("number"))
}

// approvalOf is whose word a form says it is.
func approvalOf(in map[string]string) training.Approval {
	word := training.Approval{How: training.ApprovalHow(in["approval"])}
	if word.How == training.ApprovedPaper {
		word.By, word.Role, word.On, word.Where = in["approver"], in["approver-role"], training.Day(in["approved-on"]), in["paper"]
	}
	return word
}

// wordIn is what a form says of whose word it is, all of it, to be shown again: who chose
// the other way goes back to what they typed.
func wordIn(in map[string]string) views.Word {
	paper := training.Approval{How: training.ApprovalHow(in["approval"]), By: in["approver"], Role: in["approver-role"], On: training.Day(in["approved-on"]), Where: in["paper"]}
	return views.Word{Approval: paper, Second: in["second-name"]}
}

func secondOf(in map[string]string) training.SecondPerson {
	return training.SecondPerson{Username: in["second-name"], Password: in["second-password"]}
}
