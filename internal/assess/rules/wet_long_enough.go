package rules

import (
	"fmt"
	"slices"

	"stillwet/internal/action"
	"stillwet/internal/assess"
	"stillwet/internal/station"
	"stillwet/internal/wettime"
)

// WetLongEnough: an unbroken wet spell of at least the contact time before the
// first touch or use, or before the station is declared ready.
var WetLongEnough = &assess.Rule{
	Name:       "wet-long-enough",
	Doc:        "Every wiped surface stays visibly wet for the whole contact time of the product's label, without a break, before it is touched, used, towelled or declared ready. Where the label says in its own words that the time may run on when it has dried, it is left alone for it instead.",
	Why:        "The label's claim holds only for a surface that stays wet for the whole time. A surface that dries early has had no disinfection that anyone can vouch for.",
	Next:       "Watch the surface. If it starts to dry before its time, wipe it again while it is still wet; a dry gap starts the time anew.",
	Source:     "EPA DIS/TSS-15 (contact time on the label); re-apply when it dries early: Michigan MDARD FAQ on disinfectant labels; no towelling before the time is over: American Chemistry Council (2025)",
	Needs:      action.Order,
	OfSurfaces: true,
	Step:       wetLongEnough,
	End: func(v *assess.View) {
		if p := v.After.Pend; p.On && p.Early {
			usedEarly(v, p)
		}
	},
	Close: wetAtEnd,
}

func wetLongEnough(v *assess.View) {
	if p := v.After.Settled; p.On && p.Early {
		usedEarly(v, p)
	}
	if !v.Done() {
		return
	}
	// What was touched waits for the next act of the hands; what something was set
	// on does not.
	if on := v.Act.On; on >= 0 && v.After.Surfaces[on].Early && !v.Before.Surfaces[on].Early {
		wetTooShort(v, on, "when something was set on it", v.After)
	}
}

// usedEarly is a touch, or a towel, before the time, as it was then.
func usedEarly(v *assess.View, p station.Pend) {
	i, when := int(p.Surface), "when it was used"
	if p.Dried {
		when = "when it was towelled dry"
	}
	if p.Unknown {
		notNoted(v, i, "Nobody noted whether this had "+either(p.Alone, "had its time", "been wet for its time")+" "+when+": "+v.The(i)+".")
		return
	}
	text := noWait(p.Alone) + when
	if v.Witness.Has(action.Clock) {
		text = fmt.Sprintf("%s for only %s of %s %s", wetOrAlone(p.Alone), toSecond(p.Wet), p.Need, when)
	}
	v.Breach(assess.Breach{Surface: i, Cause: "too short", Message: text + ": " + v.The(i) + ".", Why: whyAlone(p.Alone), Next: leaveItNext, Act: int(p.Act), At: p.At})
}

// What to do next time where nothing dried by itself.
const (
	waitNext    = "Let what was wiped last have its whole time too: look over the {station} or wait, and say that it is ready only then."
	leaveItNext = "Leave what you wiped alone until it has had its whole time: go on with another surface, or wait. If it is touched, wipe it again for its whole time."
)

func wetAtEnd(v *assess.View) {
	if v.After.Stopped && v.Act == nil {
		wetWhenStopped(v)
		return
	}
	when := "when the {station} was declared ready"
	if v.Act == nil {
		when = "when the work ended"
	}
	var unwaited []int
	for i := range v.P.Surfaces {
		x := &v.After.Surfaces[i]
		switch {
		case !v.Listed(i) || x.Clean != station.Wiped || x.Early:
		case !v.Witness.Has(action.Clock) && v.Contact(v.After, i) == wettime.TooShort:
			unwaited = append(unwaited, i)
		default:
			wetTooShort(v, i, when, v.After)
		}
	}
	notWaited(v, unwaited, when)
	oneFace(v)
}

// wetWhenStopped: what had its time by then had it; of the rest nothing is said.
func wetWhenStopped(v *assess.View) {
	for i := range v.P.Surfaces {
		if v.Listed(i) && v.After.Surfaces[i].Clean == station.Wiped && v.Contact(v.After, i) == wettime.Reached {
			v.Kept(i)
		}
	}
}

// wetOrAlone is what a surface has to be for its time, by its product's label.
func wetOrAlone(alone bool) string { return either(alone, "Left alone", "Wet") }

// whyAlone is the reason where it is not the rule's own.
func whyAlone(alone bool) string {
	return either(alone, "By its own words the label counts the time that the surface is left alone. With less of it nobody can vouch for the claim.", "")
}

func either(is bool, yes, no string) string {
	if is {
		return yes
	}
	return no
}

// noWait is what a log without a clock says of a wet time that was not kept.
func noWait(alone bool) string {
	return "Not left " + either(alone, "alone", "wet") + " for its time, since no wait comes between wiping and the moment "
}

// notWaited is one thing to learn, however many surfaces it concerns.
func notWaited(v *assess.View, surfaces []int, when string) {
	if len(surfaces) == 0 {
		return
	}
	var titles []string
	alone := true
	for _, i := range surfaces {
		alone = alone && v.After.Surfaces[i].Contact.Alone
		titles = append(titles, v.The(i))
	}
	b := assess.Breach{Surface: surfaces[0], Cause: "no wait", Message: noWait(alone) + when + ": " + list(titles) + ".", Why: whyAlone(alone), Next: waitNext}
	if len(surfaces) > 1 {
		b.Surfaces = surfaces
	}
	v.Breach(b)
}

// oneFace: of one thing the clinic asks that a whole face is seen wet.
func oneFace(v *assess.View) {
	thing := v.P.Settings.SeeOneFaceOf
	if thing == "" || !v.Watched() {
		return
	}
	seen := map[string]bool{}
	for i := range v.P.Surfaces {
		row := v.Surface(i)
		if row.ThingOf() != thing {
			continue
		}
		ok := v.After.Surfaces[i].Clean == station.Wiped && v.Contact(v.After, i) == wettime.Reached
		before, known := seen[row.Face]
		seen[row.Face] = ok && (before || !known)
	}
	for _, whole := range seen {
		if whole {
			v.Kept(assess.None)
			return
		}
	}
	v.Unknown(assess.None, "No whole face of the "+thing+" was seen "+either(aloneIn(v), "left alone", "wet")+" for its time.")
}

// aloneIn reports whether the log ends with a surface whose label counts the time that it
// is left alone.
func aloneIn(v *assess.View) bool {
	return slices.ContainsFunc(v.After.Surfaces[:len(v.P.Surfaces)], func(x station.Surface) bool { return x.Contact.Alone })
}

// wetTooShort judges the contact time of one surface, at the moment of the act or
// of the end, as it was in s.
func wetTooShort(v *assess.View, i int, when string, s *station.State) {
	x := &s.Surfaces[i]
	switch status := v.Contact(s, i); {
	case status == wettime.Reached && x.Contact.Broke:
		v.Kept(i)
		v.Note(i, "Dried too early once, then wiped again for its whole time: "+v.The(i)+".")
	case status == wettime.Reached:
		v.Kept(i)
	case status == wettime.Unknown:
		notNoted(v, i, unseenWet(v, x)+": "+v.The(i)+".")
	default:
		v.Breach(assess.Breach{Surface: i, Cause: "too short", Message: tooShort(v, x, when) + ": " + v.The(i) + ".", Why: whyAlone(x.Contact.Alone), Next: nextOf(v, x)})
	}
}

// unseenWet says what was seen of a surface of which the log does not tell enough.
func unseenWet(v *assess.View, x *station.Surface) string {
	if x.Contact.Alone {
		return "The noted times do not tell whether this was left alone for the whole of " + x.Contact.Need.String()
	}
	if !x.Contact.Wet && x.Contact.Dried > 0 && v.Watched() {
		return fmt.Sprintf("Dry when somebody looked at %s, and nobody noted that it was still wet after %s", toSecond(x.Contact.Dried), x.Contact.Need)
	}
	return "Nobody noted whether this was still wet after " + x.Contact.Need.String()
}

// notNoted leaves the mark open where the clinic asks that the surface is seen.
func notNoted(v *assess.View, surface int, reason string) {
	if v.P.MustBeSeen(surface) {
		v.Unknown(surface, reason)
	} else {
		v.Unasked(surface, reason)
	}
}

// nextOf tells who did not wait to wait, and who did not see it dry to watch, as the rule
// itself does.
func nextOf(v *assess.View, x *station.Surface) string {
	switch {
	case v.Act != nil && v.Act.On >= 0:
		return leaveItNext
	case x.Contact.Wet || x.Contact.Alone || !v.Witness.Has(action.Clock):
		return waitNext
	}
	return ""
}

func tooShort(v *assess.View, x *station.Surface, when string) string {
	if !v.Witness.Has(action.Clock) {
		return noWait(x.Contact.Alone) + when
	}
	need := x.Contact.Need
	now := v.After.Now
	if x.Contact.Alone {
		return fmt.Sprintf("Left alone for only %s of %s %s", toSecond(now-x.Contact.Left), need, when)
	}
	wet := x.Contact.Longest(v.Wet(), now)
	if v.Witness.Has(action.Drying) || x.Contact.Wet {
		if x.Contact.Wet {
			return fmt.Sprintf("Wet for only %s of %s %s", toSecond(max(wet, now-x.Contact.Since)), need, when)
		}
		return fmt.Sprintf("Wet for only %s of %s, dry at %s and not wiped again in time", toSecond(wet), need, toSecond(x.Contact.Dried))
	}
	return fmt.Sprintf("Seen dry at %s, before its wet time of %s was over", toSecond(x.Contact.Dried), need)
}

// toSecond cuts a time to the second for a sentence. It never rounds up: what
// was too short must not read as if it were not.
func toSecond(t action.Millis) action.Millis { return t / 1000 * 1000 }
