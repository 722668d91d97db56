package web

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"mime/multipart"
	"slices"
	"strings"

	"github.com/gofiber/fiber/v2"

	"stillwet/internal/procedure"
	"stillwet/internal/training"
	"stillwet/scenarios"
	"stillwet/views"
)

// aSet is the most that comes as a zip in a browser: fifteen times the built-in set. A
// larger one comes by the command.
const aSet = 1 << 20

// bringSet makes a zip the draft. One that cannot be used is told with every fault, and
// nothing of it is kept.
func bringSet(v *visit) error {
	in, err := v.form("key", "revision")
	if err != nil {
		return err
	}
	revision, err := number(in["revision"])
	if err != nil {
		return err
	}
	data, err := v.upload("zip")
	if err != nil {
		return err
	}
	if len(data) == 0 {
		return v.showSetWith(422, "Choose the zip first: one that this page, or stillwet set export, gave.")
	}
	set, err := scenarios.ReadZip(data)
	if err != nil {
		return v.showSetWith(422, "Nothing was brought in. "+procedure.Capital(err.Error())+".")
	}
	if _, err := set.Load(); err != nil {
		return v.showSetWith(422, "Nothing was brought in. This set has faults:\n"+firstLines(err.Error(), 40))
	}
	_, err = v.Service.SaveSetDraft(v.ctx, v.actor, in["key"], training.SetSaving{Revision: revision, Files: set.Map(), Imported: true})
	return v.afterSet(err)
}

// upload is the file of a form that comes in parts, nothing when none was chosen.
func (v *visit) upload(name string) ([]byte, error) {
	parts, err := v.parts()
	if err != nil || parts == nil || len(parts.File[name]) == 0 {
		return nil, err
	}
	f, err := parts.File[name][0].Open()
	if err != nil {
		return nil, err
	}
	data, err := io.ReadAll(io.LimitReader(f, aSet))
	return data, errors.Join(err, f.Close())
}

// parts is a form that comes in parts, nil for another. Its size is the route's.
func (v *visit) parts() (*multipart.Form, error) {
	if !strings.HasPrefix(v.Get(fiber.HeaderContentType), fiber.MIMEMultipartForm) {
		return nil, nil
	}
	parts, err := v.MultipartForm()
	if err != nil {
		return nil, problem{400, "The form could not be read. Reload the page and send it again."}
	}
	return parts, nil
}

// told reports whether an error is a refusal that its page tells.
func told(err error) bool {
	return slices.ContainsFunc([]error{training.ErrConflict, training.ErrInvalid, training.ErrPassword, training.ErrThrottled}, func(kind error) bool { return errors.Is(err, kind) })
}

// afterSet shows a refused act on the page of the set, and goes to it otherwise.
func (v *visit) afterSet(err error) error {
	if told(err) {
		return v.showSetWith(explain(err))
	}
	if err != nil {
		return err
	}
	return v.goTo(views.SetURL)
}

// undoEdit takes the last change of the draft back: the others are made anew.
func undoEdit(v *visit) error {
	in, err := v.form("key", "revision")
	if err != nil {
		return err
	}
	revision, err := number(in["revision"])
	if err != nil {
		return err
	}
	b, none, err := v.bench(outlined)
	if err != nil {
		return err
	}
	before, edits := b.before()
	if none || before == nil {
		return v.showSetWith(409, "There is no last change that could be taken back.")
	}
	if len(edits) == 0 {
		return v.afterSet(v.Service.DiscardSetDraft(v.ctx, v.actor, in["key"], revision))
	}
	text, err := json.Marshal(edits)
	if err != nil {
		return err
	}
	_, err = v.Service.SaveSetDraft(v.ctx, v.actor, in["key"], training.SetSaving{Revision: revision, Files: before.Map(), Edits: string(text)})
	return v.afterSet(err)
}

// before is the draft without its last change, nil when its changes are not all that
// became of the version below it.
func (b *bench) before() (*scenarios.Set, []scenarios.Edit) {
	var edits []scenarios.Edit
	if b == nil || b.below == nil || !b.draft.Open || json.Unmarshal([]byte(b.draft.Edits), &edits) != nil || len(edits) == 0 {
		return nil, nil
	}
	if again, err := b.below.With(edits...); err != nil || again.Hash() != b.set.Hash() {
		return nil, nil
	}
	edits = edits[:len(edits)-1]
	if len(edits) == 0 {
		return b.below, nil
	}
	before, err := b.below.With(edits...)
	if err != nil {
		return nil, nil
	}
	return before, edits
}

// takeVersion makes a version the draft, to go back to it or to go on from it.
func takeVersion(v *visit) error {
	in, err := v.form("key", "revision")
	if err != nil {
		return err
	}
	revision, err := number(in["revision"])
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

// askApprovers says by how many people a version is approved.
func askApprovers(v *visit) error {
	in, err := v.form("key", "two", "password")
	if err != nil {
		return err
	}
	err = v.Service.AskTwoToApprove(v.ctx, v.actor, in["key"], in["two"] == "yes", approvalOf(in), in["password"], secondOf(in))
	return v.afterSet(err)
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

// firstLines are the first lines of a text, with how many more there are.
func firstLines(text string, most int) string {
	lines := strings.Split(text, "\n")
	if len(lines) <= most {
		return text
	}
	return strings.Join(lines[:most], "\n") + fmt.Sprintf("\nand %d more.", len(lines)-most)
}
