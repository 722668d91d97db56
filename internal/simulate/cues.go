package simulate

import (
	"errors"
	"fmt"
	"strings"

	"stillwet/internal/action"
	"stillwet/internal/procedure"
)

// Cues are how a model of a scenario is written down, so that a new surface or
// another label time needs no times by hand:
//
//	STEP                   the step, as soon as the hands are free
//	+30s                   so much time passes first
//	until-reached:SURFACE  the surface has been wet for its contact time first
//	until-dry:SURFACE      the surface has dried first
//
// All but STEP need a run. The name of a fact that varies stands in braces. Taps gives the taps that the cues ask for, and the
// moment at which the last one is finished.
func Taps(p *procedure.Procedure, s *Scenario, cues []string) (taps []Tap, end action.Millis, err error) {
	r, err := newRunner(p, s)
	if err != nil {
		return nil, 0, err
	}
	for i, cue := range cues {
		cue = Fill(cue, s.Facts)
		from, err := r.wait(cue)
		if err != nil {
			return nil, 0, fmt.Errorf("%d (%s): %w", i+1, cue, err)
		}
		if from >= 0 {
			r.busy = from
			if err := r.passUntil(from); err != nil {
				return nil, 0, err
			}
			continue
		}
		tap := Tap{Step: cue, At: r.busy}
		if !s.Clocked() {
			tap.At = 0
		}
		if err := r.tap(len(taps), tap); err != nil {
			return nil, 0, err
		}
		taps = append(taps, tap)
	}
	return taps, r.busy, nil
}

// wait is the moment up to which a cue waits, -1 for a step.
func (r *runner) wait(cue string) (action.Millis, error) {
	how, surface, hasSurface := strings.Cut(cue, ":")
	if !hasSurface && !strings.HasPrefix(cue, "+") {
		return -1, nil
	}
	if !r.s.Clocked() {
		return 0, errors.New("a scenario without a clock has nothing to wait for; its step for waiting stands for it")
	}
	if !hasSurface {
		d, err := action.ParseSeconds(cue[1:])
		return r.busy + d, err
	}
	i := r.p.SurfaceIndex(surface)
	if i < 0 {
		return 0, fmt.Errorf("unknown surface %q; nearest: %s", surface, action.Nearest(surface, r.p.Words[action.Surface]))
	}
	f, wet := r.wet[i]
	if c := &r.state.Surfaces[i].Contact; c.Alone && how == "until-reached" {
		return max(r.busy, c.Left+c.Need), nil
	}
	switch {
	case how == "until-dry" && wet:
		return f.dry, nil
	case how == "until-dry":
		return r.busy, nil
	case how != "until-reached":
		return 0, fmt.Errorf("unknown wait %q; known: until-reached, until-dry", how)
	case !wet:
		return 0, fmt.Errorf("%s is not wet, so its contact time cannot be waited for", surface)
	case f.dry < f.since+f.need:
		return 0, fmt.Errorf("%s dries at %s, before its contact time is over at %s: wipe it again first", surface, f.dry, f.since+f.need)
	}
	return max(r.busy, f.since+f.need), nil
}

// Play does what cues say: the log, and the taps that its lines came from.
func Play(p *procedure.Procedure, s *Scenario, cues []string) (played Played, taps []Tap, err error) {
	taps, end, err := Taps(p, s, cues)
	if err != nil {
		return Played{}, nil, err
	}
	if s.Clocked() {
		played, err = Run(p, s, taps, end)
		return played, taps, err
	}
	steps := make([]string, len(taps))
	for i, t := range taps {
		steps[i] = t.Step
	}
	played, err = Build(p, s, steps)
	return played, taps, err
}

// Model is the log that cues give, as the file of a model log: its cues as
// comments, then the log, good for whatever version of the procedure is in force.
func Model(p *procedure.Procedure, s *Scenario, cues []string) (string, error) {
	played, _, err := Play(p, s, cues)
	if err != nil {
		return "", err
	}
	played.Log.Hash = "-"
	return cueLines(cues) + action.Format(played.Log), nil
}

const cueHead = "# cues:"

// cueLines writes cues as comments that CuesOf reads.
func cueLines(cues []string) string {
	const width = 120
	var b strings.Builder
	line := cueHead
	for _, c := range cues {
		if len(line)+1+len(c) > width {
			b.WriteString(line + "\n")
			line = cueHead
		}
		line += " " + c
	}
	return b.String() + line + "\n"
}

// CuesOf are the cues that stand in a model log's comments.
func CuesOf(model string) (cues []string) {
	for line := range strings.Lines(model) {
		if rest, ok := strings.CutPrefix(strings.TrimSpace(line), cueHead); ok {
			cues = append(cues, strings.Fields(rest)...)
		}
	}
	return cues
}
