package assess

import (
	"slices"

	"stillwet/internal/procedure"
)

// marks fills the mark sheet: a mark is missed when its rule found a breach (on
// its surface, when it names one), not assessed when the log could not show it,
// not applicable when there was no occasion, and met otherwise.
func (c *collector) marks() Marks {
	sheet := &c.p.MarkSheet
	m := Marks{Cut: float64(sheet.CutPercent) / 100, Lines: []MarkLine{}}
	criticalMissed, criticalUnknown := false, false
	for _, mark := range sheet.Marks {
		status := c.status(mark)
		m.Lines = append(m.Lines, MarkLine{mark.ID, mark.Title, mark.Worth, mark.Critical, status})
		switch status {
		case Met:
			m.Met += mark.Worth
		case Missed:
			m.Missed += mark.Worth
			criticalMissed = criticalMissed || mark.Critical
		case NotAssessed:
			m.NotAssessed += mark.Worth
			criticalUnknown = criticalUnknown || mark.Critical
		case NotApplicable:
			m.NotApplicable += mark.Worth
		}
	}
	if total := m.Met + m.Missed; total > 0 {
		m.Score = float64(m.Met) / float64(total)
	}
	// Whole numbers decide, so that a score on the cut is never lost to rounding.
	reached := m.Met > 0 && m.Met*100 >= sheet.CutPercent*(m.Met+m.Missed)
	switch {
	case criticalMissed:
		m.Result = NotPass
	case criticalUnknown:
		m.Result = Incomplete
	case reached:
		m.Result = Pass
	default:
		m.Result = NotPass
	}
	m.Pass = m.Result == Pass
	return m
}

func (c *collector) status(mark procedure.Mark) MarkStatus {
	// A finding on no surface says nothing of a single one; a rule that was not
	// assessed at all was not assessed on any.
	covers := func(rule, surface string) bool {
		return rule == mark.Rule && (mark.Surface == "" || surface == mark.Surface)
	}
	i := slices.IndexFunc(c.e.rules, func(r *Rule) bool { return r.Name == mark.Rule })
	surface := None
	if mark.Surface != "" {
		surface = c.p.SurfaceIndex(mark.Surface)
	}
	switch {
	case slices.ContainsFunc(c.result.Findings, func(f Finding) bool { return covers(f.Rule, f.Surface) }):
		return Missed
	case slices.ContainsFunc(c.result.NotAssessed, func(g Gap) bool { return covers(g.Rule, g.Surface) || covers(g.Rule, mark.Surface) && g.Surface == "" }):
		return NotAssessed
	case i >= 0 && c.occasions[i]&bit(surface) == bit(surface):
		return Met
	}
	return NotApplicable
}
