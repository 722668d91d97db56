package rules

import (
	"stillwet/internal/action"
	"stillwet/internal/assess"
	"stillwet/internal/procedure"
)

// Leakproof: regulated waste goes into a leak-proof container.
var Leakproof = &assess.Rule{
	Name:     "leakproof",
	Doc:      "Used blood lines, the dialyzer and other waste that would release blood go into a closable, leak-proof container; a dialyzer that is used again is capped first.",
	Why:      "A line holds blood that runs out wherever it is laid, and a bag that is not leak-proof lets it through on the way.",
	Next:     "Bring the leak-proof container to the {station}, or carry the lines straight to it, and let them go nowhere else in between.",
	Source:   checklist + "; " + bloodborne + " (regulated waste)",
	Needs:    action.Order,
	Critical: true,
	Step:     leakproof,
	End:      leftLying,
}

func leakproof(v *assess.View) {
	kind := v.Act.Kind(v.P)
	if !v.Done() || !regulated(v) {
		return
	}
	switch v.Act.Verb {
	case action.Discard, action.SetAt, action.Bring, action.PutInSharps:
	default:
		return
	}
	switch {
	case v.Act.PlaceKind(v.P) != procedure.LeakProof:
		where := into(v)
		if v.Act.Verb == action.PutInSharps {
			where = "in a sharps container"
		}
		b := assess.Breach{Surface: assess.None, Message: "Not put into a leak-proof container but " + where + ": " + v.Thing() + "."}
		if !circuit(kind) {
			b.Why, b.Next = soakedWhy, soakedNext
		}
		v.Breach(b)
	case kind == procedure.Reprocess && !v.Before.Items[v.Act.Item].Capped:
		v.Breach(assess.Breach{
			Surface: assess.None, Message: "Carried away with its ports open: " + v.Thing() + ".",
			Next: "Cap the ports and clamp the lines before a dialyzer that is used again goes into its container.", Source: rr5,
		})
	default:
		v.Kept(assess.None)
	}
}

// leftLying looks at the end for lines that nobody saw going anywhere, and for what
// blood was soaked up with and nobody threw away.
func leftLying(v *assess.View) {
	var unseen []string
	for i := range v.P.Items {
		it, state := &v.P.Items[i], &v.After.Items[i]
		if state.Gone || state.Astray || !v.After.There(v.P, i) {
			continue
		}
		switch {
		case circuit(it.Kind) && state.Unknown && v.After.MayHave(action.Discard):
			unseen = append(unseen, procedure.The(it.Title))
		case circuit(it.Kind) && state.Off && !state.Unknown && v.After.FirstWipe && !v.After.Stopped:
			v.Missed(assess.None) // that it was left lying, another rule says
		case !circuit(it.Kind) && onlyLeakproof(v.P, it) && v.After.Absorbed && !state.Unknown && v.After.Ready:
			v.Breach(assess.Breach{Surface: assess.None, Message: "Never thrown away: " + procedure.The(it.Title) + ".", Why: soakedWhy, Next: soakedNext})
		}
	}
	if len(unseen) > 0 {
		v.Unknown(assess.None, "The watcher could not see where these went: "+list(unseen)+".")
	}
}

// What is said of things that are no lines.
const (
	soakedWhy  = "What blood was soaked up with gives it back wherever it is laid or pressed."
	soakedNext = "Drop it straight into a closable, leak-proof container, and nowhere else in between."
)
