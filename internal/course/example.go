package course

import (
	"fmt"
	"slices"
	"strings"

	"stillwet/internal/action"
	"stillwet/internal/assess/rules"
	"stillwet/internal/procedure"
	"stillwet/internal/simulate"
	"stillwet/internal/station"
	"stillwet/internal/wettime"
)

// Shown is one act of a model with what it changes and why it comes when it does.
type Shown struct {
	Act     action.Act
	Step    string   // the one it is an act of, where the model tells
	Changes []string // sentences
	Without *Finding // what the engine would find without it, nil for nothing
	// Scenes are the surfaces that it left otherwise, of the first act all, by id.
	Scenes map[string]Scene
	Rows   []Row // what else is so
}

// Example is the model of a scenario, act by act. The reason of each act is the engine's:
// what it would find in the same work without it.
func Example(p *procedure.Procedure, s *simulate.Scenario) ([]Shown, error) {
	log, err := action.Parse(s.ID, s.Model, p.Words)
	if err != nil {
		return nil, err
	}
	shown, err := played(p, log)
	if err != nil {
		return nil, err
	}
	steps, err := stepsOf(p, s, len(shown))
	for i := range shown {
		if err == nil && !shown[i].Act.Verb.Event() {
			shown[i].Step = steps[i]
			shown[i].Without, err = without(p, log, i)
		}
	}
	return shown, err
}

// Replay is somebody's own log, act by act, without what was taken back and without reasons.
func Replay(p *procedure.Procedure, log *action.Log) ([]Shown, error) { return played(p, log) }

// played is what is so after each act of a log.
func played(p *procedure.Procedure, log *action.Log) ([]Shown, error) {
	acts, err := station.Bind(p, log)
	if err != nil {
		return nil, err
	}
	m := station.MachineFor(p, log, nil)
	shown := make([]Shown, 0, len(acts))
	after := station.Start(p)
	var were []Scene
	for i := range acts {
		before := after
		m.Apply(&after, &acts[i])
		now := scenes(m, &after)
		shown = append(shown, Shown{Act: *acts[i].Act, Changes: changes(m, &before, &after), Scenes: altered(p, were, now), Rows: rows(m, &before, &after)})
		were = now
	}
	return shown, nil
}

// stepsOf are the steps that the acts of a model belong to, "" for what happens by itself.
// A model without cues does not tell.
func stepsOf(p *procedure.Procedure, s *simulate.Scenario, acts int) ([]string, error) {
	all := make([]string, acts)
	cues := simulate.CuesOf(s.Model)
	if len(cues) == 0 {
		return all, nil
	}
	played, taps, err := simulate.Play(p, s, cues)
	if err != nil {
		return nil, err
	}
	for i, from := range played.From {
		if from >= 0 && i < acts {
			all[i] = taps[from].Step
		}
	}
	return all, nil
}

// without is what the engine finds in a log without one of its acts.
func without(p *procedure.Procedure, log *action.Log, i int) (*Finding, error) {
	less := *log
	less.Acts = nil
	for _, a := range slices.Concat(log.Acts[:i:i], log.Acts[i+1:]) {
		less.Add(a)
	}
	result, err := rules.Assess(p, &less, "example")
	if err != nil {
		return nil, err
	}
	var found []Located
	for _, f := range result.Findings {
		if f.Rule != rules.NotPossible.Name { // that the next act needs this one tells nobody why
			found = append(found, Located{Finding: f})
		}
	}
	if len(found) == 0 {
		return nil, nil
	}
	return told(worst(found, nil)), nil
}

// changes says in sentences what an act changed at the station.
func changes(m *station.Machine, was, is *station.State) (all []string) {
	say := func(format string, args ...any) { all = append(all, fmt.Sprintf(format, args...)) }
	if was.Present != is.Present {
		say("%s.", either(is.Present, "Somebody is in the "+m.P.Station, "The "+m.P.Station+" is empty"))
	}
	handsChanged(was, is, say)
	wearChanged(was, is, say)
	for i := range m.P.Surfaces {
		if text := surfaceChanged(m, was, is, i); text != "" {
			say("%s: %s.", m.P.Surfaces[i].Title, text)
		}
	}
	for i := range m.P.Items {
		if text := itemChanged(&was.Items[i], &is.Items[i]); text != "" {
			say("%s: %s.", m.P.Items[i].Title, text)
		}
	}
	return waited(m, was, is, all)
}

// waited says a wait in one sentence, whatever it brought to its time.
func waited(m *station.Machine, was, is *station.State, all []string) []string {
	reached := 0
	for i := range m.P.Surfaces {
		if wet(was, i) && m.Contact(was, i) != wettime.Reached && m.Contact(is, i) == wettime.Reached {
			reached++
		}
	}
	switch {
	case reached == 1:
		return append(all, "What was wet has had its contact time.")
	case reached > 1:
		return append(all, fmt.Sprintf("%d surfaces have had their contact time.", reached))
	}
	return all
}

func either(is bool, yes, no string) string {
	if is {
		return yes
	}
	return no
}

var handWords = map[station.Hands]string{
	station.HandsUsed: "used", station.HandsOnPatient: "used on the patient", station.HandsClean: "clean", station.HandsSoiled: "visibly soiled",
}

var gloveWords = map[station.Gloves]string{
	station.FreshGloves: "fresh", station.WorkingGloves: "in use, and still clean", station.UsedGloves: "used", station.SoiledGloves: "soiled with blood",
}

func handsChanged(was, is *station.State, say func(string, ...any)) {
	if was.Gloves != is.Gloves {
		if is.Gloves == station.NoGloves {
			say("Gloves are off.")
		} else if w := gloveWords[is.Gloves]; w != "" {
			say("Gloves are %s.", w)
		}
	}
	if w := handWords[is.Hands]; was.Hands != is.Hands && w != "" {
		say("Hands are %s.", w)
	}
	if is.NeedHands && !was.NeedHands {
		say("Hands have to be cleaned next.")
	}
}

var wearTitles = []struct {
	bit         station.Wear
	title, name string
}{{station.Eyes, "Eye protection", "eye protection"}, {station.GownOn, "The gown", "gown"}, {station.MaskOn, "The mask", "mask"}}

func wearChanged(was, is *station.State, say func(string, ...any)) {
	for _, w := range wearTitles {
		if (was.Wear^is.Wear)&w.bit != 0 {
			say("%s is %s.", w.title, either(is.Wear&w.bit != 0, "on", "off"))
		}
	}
	if is.Wipe.Number > 0 && is.Wipe.Number != was.Wipe.Number {
		say("A fresh wipe is in hand.")
	}
}

func wet(s *station.State, i int) bool { return s.Surfaces[i].Contact.Wet }

func surfaceChanged(m *station.Machine, was, is *station.State, i int) string {
	before, now := &was.Surfaces[i], &is.Surfaces[i]
	switch {
	case now.Blood && !before.Blood:
		return "blood on it"
	case before.Blood && !now.Blood:
		return "no blood on it any more, and not disinfected yet"
	case before.Clean == station.Wiped && now.Clean == station.Used:
		return "used again"
	case now.Contact.Wet && !before.Contact.Wet && m.Witness.Has(action.Clock):
		return "wet since " + seconds(now.Contact.Since)
	case now.Contact.Wet && !before.Contact.Wet, now.Clean == station.Wiped && before.Clean != station.Wiped:
		return "wet"
	case before.Contact.Wet && !now.Contact.Wet && m.Witness.Has(action.Clock):
		return "dry, after " + seconds(is.Now-before.Contact.Since) + " wet" + either(now.Contact.Alone, ", and its time runs on", "")
	}
	return ""
}

// seconds cuts a time to the second: it must not read longer than it was.
func seconds(t action.Millis) string { return (t / 1000 * 1000).String() }

func itemChanged(was, is *station.Item) string {
	var said []string
	for _, c := range []struct {
		was, is bool
		text    string
	}{{was.Off, is.Off, "off"}, {was.Gone, is.Gone, "gone where it belongs"}, {was.Empty, is.Empty, "empty"},
		{was.Brought, is.Brought, "here"}, {was.Back, is.Back, "back in its place"}, {was.Treated, is.Treated, "disinfected"}, {was.Dirty, is.Dirty, "touched by something used"}} {
		if c.is && !c.was {
			said = append(said, c.text)
		}
	}
	return strings.Join(said, ", ")
}
