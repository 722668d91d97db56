package web

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"stillwet/internal/action"
	"stillwet/internal/procedure"
	"stillwet/internal/training"
	"stillwet/views"
)

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
	lines, err := v.Service.Corrected(v.ctx, v.actor, d)
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
	if lines, err = v.Service.Corrected(v.ctx, v.actor, d); err != nil {
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
