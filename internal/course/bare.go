package course

import (
	"slices"

	"stillwet/internal/action"
	"stillwet/internal/procedure"
)

// Bare is a log act by act as it looks to somebody who stands by: surfaces are not wiped,
// bloody, wet, or dry again. Whether a time is over, and whether a touch has spoilt it, is for
// whoever stands by to say, so that nothing here tells what is wrong.
func Bare(p *procedure.Procedure, log *action.Log) ([]Shown, error) {
	shown, err := played(p, log)
	if err != nil {
		return nil, err
	}
	looks := make([]Scene, len(p.Surfaces))
	for i := range looks {
		looks[i].Film = NotWiped
	}
	var were []Scene
	for i := range shown {
		x := &shown[i]
		looksAfter(p, looks, &x.Act)
		x.Changes, x.Scenes = nil, altered(p, were, looks)
		were = slices.Clone(looks)
	}
	return shown, nil
}

// looksAfter lets an act change how surfaces look. In an order without a clock a wait
// stands for wet time and drying.
func looksAfter(p *procedure.Procedure, looks []Scene, a *action.Act) {
	if a.Verb == action.Wait {
		for i := range looks {
			if looks[i].Film == StillWet {
				looks[i] = Scene{Film: Dried}
			}
		}
		return
	}
	at := p.SurfaceIndex(a.Object)
	if at < 0 {
		return
	}
	switch {
	case a.Verb == action.BloodOn:
		looks[at] = Scene{Film: Bloody}
	case looks[at].Film == Bloody: // only cleaning takes it off
		if a.Verb == action.Clean {
			looks[at] = Scene{Film: NotWiped}
		}
	case a.Verb == action.Wipe:
		looks[at] = Scene{StillWet, half}
	case a.Verb == action.Dry, a.Verb == action.WipeDry:
		looks[at] = Scene{Film: Dried}
	}
}
