package views

import (
	"cmp"
	"slices"
	"strconv"
	"strings"

	"stillwet/internal/procedure"
	"stillwet/internal/training"
)

// Watch is what a preceptor sees first.
type Watch struct {
	training.Watching
	Duties   DutyList                 // one's own, because the procedure changed
	Asked    DutyList                 // demonstrations that others have to give because of it
	ToSign   []training.Demonstration // one's own, as the learner
	Waits    []PlanRow                // plans that wait for an educator's word
	Learners []training.Person
	Offers   []Offer
	Problem  string
	Educator bool
	Typed    map[string]string      // what was typed in the form that was not taken
	Observed training.ObservedCount // this month
}

// openIDs are the recordings that are under way, for a script.
func (w Watch) openIDs() string {
	ids := make([]string, len(w.Open))
	for i, d := range w.Open {
		ids[i] = d.ID
	}
	return strings.Join(ids, " ")
}

// Offer is a competency that can be watched, with its procedure.
type Offer struct {
	Competency training.Competency
	Procedure  *procedure.Procedure
	Today      training.Day
	Several    bool     // there are several stations: it says of which it is
	Open       []string // what the clinic has not confirmed of it, besides labels
	Unread     []string // products whose label nobody has confirmed
}

// title names it, and its station where there are several.
func (o Offer) title() string {
	text := o.Competency.Title
	if o.Several {
		text += ", " + either(o.Procedure.Variant == "", "the usual station", procedure.Within(o.Procedure.Variant))
	}
	return text
}

// Value is what the form sends of it.
func (o Offer) Value() string {
	if o.Procedure.VariantOf != "" {
		return o.Competency.ID + " " + o.Procedure.ID
	}
	return o.Competency.ID
}

// UseField and MadeField name what the form sends of a product.
func (o Offer) UseField(product string) string { return "use " + o.Value() + " " + product }

// MadeField is when a mixed one was made.
func (o Offer) MadeField(product string) string { return "made " + o.Value() + " " + product }

// ticked are the products that are ticked beforehand: the first of the clinic's list whose
// date is not over.
func (w Watch) ticked(o Offer, product string) bool {
	if w.Typed["what"] != "" { // the card was sent before
		return w.Typed[o.UseField(product)] != ""
	}
	for _, x := range o.Procedure.Products {
		if !x.Over(string(o.Today)) {
			return x.ID == product
		}
	}
	return false
}

// chosen reports whether an offer is chosen beforehand.
func (w Watch) chosen(o Offer) bool {
	return w.Typed["what"] == o.Value() || w.Typed["what"] == "" && o.Value() == w.Offers[0].Value()
}

func (w Watch) purpose(p training.Purpose) bool {
	return w.Typed["purpose"] == string(p) || w.Typed["purpose"] == "" && p == training.ForReturn
}

// seenText says what has to be seen wet, so that the result can be complete.
func seenText(p *procedure.Procedure) string {
	var names []string
	all := true
	for i, s := range p.Surfaces {
		if p.MustBeSeen(i) {
			names = append(names, procedure.Within(s.Title))
		} else {
			all = false
		}
	}
	if all {
		return "Every surface has to be seen wet for its whole time."
	}
	text := "To be seen wet for their whole time: " + strings.Join(names, "; ")
	if thing := p.Settings.SeeOneFaceOf; thing != "" {
		text += "; and one whole side of the " + thing
	}
	return text + ". The others may stay not seen: they are listed beside the result."
}

// unread reports whether nobody has confirmed a product's label.
func (o Offer) unread(product string) bool { return slices.Contains(o.Unread, product) }

// learner is whose work a demonstration is.
func (w Watch) learner(d training.Demonstration) string {
	return Whose(w.Names[d.TraineeID], d.Setting)
}

func dueText(s training.Standing) string {
	if s.Due == "" {
		return ""
	}
	return ", due " + day(s.Due)
}

func learnerName(p training.Person) string {
	if p.StaffNo == "" {
		return p.Name
	}
	return p.Name + ", " + p.StaffNo
}

// needText is what is still needed, of which competency where there are several.
func needText(s training.Standing, several bool) string {
	text := cleanText(s) + dueText(s)
	if several {
		return s.Competency.Title + ": " + text
	}
	return text
}

func (w Watch) several() bool {
	first := ""
	for _, list := range [][]training.Standing{w.Next, w.Ready} {
		for i := range list {
			if first = cmp.Or(first, list[i].Competency.ID); list[i].Competency.ID != first {
				return true
			}
		}
	}
	return false
}

// nextOf is what is next for a new hire: of the course, then of the sign-off.
func nextOf(h training.NewHire) string {
	if w, p, ok := training.GoOn(h.Ways); ok {
		return w.Module.Title + ": " + goOnVerbs[w.Parts[p].Part.Kind] + " “" + w.Parts[p].Part.Title() + "”"
	}
	for _, s := range h.Standings {
		return missingText(s)
	}
	return "Nothing"
}

// standingsText is where somebody stands, in a line.
func standingsText(all []training.Standing) string {
	var words []string
	for _, s := range all {
		words = append(words, s.Word.Title())
	}
	return strings.Join(words, ", ")
}

// nobodyNext says why nobody is to be watched.
func (w Watch) nobodyNext() string {
	switch n := w.Practising; {
	case n == 1:
		return "Nobody lacks a demonstration whose tests are passed. 1 person still has tests to pass first."
	case n > 1:
		return "Nobody lacks a demonstration whose tests are passed. " + strconv.Itoa(n) + " people still have tests to pass first."
	}
	return "Nobody lacks a demonstration now."
}
