package web

import (
	"fmt"

	"github.com/gofiber/fiber/v2"

	"stillwet/internal/training"
	"stillwet/views"
)

// recorder shows the page of a recording, which is the same for all: a browser that kept
// it shows it while the server is away.
func recorder(v *visit) error {
	r, err := v.Service.Recorded(v.ctx, v.actor, v.Params("id"))
	if err != nil {
		return err
	}
	if r.State != training.Recording {
		return v.goTo("/demonstrations/" + r.ID)
	}
	return recorderShell(v)
}

func recorderShell(v *visit) error { return v.page(200, views.RecorderShell()) }

// pack is what the recorder shows, with every act so far.
func pack(v *visit) error {
	r, err := v.Service.Recorded(v.ctx, v.actor, v.Params("id"))
	if err != nil {
		return err
	}
	d := r.Demonstration
	if d.State != training.Recording {
		return v.JSON(ended{Way: "/demonstrations/" + d.ID})
	}
	who, err := v.learner(d)
	if err != nil {
		return err
	}
	who.Name = views.Whose(who.Name, d.Setting)
	p, _, _, err := v.judgedBy(d.Procedure, d.ProcedureHash)
	if err != nil {
		return err
	}
	f := v.frame("Recorder", views.AtWatch)
	page := views.Recorder{Demonstration: d, Learner: who, Procedure: p, Before: r.Before, Acts: r.Acts, ElapsedMs: v.since(d.StartedAt), Holding: r.Holding}
	for _, x := range d.Setting.InUse {
		page.Products = append(page.Products, x.ID)
	}
	if r.Holding.Seq > 0 {
		page.Since = f.Moment(r.Holding.At)
	}
	packed, err := page.Pack(v.ctx, f)
	if err != nil {
		return fmt.Errorf("render: %w", err)
	}
	return v.JSON(packed)
}

// worker is the script by which a browser keeps the recorder's page. It is asked for anew
// each time: by it the browser learns of a new version.
func worker(v *visit) error {
	v.Set(fiber.HeaderContentType, "text/javascript; charset=utf-8")
	v.Set(fiber.HeaderCacheControl, "no-cache")
	return v.Send(views.Worker())
}

// takeOver lets another device record.
func takeOver(v *visit) error {
	var in struct {
		Key    string `json:"key"`
		Device string `json:"device"`
	}
	if err := v.body(&in); err != nil {
		return err
	}
	h, err := v.Service.TakeOver(v.ctx, v.actor, in.Key, v.Params("id"), in.Device)
	if err != nil {
		return err
	}
	return v.JSON(batchOut{Acts: []keptOut{}, Holder: h.Device})
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
