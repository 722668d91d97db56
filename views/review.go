package views

import (
	"slices"
	"strings"

	"stillwet/internal/action"
	"stillwet/internal/assess"
	"stillwet/internal/course"
	"stillwet/internal/procedure"
	"stillwet/internal/training"
)

// Review is a demonstration with its result, its outcome and its signatures.
type Review struct {
	Result
	Demonstration training.Demonstration
	Learner       training.Person // zero of an observation that names nobody
	PreceptorName string
	Competency    string
	InUse         string // the products, with when what is mixed was made
	Choices       []training.Choice
	Reader        Reader
	MayWithdraw   bool
	Wrong         string // why a form was not taken
	WrongFor      FormAt
	Typed         map[string]string // what was typed in it
	// LearnerUsername is told in a demo only.
	LearnerUsername string
	Signed          training.SignedAs
	Received        training.Received
	Overtaken       string // why it cannot be signed as met any more: the procedure changed
	Plan            *training.Plan
	Corrected       []training.CorrectedLine
	HandedOver      bool              // the device is in the learner's hands
	People          []training.Person // whose work it may have been, for who may restate it
	StandsAs        string            // id of the demonstration that stands for it since it was withdrawn
}

// Reader is who looks at a review.
type Reader string

// The readers.
const (
	ReadsAsPreceptor Reader = "preceptor" // who watched
	ReadsAsLearner   Reader = "learner"
	ReadsElse        Reader = ""
)

// FormAt is the form that a message belongs to.
type FormAt string

// The forms.
const (
	AtOutcome   FormAt = "outcome"
	AtLearner   FormAt = "learner"
	AtRefusal   FormAt = "refusal"
	AtPreceptor FormAt = "preceptor"
	AtWithdraw  FormAt = "withdraw"
	AtRestate   FormAt = "restate"
	AtMarks     FormAt = "marks"
	AtTakeBack  FormAt = "take-back"
)

// wrong is what is said at a form.
func (r Review) wrong(at FormAt) string {
	if r.WrongFor == at {
		return r.Wrong
	}
	return ""
}

// sureAt is what was asked of the words of a form.
func (r Review) sureAt(at FormAt) string {
	if r.WrongFor == at {
		return r.Typed["sure"]
	}
	return ""
}

// AskSure stands before the digest of words that somebody was warned of and has not said yet
// that they may stay.
const AskSure = "ask "

// shows reports whether the form that a message belongs to is on the page.
func (r Review) shows(at FormAt) bool {
	own := r.Reader == ReadsAsPreceptor && !r.routine()
	switch at {
	case AtOutcome:
		return own && !r.decided() && (!r.learnerSigned() || r.stage() == training.Ended || r.mayChooseAgain())
	case AtLearner:
		return r.asksLearner() && (r.Reader == ReadsAsLearner || r.HandedOver)
	case AtRefusal:
		return r.asksLearner() && (r.Reader == ReadsAsLearner || r.HandedOver || own && r.stage() == training.Reviewed)
	case AtPreceptor:
		return own && !r.decided() && (r.learnerSigned() && r.stage() != training.Ended || r.stage() == training.Refused && r.Demonstration.Chosen() != training.WatchedMet)
	case AtWithdraw, AtRestate:
		return r.MayWithdraw
	case AtMarks:
		return r.asksMarks()
	}
	return r.HandedOver
}

// stray is a message whose form is not on the page any more.
func (r Review) stray() string {
	if r.shows(r.WrongFor) {
		return ""
	}
	return r.Wrong
}

// typedOr is what was typed in a field, or what it begins with.
func (r Review) typedOr(field, begins string) string {
	if typed := r.Typed[field]; typed != "" {
		return typed
	}
	return begins
}

func (r Review) stage() training.DemonstrationState { return r.Demonstration.Stage }

func (r Review) routine() bool { return r.Demonstration.Setting.Purpose == training.ForRoutine }

// who is whose work it is.
func (r Review) who() string { return Whose(r.Learner.Name, r.Demonstration.Setting) }

// Whose is a person, or the discipline of one who is not named.
func Whose(name string, s training.Setting) string {
	if name != "" {
		return name
	}
	if s.Shift != "" {
		return s.Discipline + ", " + s.Shift
	}
	return s.Discipline
}

func (r Review) url(act string) string { return "/demonstrations/" + r.Demonstration.ID + act }

// chosen is the sentence that the preceptor chose.
func (r Review) chosen() string { return r.Demonstration.Chosen().Words() }

// chosenWhy is the reason that came with it.
func (r Review) chosenWhy() string {
	for _, e := range slices.Backward(r.Demonstration.Events) {
		if e.State == training.Reviewed && e.ByID == r.Demonstration.PreceptorID {
			return e.Why
		}
	}
	return ""
}

// refusal is what was noted when the learner would not sign, and by whom; nothing once the
// learner has signed after all.
func (r Review) refusal() (why, by string) {
	if r.learnerSigned() && r.Demonstration.Signatures[0].Meaning == training.LearnerDid {
		return "", ""
	}
	for _, e := range slices.Backward(r.Demonstration.Events) {
		if e.State == training.Refused {
			return e.Why, e.ByName
		}
	}
	return "", ""
}

// openMarks are the marks that only a watcher can decide and nobody has.
func (r Review) openMarks() (all []procedure.Mark) {
	for _, line := range r.Result.Result.Marks.Lines {
		i := r.Procedure.MarkIndex(line.ID)
		if i >= 0 && r.Procedure.MarkSheet.Marks[i].Watcher && line.Status == assess.NotAssessed {
			all = append(all, r.Procedure.MarkSheet.Marks[i])
		}
	}
	return all
}

// asksMarks reports whether the reader can still decide such marks.
func (r Review) asksMarks() bool { return r.Amend != "" && len(r.openMarks()) > 0 }

// history is what became of it since the recording, in sentences.
func (r Review) history(f Frame) (lines []string) {
	for _, e := range r.Demonstration.Events {
		if e.ByName == "" {
			continue
		}
		text := f.Moment(e.At) + ", " + e.ByName + ": " + eventWords(e)
		if e.Why != "" {
			text += " Reason: " + strings.TrimSuffix(e.Why, ".") + "."
		}
		lines = append(lines, text)
	}
	return lines
}

// eventWords is what an event did, in a sentence.
func eventWords(e training.DemonstrationEvent) string {
	switch e.State {
	case training.Ended:
		return "Corrected the log; it was judged anew."
	case training.Reviewed:
		return "Chose “" + e.Meaning.Words() + "”"
	case training.Refused:
		return "Noted that the learner will not sign."
	case training.Filed:
		return "Kept the observation."
	case training.Withdrawn:
		return "Withdrew it. It counts for nothing."
	}
	return "Signed “" + e.Meaning.Words() + "”"
}

// fixes are the corrections of the log, in sentences.
func (r Review) fixes() (lines []string) {
	for _, l := range r.Corrected {
		if l.By == 0 || strings.HasPrefix(l.Text, "undone ") {
			continue
		}
		text := clock(int(l.AtMs/1000)) + " " + r.lineText(l.Step, l.Text)
		lines = append(lines, text+either(strings.HasPrefix(l.Key, "put "), ": added", ": struck"))
	}
	return lines
}

// receivedLines are the acts that came and are no part of the record.
func (r Review) receivedLines() (lines []string) {
	say := func(acts []training.Watched, why func(training.Watched) string) {
		for _, a := range acts {
			lines = append(lines, clock(int(a.AtMs/1000))+" "+r.actText(a)+": "+why(a))
		}
	}
	say(r.Received.Late, func(training.Watched) string { return "it came after the close" })
	say(r.Received.Refused, func(a training.Watched) string { return a.Refused })
	return lines
}

// actText is an act as its button said it.
func (r Review) actText(a training.Watched) string {
	if a.Undo != "" {
		return "taking back"
	}
	return r.lineText(a.Step, a.Text)
}

// lineText is a step by its label, or a line in words.
func (r Review) lineText(step, text string) string {
	return "“" + LineWords(r.Procedure, step, text) + "”"
}

// LineWords is a recorded line as people read it: its step by its label, else its words.
func LineWords(p *procedure.Procedure, step, text string) string {
	if i := p.StepIndex(step); i >= 0 {
		return p.Steps[i].Label
	}
	act, err := action.ParseAct(text, p.Words)
	if err != nil {
		return text
	}
	return ActWords(p, act)
}

// InUse names the products of a demonstration, with when what is mixed was made.
func InUse(p *procedure.Procedure, d training.Demonstration) string {
	if len(d.Setting.InUse) == 0 {
		return p.Title(d.Product)
	}
	var names []string
	for _, x := range d.Setting.InUse {
		name := p.Title(x.ID)
		if x.MadeAt != "" {
			name += " (made at " + x.MadeAt + ")"
		}
		names = append(names, name)
	}
	return strings.Join(names, "; ")
}

// names are those under which people are shown on the page.
func (r Review) names() map[string]string {
	return map[string]string{r.Demonstration.TraineeID: r.Learner.Name, r.Demonstration.PreceptorID: r.PreceptorName}
}

func (r Review) learnerSigned() bool { return len(r.Demonstration.Signatures) > 0 }

func (r Review) kicker(f Frame) string {
	return r.who() + " · " + either(r.routine(), "Routine observation: ", "") + r.Competency + " · " + f.Moment(r.Demonstration.StartedAt)
}

// facts are what the demonstration was.
func (r Review) facts(f Frame) []Fact {
	d := r.Demonstration
	prompts := "None"
	if d.Prompted {
		prompts = "You or somebody helped: it counts as practice"
		if r.Reader != ReadsAsPreceptor {
			prompts = "Helped by the watcher: it counts as practice"
		}
	}
	return []Fact{
		{Term: either(r.routine(), "Whose work", "Learner"), Text: r.who()}, {Term: "Watched by", Text: r.PreceptorName}, {Term: "Help", Text: prompts},
		{Term: "Products", Text: r.InUse}, {Term: "Announced", Text: procedure.Capital(d.Setting.Announced)},
		{Term: "Ended", Text: f.Moment(d.EndedAt)}, {Term: "Preceptor's words", Text: d.Comment},
	}
}

func stoppedText(d training.Demonstration) string {
	if d.State == training.Recording {
		return "It has no result before the preceptor finishes it."
	}
	return "It was stopped before its end. What was recorded is kept; it counts for nothing."
}

func (r Review) decided() bool { return r.Demonstration.Decided() }

// asksLearner reports whether the learner's signature is what is waited for.
func (r Review) asksLearner() bool {
	return (r.stage() == training.Reviewed || r.stage() == training.Refused) && !r.learnerSigned()
}

// mayChooseAgain reports whether another outcome can be chosen although the learner signed:
// what was chosen cannot be signed any more.
func (r Review) mayChooseAgain() bool {
	return slices.ContainsFunc(r.Choices, func(c training.Choice) bool { return c.WhyNot == "" })
}

// waitsFor says for whom an outcome waits.
func (r Review) waitsFor() string {
	switch {
	case r.stage() == training.Ended:
		return "It waits for " + r.PreceptorName + ", who watched, to choose the outcome."
	case r.asksLearner():
		return "It waits for " + r.Learner.Name + " to read and sign it. Chosen: “" + r.chosen() + "”"
	}
	return "It waits for " + r.PreceptorName + " to sign it. Chosen: “" + r.chosen() + "”"
}

// signedText says by whom an outcome is signed.
func (r Review) signedText() string {
	if len(r.Demonstration.Signatures) > 1 {
		return "Signed by both."
	}
	return "Signed by " + r.PreceptorName + "; the learner would not sign."
}

// reasonGiven is the reason that came with the choice, as a sentence.
func (r Review) reasonGiven() string {
	if why := r.chosenWhy(); why != "" {
		return "Reason: " + strings.TrimSuffix(why, ".") + "."
	}
	return ""
}

// Replay is a demonstration as it is played on the picture.
type Replay struct {
	Back, Kicker string
	Procedure    *procedure.Procedure
	Acts         []course.Shown
}

func (r Replay) part() WatchPart { return WatchPart{Procedure: r.Procedure, Example: r.Acts} }
