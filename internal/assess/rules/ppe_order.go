package rules

import (
	"stillwet/internal/action"
	"stillwet/internal/assess"
	"stillwet/internal/procedure"
	"stillwet/internal/station"
)

// PPEOrder: eyes and clothes are covered where blood may spatter, and protective
// equipment goes on and comes off in an order that keeps hands and face clean.
var PPEOrder = &assess.Rule{
	Name:   "ppe-order",
	Doc:    "Eye protection and a gown are worn when lines come off, and the eyes are covered while the {bucket} is emptied; gloves go on last and come off first (with the gown or before it), eye protection comes off before the mask.",
	Why:    "Blood can spurt or spatter when lines come off or fluid is poured. What sits on the gloves must not reach the face while the rest is taken off.",
	Next:   "Before tear-down: clean hands, gown, mask if you wear one, eye protection, gloves last. At the end: gloves first, then the rest, hands cleaned at the latest after the last piece.",
	Source: "42 CFR 494.30(a)(1)(i), tag V115 (gown and face protection where blood may spatter); order: CDC, as tabulated in J Nucl Med Technol",
	Needs:  action.Order,
	OfWear: true,
	Step:   ppeOrder,
}

func ppeOrder(v *assess.View) {
	if !v.Own() {
		return
	}
	covered(v)
	w := v.Act.WearOf()
	switch {
	case w == 0:
	case v.Act.Verb == action.PutOn:
		donned(v)
	case v.Act.Verb == action.TakeOff, v.Act.Verb == action.Discard && v.Before.Wear&w != 0:
		doffed(v, w)
	}
}

// covered looks at what is worn for work that spatters.
func covered(v *assess.View) {
	tearDown := v.Act.Verb == action.TakeOff && circuit(v.Act.Kind(v.P)) || v.Act.Verb == action.Disconnect
	pours := v.Act.Verb == action.Empty && v.Act.Kind(v.P) == procedure.BucketItem
	if tearDown || pours {
		wear(v, station.Eyes, action.EyeProtection, "Eye protection")
	}
	if tearDown {
		wear(v, station.GownOn, action.Gown, "A gown")
	}
}

func wear(v *assess.View, w station.Wear, id, title string) {
	during := "when lines or dialyzer came off"
	switch v.Act.Verb {
	case action.Empty:
		during = "while the {bucket} was emptied"
	case action.Disconnect:
		during = "when the patient was disconnected"
	}
	switch {
	case v.Before.WearUnseen&w != 0:
		v.UnknownWorn(id, "The watcher could not see whether this was worn: "+procedure.Within(title)+".", v.Before.LateWear&w != 0)
	case v.Before.Wear&w != 0:
		v.KeptWorn(id)
	default:
		v.Breach(assess.Breach{Surface: assess.None, Worn: id, Cause: "not worn", Message: title + " was not worn " + during + "."})
	}
}

func donned(v *assess.View) {
	if v.Before.Gloves.On() {
		v.Breach(assess.Breach{Surface: assess.None, Cause: "gloves on already", Message: "Put on over or after the gloves, which go on last: " + v.Thing() + "."})
		return
	}
	v.Kept(assess.None)
}

func doffed(v *assess.View, w station.Wear) {
	gloves := v.Before.Gloves.On()
	switch {
	case gloves && w != station.GownOn: // gown and gloves may come off in one go
		v.Breach(assess.Breach{Surface: assess.None, Cause: "gloves still on", Message: "Taken off with the gloves still on, which come off first: " + v.Thing() + "."})
	case w == station.MaskOn && v.Before.Wear&station.Eyes != 0 && v.Before.WearUnseen&station.Eyes == 0:
		v.Breach(assess.Breach{Surface: assess.None, Message: "The mask came off before the eye protection."})
	default:
		v.Kept(assess.None)
	}
}
