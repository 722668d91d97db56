package assess

import (
	"strings"

	"stillwet/internal/procedure"
	"stillwet/internal/station"
)

// WaySentence tells the way of a contamination in one sentence, at naming the place
// of an act: "The prime bucket touched your gloves at step 14; those gloves touched
// the screen at step 17." It is empty when there is no way.
func WaySentence(p *procedure.Procedure, way []Hop, at func(act int) string) string {
	var parts []string
	for i, h := range way {
		from := ThingWords(p, h.From)
		if i > 0 {
			from = those(p, h.From)
		}
		parts = append(parts, from+" "+touching(h.From)+" "+ThingWords(p, h.To)+" "+at(h.Act))
	}
	if len(parts) == 0 {
		return ""
	}
	return procedure.Capital(strings.Join(parts, "; ")) + "."
}

// those refers back to what the hop before reached.
func those(p *procedure.Procedure, id string) string {
	switch id {
	case station.ByGloves:
		return "those gloves"
	case station.ByHands:
		return "those hands"
	case station.ByWipe:
		return "that wipe"
	}
	return ThingWords(p, id)
}

func touching(from string) string {
	if from == station.OfBlood {
		return "came onto"
	}
	return "touched"
}

// FromOutside reports whether it came from no surface or item of the station.
func (h Hop) FromOutside() bool {
	return h.From == station.OfBlood || h.From == station.OfPerson || h.From == station.OfOutside
}
