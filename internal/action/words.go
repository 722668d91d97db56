package action

import "strings"

// Verbs are all verbs, acts before events.
func Verbs() (all []Verb) {
	for v := CheckStable; v < verbEnd; v++ {
		all = append(all, v)
	}
	return all
}

// SlotUse is one slot of a verb's phrase.
type SlotUse struct {
	Word     string // as it stands in the phrase, "SURFACE"
	Kind     Slot
	Optional bool
}

// Slots are the slots of the verb's phrase in their order.
func (v Verb) Slots() (slots []SlotUse) {
	for _, p := range grammar[v] {
		if p.slot != 0 {
			slots = append(slots, SlotUse{p.literal, p.slot, p.optional})
		}
	}
	return slots
}

// WitnessWords are the words of a witness line.
func WitnessWords() []string { return strings.Fields((Order | Clock | Drying).String()) }
