package rules

import (
	"fmt"

	"stillwet/internal/action"
	"stillwet/internal/assess"
)

// WipeFit: a wipe that was dropped or is dry wets nothing, and none wets more than
// it holds.
var WipeFit = &assess.Rule{
	Name:   "wipe-fit",
	Doc:    "A wipe that was dropped or thrown away, is dry or spent is not used again, and none covers more than it can wet.",
	Why:    "A dry wipe leaves a film that is gone in seconds, and a dropped one brings the floor along.",
	Next:   "Take a fresh wipe as soon as the surface no longer looks wet behind your hand.",
	Source: "EPA DIS/TSS-15 (wet all surfaces thoroughly); dropped wipes: " + commonPractice,
	Needs:  action.Order,
	Step:   wipeFit,
}

func wipeFit(v *assess.View) {
	if !v.Done() || v.Act.Helper || v.Act.Verb != action.Wipe && v.Act.Verb != action.Clean {
		return
	}
	w := &v.After.Wipe
	cause := fmt.Sprintf("wipe %d", w.Number)
	switch {
	case w.Spent:
		v.Breach(assess.Breach{Surface: assess.None, Cause: cause, Message: "A wipe that was dropped, thrown away or spent was used on " + v.The(v.Act.Surface) + "."})
	case w.Product >= 0 && tooWide(w.AreaDm2, v.P.Products[w.Product].AreaDm2):
		v.Breach(assess.Breach{
			Surface: assess.None, Cause: cause,
			Message: fmt.Sprintf("One wipe was used for %.1f m², and it wets %.1f m². The first surface it could not wet was %s.",
				float64(w.AreaDm2)/100, float64(v.P.Products[w.Product].AreaDm2)/100, v.The(v.Act.Surface)),
			Source: "what one wipe can wet: the clinic's own value in its product row",
		})
	default:
		v.Kept(assess.None)
	}
}

// tooWide reports whether a wipe has wetted more than its product row says it can;
// 0 there says nothing.
func tooWide(wetted int16, most int) bool { return most > 0 && int(wetted) > most }
