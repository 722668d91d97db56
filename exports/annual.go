// Package exports writes workbooks. Each goes straight to the writer it is
// given, sheet after sheet, so that a large one takes no more memory than a
// small one.
//
// Dates are real dates and moments are wall-clock times in the clinic's zone,
// both with a style; ids and everything that people typed are text, whatever
// they begin with.
package exports

import (
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"github.com/xuri/excelize/v2"

	"stillwet/internal/assess"
	"stillwet/internal/training"
)

// DemoNotice stands on every sheet of a demo clinic's workbook.
const DemoNotice = "Demo clinic: everything in this workbook is invented."

// Titles of columns that other files speak of.
const (
	readyAgain   = "Ready to sign again"
	watchedTitle = "Demonstrations watched"
	toBeKnown    = "To be known"
	dayChanged   = "Day changed"
)

// Annual writes the annual competency workbook.
func Annual(w io.Writer, a training.Annual) (err error) {
	zone, err := time.LoadLocation(a.Zone)
	if err != nil {
		return fmt.Errorf("workbook: time zone: %w", err)
	}
	f := excelize.NewFile()
	defer func() {
		if closing := f.Close(); err == nil && closing != nil {
			err = fmt.Errorf("workbook: %w", closing)
		}
	}()
	b := &book{f: f, zone: zone, demo: a.Demo, about: fmt.Sprintf("%s · %d", a.Clinic, a.Year)}
	if err := b.prepare(a.MadeAt); err != nil {
		return fmt.Errorf("workbook: %w", err)
	}
	for _, write := range []func(training.Annual) error{b.readMe, b.status, b.signOffs, b.papers, b.demonstrations, b.findings, b.observations, b.observationMonths, b.entitlements, b.items, b.corrections, b.changeTraining, b.asked, b.requirements, b.versions, b.keysAndHeads} {
		if err := write(a); err != nil {
			return fmt.Errorf("workbook: %w", err)
		}
	}
	f.SetZipWriter(func(io.Writer) excelize.ZipWriter { return newZip(w) })
	if err := f.Write(io.Discard); err != nil {
		return fmt.Errorf("workbook: %w", err)
	}
	return nil
}

func (b *book) status(a training.Annual) error {
	type row = training.Standing
	last := func(value func(*training.SignOff) any) func(row) any {
		return func(st row) any {
			if st.LastSignOff == nil {
				return nil
			}
			return value(st.LastSignOff)
		}
	}
	return write(b, table[row]{name: statusName, rows: training.InOrder(a.Standings), whose: []column[row]{
		{"Person", 18, text, func(st row) any { return st.Person.Name }},
	}, pages: [][]column[row]{{
		{"Standing", 16, strong, func(st row) any { return st.Word }},
		{readyAgain, 9, text, func(st row) any { return yesOrNothing(st.ReadyAgain()) }},
		{"Due", 12, date, func(st row) any { return day(st.Due) }},
		{"Competency", 17, text, func(st row) any { return a.Title(st.Competency.ID) }},
		{"Staff no.", 8, text, func(st row) any { return st.Person.StaffNo }},
		{"Role", 9.5, text, func(st row) any { return st.Person.RoleTitle(st.Person.Settled(st.LastSignOff != nil, a.AsOf)) }},
		{"Last sign-off", 12, date, last(func(o *training.SignOff) any { return day(o.On) })},
		{"Signed off by", 17, text, last(func(o *training.SignOff) any { return o.Signer() })},
		{"Clean demonstrations", 15.5, count, func(st row) any { return len(st.Clean) }},
		{"Needed for next", 8.5, count, func(st row) any { return st.Needed }},
		{"Scenarios passed", 10.5, count, func(st row) any { return len(st.PassedScenarios) }},
		{"Scenarios in all", 10.5, count, func(st row) any { return len(st.PassedScenarios) + len(st.MissingScenarios) }},
	}}, keys: []column[row]{
		{"Person id", 37, id, func(st row) any { return st.Person.ID }},
	}})
}

func (b *book) signOffs(a training.Annual) error {
	type row = training.SignOff
	return write(b, table[row]{name: "Sign-offs", rows: a.SignOffs, whose: []column[row]{
		{"Person", 16, text, func(o row) any { return a.Signed.Of(o.Leaf, training.PartPerson, a.People[o.PersonID]).Name }},
	}, pages: [][]column[row]{{
		{"Signed on", 12, date, func(o row) any { return day(o.On) }},
		{"Signed at", 8, clock, func(o row) any { return b.moment(o.SignedAt) }},
		{"Signed off by", 16, text, func(o row) any { return o.SignerName }},
		{"Credential", 10.5, text, func(o row) any { return a.Signed[o.Leaf].Named(training.PartSigner).Credential }},
		{"Competency", 16, text, func(o row) any { return a.Title(o.Competency) }},
		{"Due", 12, date, func(o row) any { return day(o.Due) }},
		{"Staff no.", 8, text, func(o row) any { return a.Signed.Of(o.Leaf, training.PartPerson, a.People[o.PersonID]).StaffNo }},
		{"What was signed", 19.5, prose, func(row) any { return training.SignedOff.Words() }},
		{watchedTitle, 22, prose, func(o row) any { return b.watched(a, o) }},
		{"Scenarios", 10.5, count, func(o row) any { return len(o.Attempts) }},
		{toBeKnown, 14, prose, func(o row) any { return b.marksOfSignOff(a, o) }},
	}}, keys: []column[row]{
		{ledgerNo, 9, count, func(o row) any { return o.Leaf }},
		{versionTitle, 10, count, func(o row) any { return b.versionAt(a, o.SignedAt) }},
		{"Requirements version", 12, count, func(o row) any { return whereSaid(o.Requirements) }},
		{"Demonstrations (ids)", 37, id, func(o row) any { return strings.Join(o.Demonstrations, "\n") }},
		{"Scenario attempts (ids)", 37, id, func(o row) any { return strings.Join(o.Attempts, "\n") }},
		{"Sign-off id", 37, id, func(o row) any { return o.ID }},
	}})
}

// whereSaid is a version's number, nothing of before there were any.
func whereSaid(version int) any {
	if version == 0 {
		return nil
	}
	return version
}

// watched is the evidence of a sign-off: when, and who watched.
func (b *book) watched(a training.Annual, o training.SignOff) string {
	var watched []string
	for _, id := range o.Demonstrations {
		d := a.Evidence[id]
		watched = append(watched, fmt.Sprintf("%s, %s", d.StartedAt.Day(b.zone).Said(), asSigned(a, judged{Demonstration: d}, training.PartPreceptor, d.PreceptorID).Name))
	}
	return strings.Join(watched, "\n")
}

// judged is a demonstration with its result, nil while there is none.
type judged struct {
	training.Demonstration
	result *assess.Result
}

// once is a value that a demonstration has when it was judged.
func once(value func(judged) any) func(judged) any {
	return func(d judged) any {
		if d.result == nil {
			return nil
		}
		return value(d)
	}
}

// signed is a value of the learner's signature, or of the preceptor's.
func signed(learner bool, value func(training.Signature) any) func(judged) any {
	return func(d judged) any {
		for _, n := range d.Signatures {
			if learner == (n.Meaning == training.LearnerDid) {
				return value(n)
			}
		}
		return nil
	}
}

func (b *book) demonstrations(a training.Annual) error {
	type row = judged
	rows, err := judgedOf(a.Demonstrations)
	if err != nil {
		return err
	}
	signedAt := func(n training.Signature) any { return b.moment(n.SignedAt) }
	return write(b, table[row]{name: "Demonstrations", rows: rows, whose: []column[row]{
		{"Person", 20, text, func(d row) any { return asSigned(a, d, training.PartLearner, d.TraineeID).Name }},
		{"Date", 12, date, func(d row) any { return day(d.StartedAt.Day(b.zone)) }},
	}, pages: [][]column[row]{{
		{"Result", 16, strong, resultWords},
		{"Score", 8, percent, once(func(d row) any { return d.result.Marks.Score })},
		{"Breaches", 10, count, once(func(d row) any { return len(assess.SaidOnce(d.result.Breaches())) })},
		{"Prompted", 10.5, text, func(d row) any { return yes(d.Prompted) }},
		{"Preceptor", 20, text, func(d row) any { return asSigned(a, d, training.PartPreceptor, d.PreceptorID).Name }},
		{"Competency", 21, text, func(d row) any { return a.Shown(d.Demonstration) }},
		{"Product", 21, text, func(d row) any { return a.Products[d.ID] }},
		{"Staff no.", 9, text, func(d row) any { return asSigned(a, d, training.PartLearner, d.TraineeID).StaffNo }},
	}, {
		{"Learner signed", 18, moment, signed(true, signedAt)},
		{"Preceptor signed", 18, moment, signed(false, signedAt)},
		{"What the preceptor signed", 27, prose, signed(false, func(n training.Signature) any { return n.Meaning.Words() })},
		{"Comment", 30, prose, func(d row) any { return d.Comment }},
		{toBeKnown, 22, prose, func(d row) any { return b.marksOf(a, d.Demonstration) }},
	}}, keys: []column[row]{
		{"Ledger nos.", 9, id, ledgerNumbers},
		{versionTitle, 10, count, func(d row) any { return b.versionAt(a, d.StartedAt) }},
		{"Rules version", 9, count, once(func(d row) any { return d.RulesVersion })},
		{"Procedure fingerprint", 17, id, func(d row) any { return short(d.ProcedureHash) }},
		{"Demonstration id", 37, id, func(d row) any { return d.ID }},
	}})
}

// changeTraining is what people had to do because procedures changed.
func (b *book) changeTraining(a training.Annual) error {
	type row = training.DutyState
	return write(b, table[row]{name: changesName, rows: dutiesThat(a, training.DutyState.FromVersion), whose: []column[row]{
		{"Person", 17, text, func(d row) any { return d.Name }},
	}, pages: [][]column[row]{{
		{"What", 21, prose, dutyWords},
		{"Due", 12, date, func(d row) any { return day(d.Due) }},
		{"How far", 13, strong, func(d row) any { return howFar(d, a.AsOf) }},
		{"Done on", 12, date, func(d row) any { return day(d.DoneAt.Day(b.zone)) }},
		{"Version", 8, count, func(d row) any { return d.Version }},
		{"Why", 19, prose, func(d row) any { return d.Why }},
		{"Given by", 13, text, func(d row) any { return d.AssignedBy }},
		{"Given on", 12, date, func(d row) any { return day(d.AssignedAt.Day(b.zone)) }},
		{"Staff no.", 8, text, func(d row) any { return d.StaffNo }},
		{"Taken back", 14, prose, takenBack},
		{dayChanged, 16, prose, b.otherDays},
	}}, keys: []column[row]{
		{ledgerNo, 9, count, func(d row) any { return endLeaf(d) }},
		{"Demonstration id", 37, id, func(d row) any { return d.Demonstration }},
		{"Duty id", 37, id, func(d row) any { return d.ID }},
	}})
}

func dutyWords(d training.DutyState) any {
	switch d.Kind {
	case training.ModuleDuty:
		return "Pass again: " + d.Title
	case training.DemonstrationDuty:
		return "New demonstration: " + d.Title
	}
	return "Read what changed and sign it"
}

func howFar(d training.DutyState, on training.Day) string {
	switch {
	case d.End.Ended == training.DutyTakenBack:
		return "Taken back"
	case !d.Open():
		return "Done"
	case d.Overdue(on):
		return "Overdue"
	}
	return "To do"
}

// otherDays tells the days that a duty got instead of others, and why.
func (b *book) otherDays(d training.DutyState) any {
	var told []string
	was := d.FirstDue
	for _, x := range d.Dates {
		told = append(told, fmt.Sprintf("%s instead of %s: %s (%s, %s)", x.Due.Said(), was.Said(), x.Why, x.ByName, x.At.Day(b.zone).Said()))
		was = x.Due
	}
	return strings.Join(told, "; ")
}

func takenBack(d training.DutyState) any {
	if d.End.Ended != training.DutyTakenBack {
		return ""
	}
	return d.End.Said + " (" + d.End.ByName + ")"
}

// endLeaf is the leaf of who read it, or took it back.
func endLeaf(d training.DutyState) any {
	if d.End.Ended == "" {
		return nil
	}
	return d.End.Leaf
}

// asSigned is somebody of a demonstration as the last signature on it names them.
func asSigned(a training.Annual, d judged, part, personID string) training.Named {
	leaf := int64(-1)
	if n := len(d.Signatures); n > 0 {
		leaf = d.Signatures[n-1].Leaf
	}
	return a.Signed.Of(leaf, part, a.People[personID])
}

// marks is what has to be known about a signed record.
func (b *book) marks(l training.LeafAbout) string {
	return strings.Join(l.Marks(func(t training.Instant) string { return t.Day(b.zone).Said() }), "\n")
}

// withdrawnWords stand at what counts for nothing any more.
const withdrawnWords = "Withdrawn: it counts for nothing."

// marksOfSignOff is what has to be known about a sign-off.
func (b *book) marksOfSignOff(a training.Annual, o training.SignOff) string {
	text := b.marks(a.Signed[o.Leaf])
	if o.End.At != "" {
		text = strings.TrimSpace(withdrawnWords + " " + b.endWords(o.End) + "\n" + text)
	}
	return text
}

// marksOf is what has to be known about a demonstration.
func (b *book) marksOf(a training.Annual, d training.Demonstration) string {
	var all []string
	if d.Stage == training.Withdrawn {
		all = append(all, withdrawnWords)
	}
	if d.Stage == training.Refused || len(d.Signatures) == 1 && d.Signatures[0].Meaning != training.LearnerDid {
		all = append(all, "The learner would not sign.")
	}
	for _, n := range d.Signatures {
		if n.Said != "" {
			all = append(all, "The learner: “"+n.Said+"”")
		}
		if text := b.marks(a.Signed[n.Leaf]); text != "" && !slices.Contains(all, text) {
			all = append(all, text)
		}
	}
	return strings.Join(all, "\n")
}

// judgedOf reads the results as they were judged.
func judgedOf(all []training.Demonstration) ([]judged, error) {
	rows := make([]judged, len(all))
	for i, d := range all {
		rows[i].Demonstration = d
		if d.State != training.Ended {
			continue
		}
		var err error
		if rows[i].result, err = assess.ParseResult(d.ResultJSON); err != nil {
			return nil, fmt.Errorf("demonstration %s: %w", d.ID, err)
		}
	}
	return rows, nil
}

func ledgerNumbers(d judged) any {
	var leaves []string
	for _, n := range d.Signatures {
		leaves = append(leaves, fmt.Sprint(n.Leaf))
	}
	return strings.Join(leaves, ", ")
}

// resultWords also says why there is no result.
func resultWords(d judged) any {
	switch {
	case d.result != nil:
		return d.Outcome.Words()
	case d.State == training.Recording:
		return "Still recording"
	}
	return "Not judged"
}

func (b *book) moment(at training.Instant) any {
	if at == "" {
		return nil
	}
	return at.Time().In(b.zone)
}

func day(d training.Day) any {
	if d == "" {
		return nil
	}
	return d.Time()
}

func yesOrNothing(b bool) any {
	if b {
		return yes(b)
	}
	return nil
}

func yes(b bool) string {
	if b {
		return "yes"
	}
	return "no"
}

// short is enough of a hash to compare by eye; the whole one is in the sheet of keys.
func short(hash string) string { return hash[:min(12, len(hash))] }
