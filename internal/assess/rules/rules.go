// Package rules holds the rules of the engine, one file each, and the engine
// that runs them all. Each rule cites its source; "common practice" is said
// where there is none. Where a source was not read in full, the clinic must
// confirm the value: the procedure file says so.
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
	PatientAway,
	TornDownFirst,
	SoilFirst,
	Gloved,
	HandsAfterGloves,
	HandsBeforeGloves,
	FreshGloves,
	WetLongEnough,
	EverySurface,
	KeptApart,
	BucketDry,
	CleanLast,
	HandsAtEnd,
	DeclaredOrder,
	NotPossible,
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
