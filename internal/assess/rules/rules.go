// Package rules holds the rules of the engine, one file each, and the engine
// that runs them all. Each rule cites its source; "common practice" is said
// where there is none, and then what it finds is advice until the clinic has
// confirmed the rule's mark by name. Where a source was not read in full, the
// clinic must confirm the value: the procedure file says so.
package rules

import (
	"fmt"
	"strings"

	"stillwet/internal/action"
	"stillwet/internal/assess"
	"stillwet/internal/procedure"
)

// All lists every rule; the order is that of findings at the same act.
var All = []*assess.Rule{
	PatientReady,
	HandsBeforePatient,
	PatientAway,
	PatientFree,
	TornDownFirst,
	Leakproof,
	BucketDrain,
	Sharps,
	LookedFirst,
	SoilFirst,
	RightProduct,
	WipeFit,
	Gloved,
	HandsAfterGloves,
	HandsBeforeGloves,
	HandsLongEnough,
	SoapForSoil,
	FreshGloves,
	PPEOrder,
	ShieldClean,
	StagingWet,
	WetLongEnough,
	EverySurface,
	OneFaceOneWipe,
	TopDown,
	KeptApart,
	ItemsLeaveRight,
	BucketDry,
	CleanLast,
	ReadyEmpty,
	OutOfUse,
	BloodLeak,
	GlovesStay,
	Isolation,
	EndOfDay,
	HandsAtEnd,
	DeclaredOrder,
	NotPossible,
	// SafetyFirst: left out, because it is never a breach. Pausing for the patient,
	// leaving to help, and waiting while the patient cannot leave are right whatever
	// the list says; the other rules know it (station.State.Safety, Stays).
}

// Engine runs all rules.
var Engine = assess.NewEngine(All)

// Names lists the names of all rules, for mark sheets.
func Names() []string { return Engine.Names() }

// Assess judges a log by all rules.
func Assess(p *procedure.Procedure, log *action.Log, name string) (*assess.Result, error) {
	return Engine.Assess(p, log, name)
}

const (
	commonPractice = "common practice, no published source"
	checklist      = "CDC, Checklist: Dialysis Station Routine Disinfection (2013)"
	notes          = "CDC, Environmental Surface Disinfection in Dialysis Facilities: Notes for Clinical Managers"
	handHygiene    = "CDC, Clinical Safety: Hand Hygiene for Healthcare Workers"
	bloodborne     = "OSHA Bloodborne Pathogens Standard, 29 CFR 1910.1030"
	survey116      = "42 CFR 494.30(a)(1)(i), tag V116"
	rr5            = "CDC, MMWR 2001;50(RR-5) (from memory)"
)

// list joins titles for a sentence: "a", "a and b", "a, b and 3 more".
func list(titles []string) string {
	const most = 4
	switch n := len(titles); {
	case n == 0:
		return ""
	case n == 1:
		return titles[0]
	case n > most:
		return fmt.Sprintf("%s and %d more", strings.Join(titles[:most-1], ", "), n-most+1)
	default:
		return strings.Join(titles[:n-1], ", ") + " and " + titles[n-1]
	}
}

// used reports whether an item is one that a treatment has used.
func used(kind procedure.ItemKind) bool {
	switch kind {
	case procedure.Circuit, procedure.SingleUse, procedure.Reusable, procedure.Sharp, procedure.SinglePatient, procedure.Reprocess:
		return true
	}
	return false
}

// placed names where the act puts something: a place or a surface.
func placed(v *assess.View) string { return assess.ThingWords(v.P, v.Act.Act.Place) }

// into is placed with its preposition: "on the counter", "in the waste bin".
func into(v *assess.View) string {
	switch {
	case v.Act.On >= 0:
		return "on " + placed(v)
	case v.Act.PlaceKind(v.P) == procedure.Elsewhere, v.Act.PlaceKind(v.P) == procedure.SetApart:
		return "at " + placed(v)
	}
	return "in " + placed(v)
}

// regulated reports whether the act's item may go into leak-proof containers only.
func regulated(v *assess.View) bool {
	if v.Act.Item < 0 {
		return false
	}
	it := &v.P.Items[v.Act.Item]
	return circuit(it.Kind) || onlyLeakproof(v.P, it)
}

func onlyLeakproof(p *procedure.Procedure, it *procedure.Item) bool {
	for _, id := range it.Goes {
		if i := p.PlaceIndex(id); i < 0 || p.Places[i].Kind != procedure.LeakProof {
			return false
		}
	}
	return used(it.Kind)
}

// circuit reports whether the act takes used lines or a dialyzer.
func circuit(kind procedure.ItemKind) bool {
	return kind == procedure.Circuit || kind == procedure.Reprocess
}
