package rules

import (
	"fmt"

	"stillwet/internal/action"
	"stillwet/internal/assess"
	"stillwet/internal/procedure"
)

// HandsLongEnough: hands are rubbed or washed as long as the clinic's standard says.
var HandsLongEnough = &assess.Rule{
	Name:   "hands-long-enough",
	Doc:    "Hands are rubbed for 20 seconds; washed for 15 (CDC) or 40 (WHO, the whole procedure), as the clinic has chosen.",
	Why:    "A rub that is over in a few seconds leaves out thumbs and fingertips, which touch everything first.",
	Next:   "Take enough to keep your hands wet for the whole time, and count or watch a clock.",
	Source: "CDC, hand hygiene (rub about 20 s, wash at least 15 s), or WHO, Hand Hygiene: Why, How & When (rub 20-30 s, wash 40-60 s)",
	Needs:  action.Order,
	Step:   handsLongEnough,
}

// HandsNeed is how long hands are rubbed or washed.
func HandsNeed(s *procedure.Settings, v action.Verb) action.Millis {
	switch {
	case v == action.RubHands:
		return 20_000
	case s.Hands == procedure.WHOHands:
		return 40_000
	}
	return 15_000
}

func handsLongEnough(v *assess.View) {
	if !v.Own() || v.Act.Verb != action.RubHands && v.Act.Verb != action.WashHands {
		return
	}
	need, took := HandsNeed(&v.P.Settings, v.Act.Verb), v.Act.Millis
	verb := "rubbed"
	if v.Act.Verb == action.WashHands {
		verb = "washed"
	}
	switch {
	case took == 0:
		// An order without times says nothing of seconds, nor does it owe them.
		if v.Witness.Has(action.Clock) {
			v.Unknown(assess.None, "Nobody measured how long hands were cleaned.")
		}
	case took >= need:
		v.Kept(assess.None)
	case took >= need-v.Slack():
		v.Unknown(assess.None, "Hands were cleaned for the time asked for, give or take two seconds.")
	default:
		v.Breach(assess.Breach{Surface: assess.None, Cause: verb, Message: fmt.Sprintf("Hands were %s for %s; %d are asked for.", verb, inSeconds(took), need/1000)})
	}
}

// inSeconds is a number of seconds for a sentence, never rounded up.
func inSeconds(t action.Millis) string {
	switch {
	case t == 1000:
		return "1 second"
	case t%1000 == 0:
		return fmt.Sprintf("%d seconds", t/1000)
	}
	return fmt.Sprintf("%.1f seconds", float64(t/100)/10)
}
