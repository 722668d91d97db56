package demo

import (
	"strconv"
	"time"

	"stillwet/internal/simulate"
)

// searches looks for what is wrong in the first work that there is to look at, as guided
// practice; nothing where the library has none. One breach is not seen, and one row is
// marked at which nothing is wrong.
func searches(number string) func(*filler) {
	return func(f *filler) {
		for _, s := range f.Library.Scenarios() {
			if s.Kind == simulate.FindWrong && s.Procedure == f.procedure.ID {
				f.search(number, s)
				return
			}
		}
	}
}

func (f *filler) search(number string, s *simulate.Scenario) {
	who := f.as(number)
	d, err := f.service.OpenDraft(f.ctx, who, s.ID, true)
	if !f.ok(err) {
		return
	}
	log, _, err := f.service.Shown(d)
	if !f.ok(err) {
		return
	}
	every := d
	for i := range log.Acts {
		every.Steps = append(every.Steps, strconv.Itoa(i+1))
	}
	told, err := f.service.Told(every) // asked, and not saved
	if !f.ok(err) {
		return
	}
	var picks []string
	last, wrong := 0, false
	for _, t := range told {
		switch {
		case len(t.Findings) > 0:
			last = len(picks)
		case wrong || t.Row < 3:
			continue
		default:
			wrong = true
		}
		picks = append(picks, strconv.Itoa(t.Row))
	}
	f.pass(7 * time.Minute)
	_, err = f.service.FinishFind(f.ctx, who, f.key(), d.ID, d.Revision, picks[:last])
	f.ok(err)
}
