package views

import (
	"strconv"
	"strings"

	"stillwet/internal/action"
	"stillwet/internal/procedure"
)

// actPhrases are the lines of a log as people read them. o is the thing, p the
// place, w the wipe, of the product, s the seconds, n an act's number.
var actPhrases = map[action.Verb]string{
	action.CheckStable: "Check that the patient is stable", action.HelpOut: "Help the patient out of the {station}",
	action.CheckGone: "Check that the patient is gone", action.RubHands: "Rub hands{s}", action.WashHands: "Wash hands{s}",
	action.PutOn: "Put on {o}", action.TakeOff: "Take off {o}", action.TakeWipe: "Take a fresh wipe ({w}, {of})",
	action.DropWipe: "Throw the wipe away", action.Wipe: "Wipe: {o}{w}", action.Clean: "Clean off what can be seen: {o}{w}",
	action.LookAt: "Look for blood and soil: {o}", action.Discard: "Throw {o} into {p}", action.SetAt: "Set {o} at {p}",
	action.Bring: "Bring {o} to {p}", action.Empty: "Empty {o} into {p}", action.PutBack: "Put {o} back",
	action.Touch: "Touch: {o}", action.LeaveStation: "Leave the {station}", action.ComeBack: "Come back",
	action.StartInternal: "Start the internal disinfection", action.TagOut: "Tag the machine out of use",
	action.Wait: "Wait until it has had its time and is dry", action.DeclareReady: "Declare the {station} ready",
	action.PatientLeaves: "The patient leaves", action.PatientSits: "The patient sits in the {station}",
	action.BloodOn: "There is blood on: {o}", action.Dry: "Dries: {o}", action.StillWet: "Seen still wet: {o}",
	action.Alarm: "An alarm sounds", action.Prompted: "Prompt given", action.NotSeen: "Not seen: {o}",
	action.Pause: "Pause for patient safety", action.Resume: "Go on after the pause", action.Undone: "Taken back: line {n}",
}

// ActWords is a line of a log for people, with the titles of the procedure.
func ActWords(p *procedure.Procedure, a action.Act) string {
	wipe := a.With
	if wipe != "" && a.Verb != action.TakeWipe {
		wipe = " (wipe " + strings.TrimPrefix(wipe, "w") + ")"
	}
	seconds := ""
	if a.Millis > 0 {
		seconds = " for " + strconv.Itoa(int(a.Millis)/1000) + " s"
	}
	return strings.NewReplacer(
		"{o}", thing(p, a.Object), "{p}", thing(p, a.Place), "{w}", wipe, "{of}", thing(p, a.Of),
		"{s}", seconds, "{n}", strconv.Itoa(a.Undoes), "{station}", p.Station,
	).Replace(actPhrases[a.Verb])
}

func thing(p *procedure.Procedure, id string) string {
	switch id {
	case action.EyeProtection:
		return "eye protection"
	case action.Station:
		return "the whole " + p.Station
	}
	return procedure.Within(p.Title(id))
}
