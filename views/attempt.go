package views

import "strconv"

// Attempt is the result page of a scenario.
type Attempt struct {
	Result
	Title, Who, When string
	Pace             int
	Again            string
	TakeUp           string // where an order with a breach is taken up again, "" for nowhere
	Own, Guided      bool
	Beside           *Beside  // the model beside an own order that passed
	Onward           *Onward  // the way on through the course, nil for none
	ModulePassed     string   // the title of the module that this attempt is a test of, once it is passed
	Teach            []Onward // lessons that teach what was missed
	Trial            *Trial   // it is none, but a trial of a scenario that is worked on
}

// Trial is the order of which a scenario was tried.
type Trial struct {
	Scenario, Seed string
	Steps          []string
	Read           string // where the procedure is read that it was judged by
}

// goesOn reports whether going on is the thing to do: a test that was not passed is
// tried again first.
func (a Attempt) goesOn() bool {
	return a.Onward != nil && (a.TakeUp == "" && a.Guided || a.Result.Result.Marks.Pass)
}

// takeUpText says what taking an order up again is for.
func (a Attempt) takeUpText() string {
	if a.Result.Result.Marks.Pass {
		return "Mend it, with hints"
	}
	return "Take it up again, with hints"
}

func (a Attempt) kicker() string {
	if a.Trial != nil {
		return "Trial, not kept · " + a.Title
	}
	text := "Test · " + a.Title + " · " + a.When
	if a.Guided {
		text = "Practice · " + a.Title + " · " + a.When
	}
	if !a.Own {
		text = a.Who + " · " + text
	}
	if a.Pace > 1 {
		text += " · clock at " + strconv.Itoa(a.Pace) + " times the speed"
	}
	return text
}

// judged says in the frame by what it was judged; what a trial was judged by may be kept nowhere.
func (a Attempt) judged(f Frame) Frame {
	f = f.judgedBy(a.Result)
	if a.Trial != nil {
		f.JudgedURL = a.Trial.Read
	}
	return f
}
