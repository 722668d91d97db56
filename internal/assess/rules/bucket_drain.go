package rules

import (
	"stillwet/internal/action"
	"stillwet/internal/assess"
	"stillwet/internal/procedure"
)

// BucketDrain: the prime bucket is emptied into an approved drain.
var BucketDrain = &assess.Rule{
	Name:       "bucket-drain",
	Doc:        "The {bucket} is emptied into a toilet or an approved drain.",
	Why:        "What is in the {bucket} may hold blood. In a bin it leaks, and in a basin it splashes on what others wash or rinse there.",
	Next:       "Carry the {bucket} level and straight to the toilet or the drain that your clinic names, with your eyes covered.",
	Source:     bloodborne + " (liquid regulated waste); which drain: " + commonPractice,
	Needs:      action.Order,
	SomeCustom: true,
	Step:       bucketDrain,
	End: func(v *assess.View) {
		for i := range v.P.Items {
			if v.P.Items[i].Kind == procedure.BucketItem && v.After.MayHave(action.Empty) && !v.After.Items[i].Empty {
				v.Unknown(assess.None, "The watcher could not see where the {bucket} was emptied.")
			}
		}
	},
}

func bucketDrain(v *assess.View) {
	if !v.Done() || v.Act.Verb != action.Empty {
		return
	}
	message := "Emptied into " + placed(v) + ", which is no approved drain: " + v.Thing() + "."
	switch v.Act.PlaceKind(v.P) {
	case procedure.Drain:
		v.Kept(assess.None)
	case procedure.Sink:
		v.Breach(assess.Breach{Surface: assess.None, Message: message, Custom: true, Source: commonPractice})
	default:
		v.Breach(assess.Breach{Surface: assess.None, Message: message})
	}
}
