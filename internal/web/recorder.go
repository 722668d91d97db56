package web

import (
	"stillwet/internal/training"
	"stillwet/views"
)

// recorder shows the chairside page, with every line recorded so far.
func recorder(v *visit) error {
	d, lines, err := v.Service.Observations(v.ctx, v.actor, v.Params("id"))
	if err != nil {
		return err
	}
	if d.State != training.Recording {
		return v.goTo("/demonstrations/" + d.ID)
	}
	who, err := v.Service.Person(v.ctx, v.actor, d.TraineeID)
	if err != nil {
		return err
	}
	p, _, _, err := v.judgedBy(d.Procedure, d.ProcedureHash)
	if err != nil {
		return err
	}
	f := v.frame("Recording "+who.Name, views.AtWatch)
	f.Script = "recorder.js"
	return v.page(200, views.RecorderPage(f, views.Recorder{
		Demonstration: d, Learner: who, Procedure: p, Lines: lines, ElapsedMs: v.since(d.StartedAt),
	}))
}

// observedLine is a line as the recorder knows it.
type observedLine struct {
	Key  string `json:"key"`
	Seq  int    `json:"seq"`
	AtMs int64  `json:"at_ms"`
	Text string `json:"text"`
	Step string `json:"step"`
}

type observedLines struct {
	Lines []observedLine `json:"lines"`
}

func answerLines(v *visit, lines []training.Observed) error {
	answer := observedLines{Lines: []observedLine{}}
	for _, o := range lines {
		answer.Lines = append(answer.Lines, observedLine{o.Key, o.Seq, o.AtMs, o.Text, o.Step})
	}
	return v.JSON(answer)
}

// observedIn is one tap as the recorder sends it.
type observedIn struct {
	Key  string `json:"key"`
	AtMs int64  `json:"at_ms"`
	Step string `json:"step"`
	Text string `json:"text"`
	Undo string `json:"undo"` // key of the tap taken back; told by seq
	Seq  int    `json:"seq"`
}

func observe(v *visit) error {
	var in observedIn
	if err := v.body(&in); err != nil {
		return err
	}
	lines, err := v.Service.Observe(v.ctx, v.actor, v.Params("id"), training.Observed{Key: in.Key, AtMs: in.AtMs, Step: in.Step, Text: in.Text})
	if err != nil {
		return err
	}
	return answerLines(v, lines)
}

func undo(v *visit) error {
	var in observedIn
	if err := v.body(&in); err != nil {
		return err
	}
	lines, err := v.Service.Undo(v.ctx, v.actor, v.Params("id"), in.Key, in.Seq, in.AtMs)
	if err != nil {
		return err
	}
	return answerLines(v, lines)
}

// ended answers the end of a recording: the way on, or a warning to read first.
type ended struct {
	Way     string `json:"way,omitempty"`
	Warning string `json:"warning,omitempty"`
}

func endDemonstration(v *visit) error {
	var in struct {
		Key     string `json:"key"`
		AtMs    int64  `json:"at_ms"`
		Comment string `json:"comment"`
		Sure    bool   `json:"sure"` // the warning was read
	}
	if err := v.body(&in); err != nil {
		return err
	}
	if warning := training.PatientDataWarning(in.Comment); warning != "" && !in.Sure {
		return v.JSON(ended{Warning: warning})
	}
	d, err := v.Service.EndDemonstration(v.ctx, v.actor, in.Key, v.Params("id"), in.AtMs, in.Comment)
	if err != nil {
		return err
	}
	return v.JSON(ended{Way: "/demonstrations/" + d.ID})
}

func abandon(v *visit) error {
	var in struct {
		Key string `json:"key"`
	}
	if err := v.body(&in); err != nil {
		return err
	}
	if _, err := v.Service.AbandonDemonstration(v.ctx, v.actor, in.Key, v.Params("id")); err != nil {
		return err
	}
	return v.JSON(ended{Way: "/watch"})
}
