package training

// tally counts clean demonstrations, oldest first, towards what is asked for. One counts
// when it is the first of its day or, where more are asked for than days, one of the few
// that may share a day. Where several preceptors are asked for, one counts that brings
// another.
type tally struct {
	takes  Takes
	n      int
	shared int
	days   map[Day]bool
	by     map[string]bool
}

func newTally(t Takes) *tally { return &tally{takes: t} }

// take reports whether a demonstration counts, and counts it.
func (t *tally) take(day Day, preceptor string) bool {
	switch {
	case !t.days[day]:
	case t.takes.Preceptors > 1 && !t.by[preceptor]:
	case t.shared < t.takes.Clean-t.takes.Days:
		t.shared++
	default:
		return false
	}
	if t.n++; t.days == nil { // most people have none
		t.days, t.by = map[Day]bool{}, map[string]bool{}
	}
	t.days[day], t.by[preceptor] = true, true
	return true
}

func (t *tally) moreDays() int { return max(0, t.takes.Days-len(t.days)) }

func (t *tally) morePreceptors() int { return max(0, t.takes.Preceptors-len(t.by)) }

// full reports whether all that is asked for is there.
func (t *tally) full() bool {
	return t.n >= t.takes.Clean && t.moreDays() == 0 && t.morePreceptors() == 0
}
