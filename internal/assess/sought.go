package assess

import (
	"encoding/json"
	"fmt"
	"slices"

	"stillwet/internal/action"
)

// soughtCut is what finding the breaches of another's work takes, in per cent: of four
// that were there, all, with one wrong mark at the most.
const soughtCut = 80

// Search is what became of a search for the breaches in another's work: a result whose
// findings are those that were not seen, and advice.
type Search struct {
	Result
	Seen []Finding `json:"seen"`
}

// JSON is the stored form: a result's, and what was seen.
func (s *Search) JSON() ([]byte, error) {
	text, err := json.Marshal(s)
	if err != nil {
		return nil, fmt.Errorf("result of a search: %w", err)
	}
	return text, nil
}

// ParseSeen reads what was seen out of the stored form; the rest is a result.
func ParseSeen(text []byte) ([]Finding, error) {
	var s struct{ Seen []Finding }
	if err := json.Unmarshal(text, &s); err != nil {
		return nil, fmt.Errorf("result of a search: %w", err)
	}
	return s.Seen, nil
}

// Sought judges a search. A log was judged as a whole; of its rows (the acts, from 1)
// somebody picked those at which something is wrong. Each breach is a mark, and so is each
// pick of a row at which nothing is wrong, which is missed.
func Sought(log *action.Log, whole *Result, picks []int) *Search {
	r := &Search{Seen: []Finding{}, Result: Result{Log: whole.Log, Procedure: whole.Procedure, ProcedureHash: whole.ProcedureHash, RulesVersion: whole.RulesVersion,
		Findings: []Finding{}, NotAssessed: []Gap{}, Notes: []Note{}, Marks: Marks{Cut: soughtCut / 100.0, Lines: []MarkLine{}}}}
	free := map[int]bool{} // rows at which a mark is not wrong
	for _, same := range SaidOnce(whole.Breaches()) {
		rows := RowsOf(log, same)
		line := MarkLine{ID: soughtID(&same[0]), Title: same[0].Message, Worth: 1, Critical: slices.ContainsFunc(same, func(f Finding) bool { return f.Critical }), Status: Missed}
		if slices.ContainsFunc(picks, func(n int) bool { return slices.Contains(rows, n) }) {
			line.Status = Met
			r.Seen = append(r.Seen, same...)
		} else {
			r.Findings = append(r.Findings, same...)
		}
		r.Marks.line(line)
		for _, n := range rows {
			free[n] = true
		}
	}
	for _, f := range whole.Findings {
		if f.Advice() {
			r.Findings = append(r.Findings, f)
			for _, n := range RowsOf(log, []Finding{f}) {
				free[n] = true
			}
		}
	}
	for _, n := range picks {
		if !free[n] {
			r.Marks.line(MarkLine{ID: fmt.Sprintf("%s%d", wrongRow, n), Title: fmt.Sprintf("Row %d was marked, and nothing is wrong there", n), Worth: 1, Status: Missed})
		}
	}
	r.Marks.sought()
	return r
}

func (m *Marks) line(l MarkLine) {
	m.Lines = append(m.Lines, l)
	m.add(l.Status, l.Worth)
}

// sought puts the marks of a search into one word. Whole numbers decide.
func (m *Marks) sought() {
	m.Result = NotPass
	if m.Met > 0 {
		m.Score = float64(m.Met) / float64(m.Met+m.Missed)
	}
	missed := slices.ContainsFunc(m.Lines, func(l MarkLine) bool { return l.Critical && l.Status == Missed })
	if !missed && m.Met > 0 && m.Met*100 >= soughtCut*(m.Met+m.Missed) {
		m.Result = Pass
	}
	m.Pass = m.Result == Pass
}

// wrongRow begins the id of a mark of a row at which nothing is wrong.
const wrongRow = "row-"

// WrongRows are the rows that were marked with nothing wrong at them.
func (m *Marks) WrongRows() (rows []int) {
	for _, l := range m.Lines {
		var n int
		if _, err := fmt.Sscanf(l.ID, wrongRow+"%d", &n); err == nil {
			rows = append(rows, n)
		}
	}
	return rows
}

// soughtID names a breach by what it is, so that a later judgement can be compared.
func soughtID(f *Finding) string {
	return fmt.Sprintf("%s %s%s %d", f.Rule, f.Surface, f.Worn, f.Act)
}

// RowsOf are the rows at which findings that say the same are to be seen: every act at
// which one was made, and the moment at which its surface had dried too soon, which the
// engine tells only when the station is called ready.
func RowsOf(log *action.Log, same []Finding) (rows []int) {
	add := func(n int) {
		if n > 0 && !slices.Contains(rows, n) {
			rows = append(rows, n)
		}
	}
	for _, f := range same {
		add(f.Act)
		for _, n := range f.Acts {
			add(n)
		}
		if f.Act > 0 && log.Acts[f.Act-1].Verb == action.DeclareReady {
			add(driedBefore(log, &f))
		}
	}
	slices.Sort(rows)
	return rows
}

// driedBefore is the last time that the surface of a finding dried, 0 where it was not
// wiped before or was wiped again since.
func driedBefore(log *action.Log, f *Finding) int {
	for i := f.Act - 1; i > 0; i-- {
		a := log.Acts[i-1]
		switch {
		case a.Object != f.Surface || f.Surface == "":
		case a.Verb == action.Dry:
			return i
		case a.Verb == action.Wipe:
			return 0
		}
	}
	return 0
}
