package course

import (
	"strings"

	"stillwet/internal/action"
	"stillwet/internal/procedure"
	"stillwet/internal/simulate"
	"stillwet/internal/station"
	"stillwet/internal/wettime"
)

// Film is what has become of a surface, in the words that pages draw it by.
type Film string

// The films.
const (
	Bloody    Film = "blood" // to be seen, and not cleaned off
	NotWiped  Film = "unwiped"
	StillWet  Film = "wet"     // and its time is not over
	LeftAlone Film = "alone"   // likewise, where its label counts that it is left alone, wet or dry
	Reached   Film = "reached" // and still wet
	ThenDry   Film = "dry"     // after it had its time
	TooShort  Film = "early"
	Spoilt    Film = "spoilt"
	NotSeen   Film = "unseen"
	Dried     Film = "dried" // whether it had its time or not is not told
)

// Scene is a surface as it is after an act.
type Scene struct {
	Film  Film
	Share int // of its label time that is over, in hundredths, while it is wet
}

// Row is a thing besides the surfaces with what was and what is so of it.
type Row struct{ Term, Was, Is string }

// half stands for the share of a time that no clock measures.
const half = 50

// scenes are the surfaces as they are, in the procedure's order. In an order without a
// clock a wait stands for wet time and drying, so that what was wet is dry after it.
func scenes(m *station.Machine, s *station.State) []Scene {
	all := make([]Scene, len(m.P.Surfaces))
	for i := range all {
		all[i] = Scene{Film: filmOf(m, s, i)}
		if all[i].Film == StillWet || all[i].Film == LeftAlone {
			all[i].Share = shareOf(m, s, i)
		}
	}
	return all
}

func filmOf(m *station.Machine, s *station.State, i int) Film {
	x := &s.Surfaces[i]
	switch {
	case x.Blood && !x.BloodUnseen:
		return Bloody
	case x.Clean == station.UnknownClean:
		return NotSeen
	case x.Clean == station.Used && x.Spoilt != station.NotSpoilt:
		return Spoilt
	case x.Clean == station.Used:
		return NotWiped
	}
	switch status := m.Contact(s, i); {
	case status == wettime.Reached && x.Contact.Wet:
		return Reached
	case status == wettime.Reached:
		return ThenDry
	case status == wettime.Unknown:
		return NotSeen
	case x.Contact.Alone && !x.Contact.Marred:
		return LeftAlone
	case x.Contact.Wet:
		return StillWet
	}
	return TooShort
}

func shareOf(m *station.Machine, s *station.State, i int) int {
	c := &s.Surfaces[i].Contact
	if !m.Witness.Has(action.Clock) || c.Need <= 0 {
		return half
	}
	since := c.Since
	if c.Alone {
		since = c.Left
	}
	return int(min(100, max(0, (s.Now-since)*100/c.Need)))
}

// altered are the surfaces that an act left otherwise than they were, by id.
func altered(p *procedure.Procedure, was, is []Scene) map[string]Scene {
	all := map[string]Scene{}
	for i := range is {
		if was == nil || was[i] != is[i] {
			all[p.Surfaces[i].ID] = is[i]
		}
	}
	return all
}

// rows are always the same ones, so that a page can give each its place.
func rows(m *station.Machine, was, is *station.State) []Row {
	all := []Row{
		{"Patient", patientNow(was), patientNow(is)},
		{"Hands", handsNow(was), handsNow(is)},
		{"Gloves", glovesNow(was), glovesNow(is)},
		{"Worn", wearNow(was), wearNow(is)},
		{"Wipe in hand", wipeNow(&was.Wipe), wipeNow(&is.Wipe)},
	}
	for i := range m.P.Items {
		if x := &m.P.Items[i]; x.Kind == procedure.BucketItem {
			all = append(all, Row{x.Title, bucketNow(&was.Items[i]), bucketNow(&is.Items[i])})
		}
	}
	return append(all, Row{"Blood to be seen", bloodNow(m.P, was), bloodNow(m.P, is)})
}

func patientNow(s *station.State) string {
	switch {
	case s.PatientUnseen:
		return "not seen"
	case s.InChair:
		return "in the chair"
	}
	return either(s.Present, "there", "gone")
}

func handsNow(s *station.State) string {
	if w, ok := handWords[s.Hands]; ok {
		return w
	}
	return "not seen"
}

// gloveNow are shorter than the words of a sentence: a row has little room.
var gloveNow = map[station.Gloves]string{
	station.NoGloves: "none", station.FreshGloves: "fresh", station.WorkingGloves: "clean, in use", station.UsedGloves: "used", station.SoiledGloves: "bloody",
}

func glovesNow(s *station.State) string {
	if w, ok := gloveNow[s.Gloves]; ok {
		return w
	}
	return "not seen"
}

func wearNow(s *station.State) string {
	var on []string
	for _, w := range wearTitles {
		if s.Wear&w.bit != 0 {
			on = append(on, w.name)
		}
	}
	return orNothing(on)
}

func orNothing(all []string) string {
	if len(all) == 0 {
		return "nothing"
	}
	return strings.Join(all, ", ")
}

func wipeNow(w *station.Wipe) string {
	switch {
	case w.Number == 0:
		return "none"
	case w.Spent:
		return "used up"
	case w.Soil:
		return "soiled"
	}
	return either(w.Face < 0, "fresh", "in use")
}

func bucketNow(x *station.Item) string {
	off := either(x.Empty, "off, empty", "off")
	switch {
	case x.Back:
		return "back in its place"
	case x.Off:
		return off
	}
	return either(x.Empty, "empty", "in its place")
}

func bloodNow(p *procedure.Procedure, s *station.State) string {
	var on []string
	for i := range p.Surfaces {
		if s.Surfaces[i].Blood {
			on = append(on, p.NameOf(p.Surfaces[i].ID))
		}
	}
	return orNothing(on)
}

// sees says what anybody would see at the station after some steps: whether the patient
// is there, and blood. Where hands and gloves stand is what a question asks.
func sees(p *procedure.Procedure, s *simulate.Scenario, steps []string) ([]string, error) {
	played, err := simulate.Build(p, s, steps)
	if err != nil {
		return nil, err
	}
	acts, err := station.Bind(p, played.Log)
	if err != nil {
		return nil, err
	}
	m, now := station.MachineFor(p, played.Log, nil), station.Start(p)
	for i := range acts {
		m.Apply(&now, &acts[i])
	}
	all := []string{either(now.Present, either(now.InChair, "The patient sits in the chair.", "The patient is there."), "The patient has left.")}
	if on := bloodNow(p, &now); on != orNothing(nil) {
		all = append(all, "Blood can be seen on: "+procedure.Within(on)+".")
	}
	return all, nil
}
