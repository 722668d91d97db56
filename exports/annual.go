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
	"strings"
	"time"

	"github.com/xuri/excelize/v2"

	"stillwet/internal/assess"
	"stillwet/internal/training"
)

// Caution stands on every result that leaves the program.
const Caution = "Training and record aid. Your clinic's policy, the product label, the machine's manual and local law come first."

// DemoNotice stands on every sheet of a demo clinic's workbook.
const DemoNotice = "Demo clinic: everything in this workbook is invented."

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
	for _, write := range []func(training.Annual) error{b.readMe, b.status, b.signOffs, b.demonstrations} {
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
	s := sheet{name: "Status", offPage: 1, columns: []column{
		{"Person", 22, text}, {"Staff no.", 10, text}, {"Role", 10, text}, {"Competency", 26, text}, {"Standing", 14, strong},
		{"Last sign-off", 12, date}, {"Due", 12, date}, {"Signed off by", 22, text}, {"Clean demonstrations", 15, count},
		{"Needed for next", 11, count}, {"Scenarios passed", 10, count}, {"Scenarios in all", 9, count}, {"Person id", 29, id},
	}}
	for _, st := range a.Standings {
		row := []any{st.Person.Name, st.Person.StaffNo, st.Person.Role.Title(st.LastSignOff != nil), a.Titles[st.Competency.ID], string(st.Word), nil, nil, nil,
			len(st.Clean), st.Needed, len(st.PassedModules), len(st.PassedModules) + len(st.MissingModules), st.Person.ID}
		if o := st.LastSignOff; o != nil {
			row[5], row[6], row[7] = day(o.On), day(st.Due), o.SignerName
		}
		s.rows = append(s.rows, row)
	}
	return b.write(s)
}

func (b *book) signOffs(a training.Annual) error {
	s := sheet{name: "Sign-offs", offPage: 3, columns: []column{
		{"Signed on", 12, date}, {"Person", 20, text}, {"Staff no.", 10, text}, {"Competency", 22, text}, {"Due", 12, date},
		{"Signed off by", 20, text}, {"Signed at", 16, moment}, {"What was signed", 34, prose}, {"Demonstrations watched", 30, prose},
		{"Scenarios", 10, count}, {"Ledger no.", 8, count}, {"Demonstrations (ids)", 29, id}, {"Scenario attempts (ids)", 29, id}, {"Sign-off id", 29, id},
	}}
	for _, o := range a.SignOffs {
		p := a.People[o.PersonID]
		var watched []string
		for _, id := range o.Demonstrations {
			d := a.Evidence[id]
			watched = append(watched, fmt.Sprintf("%s, %s", d.StartedAt.Day(b.zone), a.People[d.PreceptorID].Name))
		}
		s.rows = append(s.rows, []any{day(o.On), p.Name, p.StaffNo, a.Titles[o.Competency], day(o.Due), o.SignerName,
			b.moment(o.SignedAt), training.SignedOff.Words(), strings.Join(watched, "\n"), len(o.Attempts), o.Leaf,
			strings.Join(o.Demonstrations, "\n"), strings.Join(o.Attempts, "\n"), o.ID})
	}
	return b.write(s)
}

func (b *book) demonstrations(a training.Annual) error {
	s := sheet{name: "Demonstrations", offPage: 3, columns: []column{
		{"Date", 12, date}, {"Person", 18, text}, {"Staff no.", 10, text}, {"Preceptor", 18, text}, {"Competency", 20, text},
		{"Product", 18, text}, {"Result", 15, strong}, {"Score", 7, percent}, {"Findings", 9, count}, {"Prompted", 10, text},
		{"Learner signed", 16, moment}, {"Preceptor signed", 16, moment}, {"What the preceptor signed", 26, prose}, {"Comment", 26, prose},
		{"Ledger nos.", 8, id}, {"Rules version", 8, count}, {"Procedure fingerprint", 17, id}, {"Demonstration id", 29, id},
	}}
	for i := range a.Demonstrations {
		row, err := b.demonstration(a, &a.Demonstrations[i])
		if err != nil {
			return err
		}
		s.rows = append(s.rows, row)
	}
	return b.write(s)
}

func (b *book) demonstration(a training.Annual, d *training.Demonstration) ([]any, error) {
	p := a.People[d.TraineeID]
	row := []any{day(d.StartedAt.Day(b.zone)), p.Name, p.StaffNo, a.People[d.PreceptorID].Name, a.Titles[d.Competency], a.Titles[d.Product],
		stateWords(d.State), nil, nil, yes(d.Prompted), nil, nil, nil, d.Comment, nil, nil, short(d.ProcedureHash), d.ID}
	if d.State == training.Ended {
		result, err := assess.ParseResult(d.ResultJSON)
		if err != nil {
			return nil, fmt.Errorf("demonstration %s: %w", d.ID, err)
		}
		row[6], row[7], row[8], row[15] = d.Outcome.Words(), result.Marks.Score, len(result.Findings), d.RulesVersion
	}
	var leaves []string
	for _, n := range d.Signatures {
		leaves = append(leaves, fmt.Sprint(n.Leaf))
		if n.Meaning == training.LearnerDid {
			row[10] = b.moment(n.SignedAt)
			continue
		}
		row[11], row[12] = b.moment(n.SignedAt), n.Meaning.Words()
	}
	row[14] = strings.Join(leaves, ", ")
	return row, nil
}

// stateWords stands in the result's place while there is no result.
func stateWords(s training.DemonstrationState) string {
	if s == training.Recording {
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

func yes(b bool) string {
	if b {
		return "yes"
	}
	return "no"
}

// short is enough of a hash to compare by eye; the whole one is on Read me.
func short(hash string) string { return hash[:min(12, len(hash))] }
