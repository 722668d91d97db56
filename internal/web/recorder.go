package web

import (
	"stillwet/internal/training"
	"stillwet/views"
)

// recorder shows the chairside page, with every line recorded so far.
func recorder(v *visit) error {
	r, err := v.Service.Recorded(v.ctx, v.actor, v.Params("id"))
	if err != nil {
		return err
	}
	d := r.Demonstration
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
		Demonstration: d, Learner: who, Procedure: p, Before: r.Before, Acts: r.Acts, ElapsedMs: v.since(d.StartedAt),
	}))
}

// session says who is signed in, with a token for what a script sends: a page that was
// kept in a browser holds neither.
func session(v *visit) error {
	return v.JSON(struct {
		Person string `json:"person"`
		Token  string `json:"token"`
	}{v.actor.Person.ID, v.token()})
}

// batchIn is what a recorder sends: acts of one device, in any order.
type batchIn struct {
	Device string  `json:"device"`
	Acts   []actIn `json:"acts"`
}

// actIn is one act as a recorder sends it, and as it gets it again.
type actIn struct {
	Key  string `json:"key"`
	N    int    `json:"n"`
	AtMs int64  `json:"at_ms"`
	Wall string `json:"wall"`
	Step string `json:"step,omitempty"`
	Text string `json:"text,omitempty"`
	Undo string `json:"undo,omitempty"` // key of the act taken back
}

func (in batchIn) acts() []training.Watched {
	acts := make([]training.Watched, len(in.Acts))
	for i, a := range in.Acts {
		acts[i] = training.Watched{Key: a.Key, N: a.N, AtMs: a.AtMs, Wall: training.Instant(a.Wall), Step: a.Step, Text: a.Text, Undo: a.Undo}
	}
	return acts
}

// batchOut says what became of each act, and which device records.
type batchOut struct {
	Acts   []keptOut `json:"acts"`
	Holder string    `json:"holder"`
}

type keptOut struct {
	Key string `json:"key"`
	As  string `json:"as"`
	Why string `json:"why,omitempty"`
}

func batch(v *visit) error {
	var in batchIn
	if err := v.body(&in); err != nil {
		return err
	}
	kept, holds, err := v.Service.Batch(v.ctx, v.actor, v.Params("id"), in.Device, in.acts())
	if err != nil {
		return err
	}
	out := batchOut{Acts: []keptOut{}, Holder: holds.Device}
	for _, k := range kept {
		out.Acts = append(out.Acts, keptOut{k.Key, string(k.As), k.Why})
	}
	return v.JSON(out)
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
		Last    []struct {
			Device string `json:"device"`
			N      int    `json:"n"`
		} `json:"last"` // of each device that it knows, its own first
	}
	if err := v.body(&in); err != nil {
		return err
	}
	if warning := training.PatientDataWarning(in.Comment); warning != "" && !in.Sure {
		return v.JSON(ended{Warning: warning})
	}
	var made []training.LastOf
	for _, l := range in.Last {
		made = append(made, training.LastOf{Device: l.Device, N: l.N})
	}
	d, err := v.Service.EndDemonstration(v.ctx, v.actor, in.Key, v.Params("id"), in.AtMs, in.Comment, made...)
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
