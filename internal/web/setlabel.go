package web

import "stillwet/scenarios"

// signReading puts who typed in a label's words for treatment time, and when, beside them.
func (v *visit) signReading(e *scenarios.Edit) {
	reading, chosen := e.Fields["reading"]
	words := e.Fields["reading_words"]
	switch {
	case e.List != "products":
	case chosen && reading == "" && words == "": // visibly wet: there are no such words any more
		for _, field := range []string{"reading_words", "reading_by", "reading_on"} {
			e.Fields[field] = ""
		}
	case reading != "" || words != "":
		e.Fields["reading_by"], e.Fields["reading_on"] = v.actor.Person.Name, string(v.Service.Today())
	}
}
