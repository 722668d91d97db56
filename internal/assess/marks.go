package assess

import (
	"slices"

	"stillwet/internal/procedure"
	"stillwet/internal/station"
)

// marks fills the mark sheet: a mark is missed when its rule found a breach (on
// its surface, when it names one), not assessed when the log could not show it,
// not applicable when there was no occasion, and met otherwise.
func (c *collector) marks(end *station.State) Marks {
	sheet := &c.p.MarkSheet
	m := Marks{Cut: float64(sheet.CutPercent) / 100, Lines: make([]MarkLine, 0, len(sheet.Marks))}
	for i := range sheet.Marks {
		mark := &sheet.Marks[i]
		status := c.status(i, mark, end)
		m.Lines = append(m.Lines, MarkLine{mark.ID, mark.Title, mark.Worth, mark.Critical, status})
		m.add(status, mark.Worth)
	}
	if total := m.Met + m.Missed; total > 0 {
		m.Score = float64(m.Met) / float64(total)
	}
	m.Result = c.outcome(&m, end)
	m.Pass = m.Result == Pass
	return m
}

func (m *Marks) add(status MarkStatus, worth int) {
	switch status {
	case Met:
		m.Met += worth
	case Missed:
		m.Missed += worth
	case NotAssessed:
		m.NotAssessed += worth
	case NotApplicable:
		m.NotApplicable += worth
	}
}

// outcome puts the marks into one word. Work that was stopped is incomplete and
// never failed for what is missing; a critical breach fails it all the same.
func (c *collector) outcome(m *Marks, end *station.State) Outcome {
	critical := func(status MarkStatus) bool {
		for i := range m.Lines {
			if m.Lines[i].Critical && m.Lines[i].Status == status {
				return true
			}
		}
		return false
	}
	// Whole numbers decide, so that a score on the cut is never lost to rounding.
	reached := m.Met > 0 && m.Met*100 >= c.p.MarkSheet.CutPercent*(m.Met+m.Missed)
	switch {
	case critical(Missed), c.anyFinding(func(f *Finding) bool { return f.Critical }):
		return NotPass
	case end.Stopped, critical(NotAssessed), slices.ContainsFunc(c.result.NotAssessed, func(g Gap) bool { return g.Critical }):
		return Incomplete
	case reached:
		return Pass
	}
	return NotPass
}

func (c *collector) status(i int, mark *procedure.Mark, end *station.State) MarkStatus {
	if mark.Watcher {
		return watched(i, end)
	}
	// A finding on no surface says nothing of a single one; a rule that was not
	// assessed at all was not assessed on any.
	covers := func(rule, surface, worn string) bool {
		return rule == mark.Rule && (mark.Surface == "" || surface == mark.Surface) && (mark.Worn == "" || worn == mark.Worn)
	}
	rule, ok := c.e.index[mark.Rule]
	if !ok {
		return NotApplicable // of a rule that is no more
	}
	target := None
	if mark.Surface != "" || mark.Worn != "" {
		target = targetOf(c.p.SurfaceIndex(mark.Surface), mark.Worn)
	}
	has := func(bits []uint64) bool { return bits[rule]&bit(target) == bit(target) }
	switch {
	case has(c.misses), c.broken[rule] && c.anyFinding(func(f *Finding) bool {
		return !f.Advice() && (covers(f.Rule, f.Surface, f.Worn) || f.Rule == mark.Rule && slices.Contains(f.Surfaces, mark.Surface))
	}):
		return Missed
	case c.open[rule] && slices.ContainsFunc(c.result.NotAssessed, func(g Gap) bool {
		return !g.Unasked && (covers(g.Rule, g.Surface, g.Worn) || g.Rule == mark.Rule && g.Surface == "" && g.Worn == "")
	}):
		return NotAssessed
	case has(c.occasions):
		return Met
	}
	return NotApplicable
}

// anyFinding asks the findings in place, as anyMark does.
func (c *collector) anyFinding(is func(*Finding) bool) bool {
	for i := range c.result.Findings {
		if is(&c.result.Findings[i]) {
			return true
		}
	}
	return false
}

// watched is what the watcher said of a mark. Where nobody watches there is none.
func watched(mark int, end *station.State) MarkStatus {
	switch {
	case mark < 64 && end.Marks[0]&(1<<mark) != 0:
		return Met
	case mark < 64 && end.Marks[1]&(1<<mark) != 0:
		return Missed
	case end.Watched:
		return NotAssessed
	}
	return NotApplicable
}

// Open are the gaps that would keep a result from being complete if the log ended
// here: those of critical marks.
func (r *Result) Open(p *procedure.Procedure) (open []Gap) {
	for _, g := range r.NotAssessed {
		if g.Critical || !g.Unasked && slices.ContainsFunc(p.MarkSheet.Marks, func(m procedure.Mark) bool {
			return m.Critical && m.Rule == g.Rule && (m.Surface == "" || g.Surface == "" || m.Surface == g.Surface)
		}) {
			open = append(open, g)
		}
	}
	return open
}
