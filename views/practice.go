package views

import (
	"fmt"
	"strings"

	"stillwet/internal/course"
	"stillwet/internal/procedure"
	"stillwet/internal/simulate"
	"stillwet/internal/training"
)

// Practice is what a person sees of their own training.
type Practice struct {
	Home   training.Home
	Title  func(scenarioID string) string
	Duties DutyList        // because the procedure changed
	Plans  []training.Plan // after demonstrations that were not met, newest first
}

// openPlans are those that an educator opened and whose day is not over.
func (p Practice) openPlans(f Frame) (open []training.Plan) {
	for _, x := range p.Plans {
		if x.Last().State == training.PlanOpened && x.Last().Due >= f.Today {
			open = append(open, x)
		}
	}
	return open
}

// lead says who looks after a new hire.
func (p Practice) lead(f Frame) string {
	if p.Home.Orientation.PreceptorID == "" {
		return ""
	}
	return f.orientationText(p.Home.Orientation)
}

// next is the one thing to do now.
type next struct {
	kicker, text, why, href, button string
}

func (p Practice) next(f Frame) next {
	for _, d := range p.Home.Watched {
		if d.ToSign() {
			return next{"Next for you", "Read and sign your demonstration of " + f.day(d.StartedAt), "The preceptor has chosen its outcome. Look through it; you sign with your own password, and may add a sentence or say that you will not sign.", "/demonstrations/" + d.ID, "Read it"}
		}
	}
	for _, m := range p.Home.Scenarios {
		for _, d := range m.Open {
			text := "Go on with " + m.Scenario.Title
			return next{"Next for you", text, begunText(m.Scenario), draftURL(d), "Go on"}
		}
	}
	if w, part, ok := training.GoOn(p.Home.Ways); ok {
		p := w.Parts[part].Part
		return next{w.Module.Title, p.Title(), partText(w, part), PartURL(w.Module, p), goOnText(p)}
	}
	return p.afterCourse()
}

// afterCourse is what is left when nothing of the course is: a scenario where there is no
// course, and then somebody who watches.
func (p Practice) afterCourse() next {
	for _, m := range p.Home.Scenarios {
		if !m.Passed && len(p.Home.Ways) == 0 {
			return next{"Next for you", m.Scenario.Title, kindText(m.Scenario.Kind) + triesText(m), scenarioURL(m.Scenario.ID), "Open it"}
		}
	}
	for _, s := range p.Home.Standings {
		if !s.Ready && !s.Watched() && s.Word != training.Current && s.Word != training.OnLeave {
			return next{"Next for you", "Ask a preceptor to watch you", s.Competency.Title + ": " + cleanText(s) + ".", "/people/" + p.Home.Person.ID, "See your record"}
		}
	}
	return next{}
}

// now is the module that somebody is in.
func (p Practice) now() (training.ModuleWay, bool) {
	if w, _, ok := training.GoOn(p.Home.Ways); ok {
		return *w, true
	}
	return training.ModuleWay{}, false
}

func scenarioURL(id string) string { return "/practice/" + id }

// draftURL is where unfinished work is found again.
func draftURL(d training.Draft) string { return AsURL(d.ScenarioID, d.Guided) }

// AsURL is a scenario, as guided practice or not.
func AsURL(scenario string, guided bool) string {
	if guided {
		return scenarioURL(scenario) + "?guided=yes"
	}
	return scenarioURL(scenario) + "?guided=no"
}

// ModuleURL is a module with all its parts.
func ModuleURL(m *course.Module) string { return "/course/" + m.ID }

// PartURL leads straight to what is to be done.
func PartURL(m *course.Module, p *course.Part) string {
	switch p.Kind {
	case course.Practise, course.Test:
		return AsURL(p.Scenario.ID, p.Kind == course.Practise)
	}
	return ModuleURL(m) + "/" + p.ID()
}

var goOnVerbs = map[course.Kind]string{course.Read: "read", course.Watch: "watch", course.Practise: "practise", course.Test: "take the test"}

func goOnText(p *course.Part) string {
	verb := goOnVerbs[p.Kind]
	if finds(p) && p.Kind == course.Practise {
		verb = "find what is wrong:"
	}
	return "Go on: " + verb + " “" + p.Title() + "”"
}

const findTitle = "Find what is wrong"

// finds reports whether a part is one to find what is wrong in.
func finds(p *course.Part) bool { return p.Scenario != nil && p.Scenario.Kind == simulate.FindWrong }

// kindTitle names the kind of a part.
func kindTitle(p *course.Part) string {
	switch {
	case !finds(p):
		return kindTitles[p.Kind]
	case p.Kind == course.Test:
		return "Test, find what is wrong"
	}
	return findTitle
}

// kindTitles name the kinds of parts.
var kindTitles = map[course.Kind]string{course.Read: "Read", course.Watch: "Watch", course.Practise: "Practise", course.Test: "Test"}

// partText says what kind of part is next, how long it takes and where it stands.
func partText(w *training.ModuleWay, part int) string {
	p := w.Parts[part].Part
	return fmt.Sprintf("%s, about %s. Part %d of %d.", kindTitle(p), count(p.Minutes, "minute", "minutes"), part+1, len(w.Parts))
}

// partState is how far a part has come, in words.
func partState(w training.ModuleWay, i int) string {
	p := w.Parts[i]
	switch {
	case p.Done && p.Mark.Questions > 0:
		return fmt.Sprintf("Done, %d of %d right at first", p.Mark.RightFirst, p.Mark.Questions)
	case p.Done && p.Part.Kind == course.Test:
		return "Passed"
	case p.Done:
		return "Done"
	case p.OnceMore:
		return "Passed once; once more on another day"
	case p.NotNeeded:
		return "Not needed: the tests did not miss it"
	case p.Waits:
		return "Only if the tests miss it"
	case i == w.Next && p.Tries > 0:
		return "Next, after " + count(p.Tries, "try", "tries")
	case i == w.Next:
		return "Next"
	case p.Tries > 0:
		return count(p.Tries, "try", "tries")
	}
	return "To come"
}

// wayState is how far a module has come, in words.
func wayState(w training.ModuleWay) string {
	done := 0
	for _, p := range w.Parts {
		if p.Done || p.NotNeeded {
			done++
		}
	}
	switch {
	case w.Passed:
		return "Passed"
	case w.Behind:
		return "Not asked since the sign-off"
	case w.Later:
		return "Later"
	case done == 0:
		return "To come"
	}
	return fmt.Sprintf("%d of %d parts", done, len(w.Parts))
}

func kindText(k simulate.Kind) string {
	switch k {
	case simulate.TimedRun:
		return "A run against the clock."
	case simulate.FindWrong:
		return "Find what is wrong in a colleague's work."
	}
	return "Build the order of the steps."
}

func triesText(m training.OwnScenario) string {
	if m.Tries == 0 {
		return ""
	}
	return " " + procedure.Capital(count(m.Tries, "try", "tries")) + " so far."
}

func cleanText(s training.Standing) string {
	return fmt.Sprintf("%d of %s", len(s.Clean), count(s.Needed, "clean demonstration", "clean demonstrations"))
}

// missingText says in a sentence what is still missing for a sign-off.
func missingText(s training.Standing) string {
	var missing []string
	if n := len(s.MissingScenarios); n > 0 {
		missing = append(missing, count(n, "test", "tests")+" to pass")
	}
	if n := s.Needed - len(s.Clean); n > 0 {
		missing = append(missing, count(n, "clean demonstration", "clean demonstrations")+" at the station, watched by a preceptor")
	} else if !s.Watched() {
		missing = append(missing, "a clean demonstration "+either(s.More.Preceptors > 0, "watched by another preceptor", "on another day"))
	}
	if s.Plan != nil {
		missing = append(missing, "a demonstration that is met and ends the plan")
	}
	if s.NotBefore != "" && !s.Ready && len(missing) == 0 {
		return "Nothing is missing: the sign-off can be given from " + day(s.NotBefore) + " on."
	}
	if len(missing) == 0 {
		return "Nothing is missing: the sign-off itself is next."
	}
	return "Still missing: " + strings.Join(missing, ", and ") + "."
}

func firstName(name string) string {
	for i, r := range name {
		if r == ' ' && i > 0 {
			return name[:i]
		}
	}
	return name
}

func scenarioState(m training.OwnScenario) string {
	switch {
	case m.Passed:
		return "Passed"
	case len(m.Open) > 0:
		return "Begun"
	case m.Tries > 0:
		return count(m.Tries, "try", "tries")
	case m.Guided > 0:
		return "Practised"
	}
	return "Not tried yet"
}

func scenarioVerb(m training.OwnScenario) string {
	switch {
	case len(m.Open) > 0:
		return "Go on"
	case m.Tries+m.Guided > 0:
		return "Try again"
	}
	return "Open"
}

// openURL is where a scenario is entered: unfinished work first.
func openURL(m training.OwnScenario) string {
	if len(m.Open) > 0 {
		return draftURL(m.Open[0])
	}
	return scenarioURL(m.Scenario.ID)
}

// ownDays says on how many days, and by how many people, where it is more than one.
func ownDays(s training.Standing) (text string) {
	t := s.Takes
	switch {
	case t.Clean > 1 && t.Days == t.Clean || s.Needed > 1 && t.Clean == 0:
		text = ", each on its own day"
	case t.Days > 1:
		text = fmt.Sprintf(", on %d different days", t.Days)
	}
	if t.Preceptors > 1 {
		text += fmt.Sprintf(", watched by %d different people", t.Preceptors)
	}
	return text
}

// signedAsDue is said where another day counts than the one that was signed.
func signedAsDue(signed training.Day) string {
	return "signed as due " + day(signed) + ", and a new interval counts since"
}

// dueAgain says when a sign-off, here or from paper, is due: the day that counts, and the one
// that was signed where that is another.
func (f Frame) dueAgain(id string, signed training.Day, all []training.Standing) string {
	for i := range all {
		if o := all[i].LastSignOff; o != nil && o.ID == id && all[i].Due != signed {
			return "Due again " + day(all[i].Due) + " (" + f.until(all[i].Due) + "); " + signedAsDue(signed)
		}
	}
	return "Due again " + day(signed) + " (" + f.until(signed) + ")"
}

// besideStanding is what is to be known besides the word of a standing: a plan, a leave, a
// check after one. "" mostly.
func besideStanding(s training.Standing) string {
	var parts []string
	if s.Plan != nil {
		parts = append(parts, "plan to practise until "+day(s.Plan.Due))
	}
	if l := s.Leave; l != nil {
		parts = append(parts, either(l.Until == "", "on leave since "+day(l.From), "on leave until "+day(l.Until)))
	}
	if o := s.LastSignOff; o != nil && o.Due != s.Due {
		parts = append(parts, signedAsDue(o.Due))
	}
	if s.Unchecked != "" {
		parts = append(parts, "back from a leave that ended "+day(s.Unchecked)+"; a demonstration comes first")
	}
	return strings.Join(parts, "; ")
}

// shortBeside is the same for a list, in a few words.
func shortBeside(s training.Standing) string {
	switch {
	case s.Unchecked != "":
		return "back, to be checked first"
	case s.Leave != nil && s.Word != training.OnLeave:
		return "on leave"
	case s.Plan != nil && s.Word != training.OnPlan:
		return "on a plan"
	}
	return ""
}

// demonstrationText says how far a demonstration has come.
func demonstrationText(d training.Demonstration) string {
	switch d.State {
	case training.Recording:
		return "Being recorded"
	case training.Abandoned:
		return "Stopped and not judged"
	}
	switch d.Stage {
	case training.Withdrawn:
		return "Withdrawn: it counts for nothing"
	case training.Filed:
		return "Routine observation, kept"
	case training.Refused:
		return "The learner would not sign; waiting for the preceptor"
	case training.Reviewed:
		return either(len(d.Signatures) > 0, "Signed by the learner, waiting for the preceptor", "Waiting for the learner to read and sign")
	case training.Ended:
		if d.Setting.Purpose == training.ForRoutine {
			return "Routine observation, to be kept"
		}
		if len(d.Signatures) < 2 { // more was signed before outcomes were chosen
			return "Its outcome is to be chosen"
		}
	}
	last := d.Signatures[len(d.Signatures)-1].Meaning.Words()
	return either(len(d.Signatures) > 1, "Signed by both: ", "Signed by the preceptor: ") + last
}

// begunText says how a scenario that was begun is found again.
func begunText(s *simulate.Scenario) string {
	if s.Kind == simulate.TimedRun {
		return "You have begun this run, and its clock goes on."
	}
	return "You have begun this one. It is as you left it."
}

// orientationText says who looks after somebody, and until when.
func (f Frame) orientationText(o training.Orientation) string {
	return fmt.Sprintf("Primary preceptor: %s. Orientation ends on %s (%s).", o.PreceptorName, day(o.LastDay), f.until(o.LastDay))
}
