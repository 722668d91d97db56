package views

import (
	"strconv"
	"strings"

	"stillwet/internal/action"
	"stillwet/internal/procedure"
)

// actPhrases are the lines of a log as people read them. o is the thing, the the same
// with its article, place the place with its article, w the wipe, of the product, s the seconds.
var actPhrases = map[action.Verb]string{
	action.CheckStable: "Check that treatment is complete and the patient stable", action.HelpOut: "Help the patient out of the {station}",
	action.CheckGone: "See that the patient has left the {station}", action.RubHands: "Rub hands with hand rub{s}", action.WashHands: "Wash hands with soap and water{s}",
	action.PutOn: "Put on {o}", action.TakeOff: "Take off {o}", action.TakeWipe: "Take a fresh wipe ({w}, {of})",
	action.DropWipe: "Throw the wipe away", action.Wipe: "Wipe: {o}{w}", action.Clean: "Clean off what can be seen: {o}{w}",
	action.LookAt: "Look for blood and soil: {o}", action.Discard: "Throw {the} into {place}", action.SetAt: "Set {the} at {place}",
	action.Bring: "Bring {the} to {place}", action.Empty: "Empty {the} into {place}", action.PutBack: "Put {the} back",
	action.Touch: "Touch: {o}", action.LeaveStation: "Leave the {station}", action.ComeBack: "Come back",
	action.StartInternal: "Start the internal disinfection", action.TagOut: "Tag the machine out of use",
	action.Wait: "Wait until it has had its time and is dry", action.DeclareReady: "Declare the {station} ready",
	action.PatientLeaves: "The patient leaves", action.PatientSits: "The patient sits in the {station}",
	action.BloodOn: "There is blood on: {o}", action.Dry: "Dries: {o}", action.StillWet: "Seen still wet: {o}",
	action.Alarm: "An alarm sounds", action.Prompted: "Prompt given", action.NotSeen: "Not seen: {o}",
	action.Pause: "Pause for patient safety", action.Resume: "Go on after the pause", action.Undone: "Taken back",
	action.WipeDry: "Wipe dry: {o}", action.DiscardWipe: "Throw the wipe into {place}", action.PutInSharps: "Put {o} into the sharps container",
	action.TakeOut: "Take out {o}", action.Recap: "Put a cap back on {o}", action.ReachIntoSharps: "Reach into the sharps container",
	action.Disconnect: "Disconnect the patient", action.SeatNext: "Seat the next patient", action.Disinfect: "Disinfect {o}",
	action.Absorb: "Absorb the blood on {o}", action.CapItem: "Cap {o}", action.Report: "Tell who is responsible for the machine",
	action.GoToNeighbour: "Go to the neighbouring {station}", action.HandOver: "Hand over: {o}", action.PatientBack: "The patient comes back in",
	action.PatientTouches: "The patient touches: {o}", action.PatientStays: "The patient cannot leave yet", action.BloodLeak: "Blood leak alarm",
	action.ProtectorWet: "Blood or fluid is past the transducer protector", action.HandsSoiled: "Hands are visibly soiled",
	action.WipeSpent: "The wipe is dry", action.AllDry: "All surfaces are dry", action.NotSeenFor: "Not seen{s}",
	action.WatchingFrom: "Watching begins: {stage}", action.WatcherSays: "Watcher: {mark}, {verdict}", action.Stopped: "Stopped: {reason}", action.SteppedIn: "The watcher stepped in: {cause}",
}

// stageWords are where watching began, for people.
var stageWords = map[string]string{
	action.FromConnected: "the patient is still connected", action.FromInChair: "the patient is off, in the chair",
	action.FromGone: "the patient has left", action.FromLinesOff: "the patient has left, lines and dialyzer are off",
}

// reasonWords are why work was stopped, for people.
var reasonWords = map[string]string{
	"patient-safety": "patient safety", "staff-safety": "staff safety", "called-away": "called away", "equipment": "equipment", "watching-ended": "watching ended",
}

// causeWords are why a watcher stepped in, for people.
var causeWords = map[string]string{"patient-safety": "patient safety", "staff-safety": "staff safety", "breach": "a breach"}

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
		"{o}", thing(p, a.Object), "{the}", procedure.The(thing(p, a.Object)), "{place}", procedure.The(thing(p, a.Place)), "{w}", wipe, "{of}", thing(p, a.Of),
		"{s}", seconds, "{station}", p.Station, "{stage}", stageWords[a.Object],
		"{reason}", reasonWords[a.Object], "{cause}", causeWords[a.Object], "{mark}", markWords(p, a.Object), "{verdict}", strings.ReplaceAll(a.Of, "-", " "),
	).Replace(byHelper(a, actPhrases[a.Verb]))
}

// byHelper says that a second person did it.
func byHelper(a action.Act, phrase string) string {
	if a.Helper {
		return "A helper: " + procedure.Within(phrase)
	}
	return phrase
}

func markWords(p *procedure.Procedure, id string) string {
	if i := p.MarkIndex(id); i >= 0 {
		return procedure.Within(p.MarkSheet.Marks[i].Title)
	}
	return id
}

func thing(p *procedure.Procedure, id string) string {
	switch {
	case id == action.EyeProtection:
		return "eye protection"
	case id == action.Station:
		return "the whole " + p.Station
	case id == action.CleanStock:
		return "clean stock"
	}
	return procedure.Within(p.Title(id))
}
