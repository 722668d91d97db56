package views

import (
	"context"
	"strings"

	"stillwet/internal/action"
	"stillwet/internal/procedure"
	"stillwet/internal/training"
)

// Recorder is the chairside page.
type Recorder struct {
	Demonstration training.Demonstration
	Learner       training.Person
	Procedure     *procedure.Procedure
	Before        []training.Observed // lines that an earlier program wrote
	Acts          []training.Watched
	ElapsedMs     int64
	Holding       training.Holding
	Since         string   // since when that device records, in words
	Products      []string // in use, where there are several
}

// inUse are the products in use, by id: at least that of the demonstration.
func (r Recorder) inUse() []string {
	if len(r.Products) > 0 {
		return r.Products
	}
	return []string{r.Demonstration.Product}
}

// Pack is all that the page of a recording shows, for a browser to keep. It holds no token.
type Pack struct {
	Board string       `json:"board"` // as HTML
	Data  recorderData `json:"data"`
}

// Pack renders the board, with words that tell wipes apart.
func (r Recorder) Pack(ctx context.Context, f Frame) (Pack, error) {
	if len(r.inUse()) == 1 { // of several it is asked
		r.Procedure = r.Procedure.SayingShelf(watchable(r.Procedure), r.Demonstration.Product)
	}
	var b strings.Builder
	err := recorderBoard(f, r).Render(ctx, &b)
	return Pack{b.String(), r.data()}, err
}

type recorderData struct {
	ID        string                  `json:"id"`
	ElapsedMs int64                   `json:"elapsed_ms"`
	SlackMs   int64                   `json:"slack_ms"`
	Product   string                  `json:"product"` // on the shelf
	InUse     []string                `json:"in_use"`  // products, of which a wipe from the shelf may be
	Products  map[string]productTimes `json:"products"`
	Steps     map[string]stepData     `json:"steps"`
	Surfaces  map[string]surfaceData  `json:"surfaces"`
	MustSee   []string                `json:"must_see"` // surfaces of which the clinic asks that they are seen wet
	OneFace   *oneFaceData            `json:"one_face,omitempty"`
	Buckets   map[string]bucketData   `json:"buckets"`
	Words     map[string]string       `json:"words"`  // how a text that is no step reads
	Unseen    []string                `json:"unseen"` // stretches of time that were not seen
	Causes    []string                `json:"causes"` // why a watcher steps in
	Person    string                  `json:"person"` // who records
	Learner   string                  `json:"learner"`
	Holder    string                  `json:"holder"` // the device that records
	Since     string                  `json:"since"`
	Before    []observedData          `json:"before"`
	Acts      []watchedData           `json:"acts"`
}

// oneFaceData is the thing of which one whole face has to be seen wet, with the
// surfaces of each of its faces.
type oneFaceData struct {
	Thing string     `json:"thing"`
	Faces [][]string `json:"faces"`
}

// bucketData is a bucket; one that is not always there plays a part when it is named.
type bucketData struct {
	Title string `json:"title"`
	There bool   `json:"there"`
}

func bucketsData(p *procedure.Procedure) map[string]bucketData {
	all := map[string]bucketData{}
	for _, it := range p.Items {
		if it.Kind == procedure.BucketItem {
			all[it.ID] = bucketData{it.Title, !it.WhenNamed}
		}
	}
	return all
}

type observedData struct {
	Key  string `json:"key"`
	Seq  int    `json:"seq"`
	AtMs int64  `json:"at_ms"`
	Text string `json:"text"`
	Step string `json:"step"`
}

// watchedData is an act that the server has.
type watchedData struct {
	Key    string `json:"key"`
	Device string `json:"device"`
	N      int    `json:"n"`
	AtMs   int64  `json:"at_ms"`
	Step   string `json:"step,omitempty"`
	Text   string `json:"text,omitempty"`
	Undo   string `json:"undo,omitempty"`
	State  string `json:"state,omitempty"` // "refused" or "late", of what is no part of the record
}

func (r Recorder) acts() []watchedData {
	all := make([]watchedData, len(r.Acts))
	for i, a := range r.Acts {
		all[i] = watchedData{a.Key, a.Device, a.N, a.AtMs, a.Step, a.Text, a.Undo, ""}
		switch {
		case a.Refused != "":
			all[i].State = "refused"
		case a.Late:
			all[i].State = "late"
		}
	}
	return all
}

func (r Recorder) board(mirrored bool) stationBoard {
	return boardOf(r.Procedure, watchable(r.Procedure), mirrored)
}

// asksStage reports whether it has to be said where watching began.
func (r Recorder) asksStage() bool { return r.Procedure.Begins == procedure.PatientThere }

// stage is a stage of the work with its words.
type stage struct{ ID, Words string }

func stages() (all []stage) {
	for _, id := range action.Stages {
		all = append(all, stage{id, procedure.Capital(stageWords[id])})
	}
	return all
}

// reasons are why work was stopped, with their words.
func reasons() (all []stage) {
	for _, id := range action.Reasons {
		all = append(all, stage{id, "No: " + reasonWords[id]})
	}
	return all
}

// verdicts are what a watcher can say of a mark.
var verdicts = []stage{{action.VerdictMet, "Met"}, {action.VerdictMissed, "Missed"}, {action.VerdictNotSeen, "Not seen"}}

// watcherMarks are the marks that only a watcher can decide.
func (r Recorder) watcherMarks() (all []procedure.Mark) {
	for _, m := range r.Procedure.MarkSheet.Marks {
		if m.Watcher {
			all = append(all, m)
		}
	}
	return all
}

// unseenFor are the stretches of time that a watcher can say were not seen.
var unseenFor = []action.Act{{Verb: action.NotSeenFor, Millis: 30_000}, {Verb: action.NotSeenFor, Millis: 60_000}, {Verb: action.NotSeenFor, Millis: 180_000}}

// words are how the texts that the dialogs record read. Steps and notes have theirs on
// their buttons.
func (r Recorder) words() map[string]string {
	p, all := r.Procedure, map[string]string{}
	say := func(a action.Act) { all[a.Text()] = ActWords(p, a) }
	for _, id := range action.Stages {
		say(action.Act{Verb: action.WatchingFrom, Object: id})
	}
	for _, id := range action.Reasons {
		say(action.Act{Verb: action.Stopped, Object: id})
	}
	for _, id := range action.Causes {
		say(action.Act{Verb: action.SteppedIn, Object: id})
	}
	for _, a := range unseenFor {
		all[a.Text()] = "The last " + lastWords(a.Millis) + " not seen"
	}
	for _, m := range r.watcherMarks() {
		for _, v := range verdicts {
			say(action.Act{Verb: action.WatcherSays, Object: m.ID, Of: v.ID})
		}
	}
	return all
}

func (r Recorder) data() recorderData {
	p := r.Procedure
	d := recorderData{
		ID: r.Demonstration.ID, ElapsedMs: r.ElapsedMs, SlackMs: int64(action.TapSlack),
		Product: r.Demonstration.Product, InUse: r.inUse(), Products: productsData(p),
		Steps: stepsData(p, watchable(p), r.Demonstration.Product), Surfaces: surfacesData(p), Buckets: bucketsData(p), MustSee: mustSee(p), Words: r.words(), Causes: action.Causes,
		Person: r.Demonstration.PreceptorID, Learner: r.Learner.Name, Holder: r.Holding.Device, Since: r.Since, Before: []observedData{}, Acts: r.acts(),
	}
	if thing := p.Settings.SeeOneFaceOf; thing != "" {
		d.OneFace = &oneFaceData{thing, p.FacesOf(thing)}
	}
	for _, a := range unseenFor {
		d.Unseen = append(d.Unseen, a.Text())
	}
	for _, o := range r.Before {
		d.Before = append(d.Before, observedData{o.Key, o.Seq, o.AtMs, o.Text, o.Step})
	}
	return d
}

// mustSee are the surfaces of which the clinic asks that they are seen wet. The
// staging surface is judged when something is set on it, as any.
func mustSee(p *procedure.Procedure) []string {
	ids := []string{}
	for i, s := range p.Surfaces {
		if p.MustBeSeen(i) {
			ids = append(ids, s.ID)
		}
	}
	return ids
}
