package views

import (
	"strconv"
	"strings"

	"stillwet/internal/action"
	"stillwet/internal/procedure"
	"stillwet/internal/simulate"
	"stillwet/internal/training"
)

// Run is the page of a run against the clock.
type Run struct {
	Scenario  *simulate.Scenario
	Procedure *procedure.Procedure
	Draft     training.Draft
	ElapsedMs int64 // real milliseconds since the start, when the page was made
}

// runData is what the page needs to show the clock and the films; the server
// judges by its own.
type runData struct {
	Draft     string                  `json:"draft"`
	Pace      int                     `json:"pace"`
	ElapsedMs int64                   `json:"elapsed_ms"`
	Steps     map[string]stepData     `json:"steps"`
	Surfaces  map[string]surfaceData  `json:"surfaces"`
	Products  map[string]productTimes `json:"products"`
	Shelf     string                  `json:"shelf"` // product of a wipe that nobody took
	Events    []eventData             `json:"events"`
	Blood     []string                `json:"blood"`             // surfaces with blood at the start
	Patient   string                  `json:"patient,omitempty"` // "chair" where one is there at the start
	Taps      []simulate.Tap          `json:"taps"`
}

// eventData is something that the world does in a run.
type eventData struct {
	At    action.Millis `json:"at_ms"`           // -1 when it follows a step
	After string        `json:"after,omitempty"` // step id
	Text  string        `json:"text"`
	Blood string        `json:"blood,omitempty"` // surface on which blood shows
	Uses  []string      `json:"uses,omitempty"`  // surfaces that a person uses again
	Where string        `json:"patient,omitempty"`
}

type stepData struct {
	Label   string    `json:"label"`
	Words   string    `json:"words"`           // the label in few words
	Doing   string    `json:"doing,omitempty"` // the label while it is being done
	Seconds int       `json:"seconds"`
	Acts    []actData `json:"acts"`
	Dry     []string  `json:"dry,omitempty"`     // surfaces that have to be dry before it
	Happens bool      `json:"happens,omitempty"` // by itself: nobody does it
	Shelf   bool      `json:"shelf,omitempty"`   // a wipe is taken of what is on the shelf
}

type actData struct {
	Wipe    string `json:"wipe,omitempty"`    // surface that is wiped or cleaned
	Wets    bool   `json:"wets,omitempty"`    // a disinfecting wipe
	Product string `json:"product,omitempty"` // of a wipe that is taken
	Gloves  string `json:"gloves,omitempty"`  // "on" or "off"; taken off, the wipe goes with them
	Drops   bool   `json:"drops,omitempty"`   // the wipe in hand is let go
	On      string `json:"on,omitempty"`      // what is touched, or where something is put
	Ready   bool   `json:"ready,omitempty"`   // the station is declared ready
	Blood   string `json:"blood,omitempty"`   // surface on which blood shows
	Dries   string `json:"dries,omitempty"`   // surface that is towelled
	Hands   string `json:"hands,omitempty"`   // how hands are cleaned, as in a log without seconds
	AllDry  bool   `json:"all_dry,omitempty"` // whatever was wiped is dry
	Bucket  string `json:"bucket,omitempty"`  // which one something is done with
	Deed    string `json:"deed,omitempty"`    // what: "off", "emptied", "aside" or "back"
	Patient string `json:"patient,omitempty"` // where the patient is then: see patientDeeds
}

// usedBy are the surfaces that somebody who touches them, or sits down, uses again.
func usedBy(p *procedure.Procedure, a action.Act) (ids []string) {
	switch a.Verb {
	case action.PatientTouches:
		ids = append(ids, a.Object)
	case action.PatientSits:
		for _, s := range p.Surfaces {
			if s.ChairSide {
				ids = append(ids, s.ID)
			}
		}
	}
	return ids
}

// bloodOn is the surface on which an event shows blood, "" for others.
func bloodOn(a action.Act) string {
	if a.Verb != action.BloodOn {
		return ""
	}
	return a.Object
}

type surfaceData struct {
	Title string         `json:"title"`
	Name  string         `json:"name"` // in the picture
	Face  string         `json:"face"`
	WipeS int            `json:"wipe_s"`
	Dries map[string]int `json:"dries_s"` // by product
}

type productTimes struct {
	Title  string `json:"title"`
	LabelS int    `json:"label_s"`
	Alone  bool   `json:"alone,omitempty"` // it counts the time that a surface is left alone
}

func (r Run) board(mirrored bool) stationBoard {
	return runBoard(r.Procedure, r.Scenario.Steps, mirrored)
}

func (r Run) data() runData {
	p := r.Procedure
	d := runData{
		Draft: r.Draft.ID, Pace: max(1, r.Draft.Pace), ElapsedMs: r.ElapsedMs, Taps: r.Draft.Taps,
		Steps: stepsData(p, r.Scenario.Steps, r.Scenario.Product), Surfaces: surfacesData(p), Products: productsData(p), Shelf: r.Scenario.Product, Events: []eventData{}, Blood: []string{},
	}
	for id, s := range d.Steps {
		s.Doing = doing(s.Label)
		d.Steps[id] = s
	}
	for _, e := range r.Scenario.Events {
		d.Events = append(d.Events, eventData{At: e.At, After: e.After, Text: ActWords(p, e.Act), Blood: bloodOn(e.Act), Uses: usedBy(p, e.Act), Where: patientDeeds[e.Act.Verb]})
	}
	if p.Begins == procedure.PatientThere {
		d.Patient = "chair"
	}
	for _, a := range r.Scenario.Start {
		if where := patientDeeds[a.Verb]; where != "" {
			d.Patient = where
		}
		if s := bloodOn(a); s != "" {
			d.Blood = append(d.Blood, s)
		}
	}
	return d
}

func productsData(p *procedure.Procedure) map[string]productTimes {
	all := map[string]productTimes{}
	for _, x := range p.Products {
		all[x.ID] = productTimes{Title: x.Title, LabelS: x.LabelS, Alone: x.CountsDry()}
	}
	return all
}

func surfacesData(p *procedure.Procedure) map[string]surfaceData {
	all := map[string]surfaceData{}
	for i, s := range p.Surfaces {
		dries := map[string]int{}
		for j, x := range p.Products {
			dries[x.ID] = p.DriesS(i, j)
		}
		all[s.ID] = surfaceData{s.Title, p.NameOf(s.ID), s.Face, s.WipeS, dries}
	}
	return all
}

// stepsData is the offered steps, with what is on the shelf in their acts.
func stepsData(p *procedure.Procedure, offered []string, shelf string) map[string]stepData {
	all := map[string]stepData{}
	for _, id := range offered {
		i := p.StepIndex(id)
		if i < 0 {
			continue
		}
		step := stepData{Label: p.Steps[i].Label, Words: p.Steps[i].Words(), Seconds: p.Steps[i].Seconds, Happens: happens(&p.Steps[i])}
		for _, a := range p.Steps[i].Acts {
			step.Acts = append(step.Acts, actIn(p, procedure.OnShelf(a, shelf)))
			step.Dry = append(step.Dry, dryBefore(p, a)...)
			step.Shelf = step.Shelf || a.Verb == action.TakeWipe && a.Of == procedure.Shelf
		}
		all[id] = step
	}
	return all
}

// dryBefore is the surfaces that have to be dry before an act: the bucket's before it
// goes back, and all before anything clean or anybody comes.
func dryBefore(p *procedure.Procedure, a action.Act) (ids []string) {
	kind := itemKind(p, a.Object)
	back := a.Verb == action.PutBack && kind == procedure.BucketItem
	comes := a.Verb == action.SeatNext || a.Verb == action.Bring && kind == procedure.NextSet
	for _, s := range p.Surfaces {
		if back && s.Role == procedure.BucketSurface || comes && s.Role != procedure.StagingSurface {
			ids = append(ids, s.ID)
		}
	}
	return ids
}

// itemKind is the kind of a thing, "" of what is none.
func itemKind(p *procedure.Procedure, id string) procedure.ItemKind {
	if i := p.ItemIndex(id); i >= 0 {
		return p.Items[i].Kind
	}
	return ""
}

// bucketDeeds are what is done with a bucket, in the words of scripts.
var bucketDeeds = map[action.Verb]string{action.TakeOff: "off", action.Empty: "emptied", action.SetAt: "aside", action.PutBack: "back"}

// actIn is an act with what it does to the things of a procedure.
func actIn(p *procedure.Procedure, a action.Act) actData {
	x := actOf(a)
	if deed := bucketDeeds[a.Verb]; deed != "" && itemKind(p, a.Object) == procedure.BucketItem {
		x.Bucket, x.Deed = a.Object, deed
	}
	x.Patient = patientDeeds[a.Verb]
	return x
}

// patientDeeds are where the patient is after an act or event, in the words of scripts: in the
// "chair", "there" beside it, "gone", gone for whoever looked ("looked"), or still there
// because she cannot leave ("stays").
var patientDeeds = map[action.Verb]string{
	action.HelpOut: "gone", action.PatientLeaves: "gone", action.CheckGone: "looked", action.PatientStays: "stays",
	action.SeatNext: "chair", action.PatientSits: "chair", action.PatientBack: "there",
}

func actOf(a action.Act) actData {
	switch a.Verb {
	case action.Wipe, action.Clean:
		return actData{Wipe: a.Object, Wets: a.Verb == action.Wipe}
	case action.TakeWipe:
		return actData{Product: a.Of}
	case action.DropWipe, action.DiscardWipe:
		return actData{Drops: true}
	case action.PutOn, action.TakeOff, action.Discard:
		return glovesOf(a)
	case action.Touch:
		return actData{On: a.Object}
	case action.Bring, action.SetAt, action.PutBack:
		return actData{On: a.Place}
	case action.DeclareReady:
		return actData{Ready: true}
	case action.BloodOn:
		return actData{Blood: a.Object}
	case action.RubHands, action.WashHands:
		return actData{Hands: (&action.Act{Verb: a.Verb}).Text()}
	case action.Wait:
		return actData{AllDry: true}
	case action.WipeDry:
		return actData{Dries: a.Object, On: a.Object}
	}
	return actData{}
}

func glovesOf(a action.Act) actData {
	switch {
	case a.Object != action.Gloves:
		return actData{}
	case a.Verb == action.PutOn:
		return actData{Gloves: "on"}
	}
	return actData{Gloves: "off"}
}

// takes is how long steps take with their wipes, one after another.
func takes(p *procedure.Procedure, steps ...procedure.Step) string {
	t := action.Millis(0)
	for i := range steps {
		t += simulate.Busy(p, &steps[i])
	}
	return strconv.Itoa(int(t/1000)) + " s"
}

// doingWords turn what a label tells to do into what the hands are doing.
var doingWords = map[string]string{
	"Bring": "Bringing", "Check": "Checking", "Clean": "Cleaning", "Declare": "Declaring", "Empty": "Emptying",
	"Gather": "Gathering", "Help": "Helping", "Look": "Looking", "Put": "Putting", "Rub": "Rubbing", "See": "Seeing",
	"Set": "Setting", "Start": "Starting", "Tag": "Tagging", "Take": "Taking", "Throw": "Throwing", "Wash": "Washing",
	"Wipe": "Wiping",
}

// doing is a label while its step is under way; a label that begins with no
// word we know is kept as it is.
func doing(label string) string {
	first, rest, _ := strings.Cut(label, " ")
	if word := doingWords[first]; word != "" {
		return word + " " + rest
	}
	return label
}

func paceText(pace int) string {
	if pace <= 1 {
		return "Real time"
	}
	return strconv.Itoa(pace) + " times the speed"
}
