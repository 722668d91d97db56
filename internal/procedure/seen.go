package procedure

// MustBeSeen reports whether who watches must see a surface wet for its time: where
// the procedure marks none, every one.
func (p *Procedure) MustBeSeen(surface int) bool {
	marked := false
	for i := range p.Surfaces {
		marked = marked || p.Surfaces[i].MustSee
	}
	return !marked || p.Surfaces[surface].MustSee
}

// FacesOf are the surfaces of a thing by face, in the order of the procedure.
func (p *Procedure) FacesOf(thing string) (faces [][]string) {
	place := map[string]int{}
	for i := range p.Surfaces {
		s := &p.Surfaces[i]
		if s.ThingOf() != thing {
			continue
		}
		at, known := place[s.Face]
		if !known {
			at, place[s.Face] = len(faces), len(faces)
			faces = append(faces, nil)
		}
		faces[at] = append(faces[at], s.ID)
	}
	return faces
}
