package views

import (
	"cmp"
	"slices"
	"strconv"
	"strings"

	"stillwet/internal/assess"
	"stillwet/internal/procedure"
	"stillwet/internal/training"
)

// Survey is the records of some named people, for a surveyor.
type Survey struct {
	training.Surveyed
	Titles map[string]string // of competencies
	Sheets []SurveySheet     // as Records
}

// SurveySheet is one person's record with the results of what was watched.
type SurveySheet struct {
	training.SurveyRecord
	Results []Result // as Demonstrations
}

func (s Survey) title(competency string) string { return cmp.Or(s.Titles[competency], competency) }

// heading names whose records these are.
func (s Survey) heading() string {
	if len(s.Sheets) == 1 {
		return "Record of " + s.Sheets[0].Person.Name
	}
	return "Records of " + strconv.Itoa(len(s.Sheets)) + " people"
}

// summary says in plain words what the sheets behind it say in full.
func (s Survey) summary(f Frame, x SurveySheet) (lines []string) {
	for _, st := range x.Standings {
		lines = append(lines, s.title(st.Competency.ID)+": "+standingSentence(st))
	}
	if len(x.Standings) == 0 {
		lines = append(lines, firstName(x.Person.Name)+" is in no training here.")
	}
	met, not, withdrawn := 0, 0, 0
	for _, d := range x.Demonstrations {
		switch {
		case d.Stage == training.Withdrawn:
			withdrawn++
		case d.Met():
			met++
		case d.Decided():
			not++
		}
	}
	text := "Demonstrations that were watched: " + strconv.Itoa(len(x.Demonstrations)) + "."
	for _, n := range []struct {
		n    int
		said string
	}{{met, "met the standard"}, {not, "did not, or count as practice"}, {withdrawn, "withdrawn"}, {len(x.Demonstrations) - met - not - withdrawn, "not signed yet"}} {
		if n.n > 0 {
			text += " " + procedure.Capital(n.said) + ": " + strconv.Itoa(n.n) + "."
		}
	}
	lines = append(lines, text)
	if n := len(x.Corrected); n > 0 {
		lines = append(lines, "Put right since: "+count(n, "record", "records")+"; each is listed with its reason.")
	} else {
		lines = append(lines, "Nothing in this record was withdrawn or corrected.")
	}
	return lines
}

// standingSentence says where somebody stands, since when and whether they may work alone.
func standingSentence(st training.Standing) string {
	text := string(st.Word)
	if o := st.LastSignOff; o != nil {
		text += ", signed off on " + day(o.On) + " by " + o.Signer() + ", due again " + day(st.Due)
	}
	if may, _ := st.MayWorkAlone(); may {
		return text + ". May work alone."
	}
	return text + ". May not work alone."
}

// aloneReason says whether somebody may work alone, with the reason.
func aloneReason(st training.Standing) string {
	may, why := st.MayWorkAlone()
	return either(may, "yes", "no") + ": " + why
}

// signerThen says how a signer stood on the day of the signature, and by what they might sign.
func (s Survey) signerThen(x SurveySheet, leaf int64) string {
	then := x.Signers[leaf]
	text := "in no training here"
	if then.Standing != nil {
		text = string(then.Standing.Word)
		if then.Standing.Due != "" {
			text += ", due " + day(then.Standing.Due)
		}
	}
	text = "The signer that day: " + text + ". "
	e := then.Entitlement
	if e == nil {
		return text + "No entitlement of that day is on record."
	}
	text += "Entitled (" + mayText(*e) + ") from " + day(e.From) + " until " + day(e.Until)
	if e.Founding != "" {
		text += "; not current when it was granted: " + e.Founding
	}
	return strings.TrimSuffix(text, ".") + "."
}

// underRequirements says under which version of the requirements a sign-off was given.
func underRequirements(o training.SignOff) string {
	if o.Requirements == 0 {
		return "Given under the requirements of the clinic's set"
	}
	return "Given under version " + strconv.Itoa(o.Requirements) + " of the requirements"
}

// restsOnDays names the demonstrations of a sign-off by their days.
func (x SurveySheet) restsOnDays(f Frame, o training.SignOff) string {
	var days []string
	for _, d := range x.Demonstrations {
		if slices.Contains(o.Demonstrations, d.ID) {
			days = append(days, f.day(d.StartedAt)+either(d.Stage == training.Withdrawn, " (withdrawn since)", ""))
		}
	}
	slices.Reverse(days)
	if len(days) == 0 {
		return "Rests on no demonstration."
	}
	return "Rests on the " + either(len(days) == 1, "demonstration", "demonstrations") + " of " + strings.Join(days, ", ")
}

// facts are what a demonstration was.
func (s Survey) facts(f Frame, x SurveySheet, i int) []Fact {
	d, r := x.Demonstrations[i], x.Results[i]
	return []Fact{
		{Term: "Competency", Text: AtStation(s.title(d.Competency), r.Procedure)},
		{Term: "Watched by", Text: x.Names[d.PreceptorID]},
		{Term: "Products", Text: InUse(r.Procedure, d.Demonstration)},
		{Term: "Help", Text: either(d.Prompted, "The watcher helped: it counts as practice", "None")},
		{Term: "Judged by", Text: r.Procedure.Definition.Title + ", version " + r.Procedure.Version + ", rules version " + strconv.Itoa(r.Result.RulesVersion)},
		{Term: "Preceptor's words", Text: d.Comment, Wide: true},
	}
}

// foundWords is a finding as a line of a list.
func (r Result) foundWords(x numbered) string {
	kind := "Breach"
	switch {
	case x.Advice():
		kind = "Advice"
	case x.Critical:
		kind = "Critical breach"
	}
	return kind + ": " + r.message(x)
}

// openMarksText counts what nobody could assess.
func openMarksText(r *assess.Result) string {
	n := 0
	for _, m := range r.Marks.Lines {
		if m.Status == assess.NotAssessed {
			n++
		}
	}
	if n == 0 {
		return ""
	}
	return count(n, "mark", "marks") + " could not be assessed; that is neither met nor missed."
}

// correctedText is something that was put right, in a line.
func (s Survey) correctedText(f Frame, c training.Corrected) string {
	return procedure.Capital(string(c.What)) + ", of " + f.day(c.OfAt) + ", " + s.title(c.Competency)
}

// eventLines is what became of a demonstration since its recording, but for signatures,
// which stand by themselves.
func eventLines(f Frame, d training.Demonstration) (lines []string) {
	for _, e := range d.Events {
		switch e.State {
		case training.Refused, training.Withdrawn, training.Ended:
			if e.ByName != "" {
				lines = append(lines, joinedSentence(f.Moment(e.At)+", "+e.ByName+": "+eventWords(e), e.Why))
			}
		}
	}
	return lines
}

func joinedSentence(text, why string) string {
	if why == "" {
		return text
	}
	return text + " Reason: " + strings.TrimSuffix(why, ".") + "."
}

// SurveyURL asks for the record of one person.
func SurveyURL(id string) string { return "/people/record?person=" + id }
