package training

import (
	"context"
	"encoding/json"
	"errors"
	"slices"
	"strings"

	"stillwet/internal/procedure"
	"stillwet/internal/roster"
)

// PreviewEarlier compares a list with the earlier sign-offs that are here. Educators only;
// nothing is written.
func (s *Service) PreviewEarlier(ctx context.Context, actor Actor, f *roster.List) (plan ListPlan, err error) {
	if err := need(actor, Educator); err != nil {
		return plan, err
	}
	return s.OwnersEarlier(ctx, f)
}

// OwnersEarlier is the same for whoever owns the data folder.
func (s *Service) OwnersEarlier(ctx context.Context, f *roster.List) (plan ListPlan, err error) {
	err = s.Records.Snapshot(ctx, func(r Reader) error {
		plan, _, err = s.planEarlier(ctx, r, f)
		return err
	})
	return plan, err
}

// BringEarlier keeps all that a list says as a batch that waits to be read and confirmed, or
// nothing; the batch's id comes back, "" when all of it is here already. Educators only.
func (s *Service) BringEarlier(ctx context.Context, actor Actor, key string, f *roster.List, seen string) (id string, err error) {
	a, err := s.askOfEntry(actor, key, "bring earlier sign-offs", f.Lines, len(f.Faults), seen)
	if err != nil {
		return "", err
	}
	id, _, err = s.once(ctx, a, nil, func(u Unit) (string, error) {
		plan, lines, err := s.planEarlier(ctx, u, f)
		switch {
		case err != nil:
			return "", err
		case len(plan.Faults) > 0:
			return "", refuse(ErrInvalid, "There are %s in the list. Nothing was imported.", countOf(len(plan.Faults), "fault", "faults"))
		case plan.Seen != seen:
			return "", refuse(ErrConflict, "Something was entered or changed since this was shown. Look through it again; nothing was imported.")
		}
		return s.keepDraft(ctx, u, actor.Person, lines)
	})
	return id, err
}

// ImportEarlier is BringEarlier by whoever owns the data folder, who has seen nothing before.
func (s *Service) ImportEarlier(ctx context.Context, f *roster.List) (plan ListPlan, err error) {
	err = s.Records.Write(ctx, func(u Unit) error {
		var lines []EarlierLine
		if plan, lines, err = s.planEarlier(ctx, u, f); err != nil || len(plan.Faults) > 0 {
			return err
		}
		_, err = s.keepDraft(ctx, u, Person{}, lines)
		return err
	})
	return plan, err
}

func (s *Service) keepDraft(ctx context.Context, u Unit, by Person, lines []EarlierLine) (string, error) {
	if len(lines) == 0 {
		return "none", nil
	}
	d := EarlierDraft{ID: s.NewID(), At: s.Now(), ByName: by.Name, Lines: lines}
	return d.ID, u.AddEarlierDraft(ctx, d)
}

func (s *Service) planEarlier(ctx context.Context, r Reader, f *roster.List) (plan ListPlan, lines []EarlierLine, err error) {
	l, err := newLister(ctx, r, f)
	if err != nil {
		return plan, nil, err
	}
	kept, err := r.Requirements(ctx)
	if err != nil {
		return plan, nil, err
	}
	had, err := r.Earlier(ctx, "")
	if err != nil {
		return plan, nil, err
	}
	waiting, err := r.EarlierDrafts(ctx)
	if err != nil {
		return plan, nil, err
	}
	for _, d := range waiting {
		had = append(had, d.Lines...)
	}
	asked := s.asked(kept, s.Today())
	for _, line := range f.Lines {
		x, p, c, ok := s.earlierOfLine(l, asked, line)
		if !ok || l.again(line, strings.Join([]string{p.ID, c.ID, string(x.On)}, " ")) {
			continue
		}
		if i := slices.IndexFunc(had, x.sameAs); i >= 0 {
			if was := had[i]; was.End.At == "" && (was.SignedBy != x.SignedBy || was.Evidence != x.Evidence || was.Here != x.Here || was.Site != x.Site || x.Due != "" && was.Due != x.Due) {
				l.wrong(line, roster.On, "There is an earlier sign-off of this day for %s already, and it says something else. Correct that one on its page, or make the row as it is there.", p.Name)
			} else {
				plan.Same++ // also what was put right here since
			}
			continue
		}
		lines = append(lines, x)
		plan.New = append(plan.New, Listed{Row: line.Row, Person: p, On: x.On, Of: c.Title, Facts: x.Facts()})
	}
	plan.Faults = l.sorted()
	text, err := json.Marshal([]any{lines, plan.Same})
	plan.Seen = procedure.Digest(text)
	return plan, lines, err
}

// Facts are what a line says besides whose it is, of what and when.
func (l EarlierLine) Facts() []string {
	facts := factsOf("signed by", l.SignedBy, "paper:", l.Evidence, "due", l.Due.Said(), "from", l.Site)
	if !l.Here {
		facts = append(facts, "not shown here")
	}
	return facts
}

// yesNo reads a word; empty is neither.
var yesNo = map[string]bool{"yes": true, "y": true, "x": true, "true": true, "1": true, "no": false, "n": false, "false": false, "0": false}

// earlierOfLine makes an earlier sign-off of a line; what is wrong is noted.
func (s *Service) earlierOfLine(l *lister, asked []Competency, line roster.Line) (x EarlierLine, p Person, c Competency, ok bool) {
	if line.Bad {
		return x, p, c, false
	}
	p, whose := l.whose(line)
	says := line.Says[roster.Competency]
	i := slices.IndexFunc(asked, func(c Competency) bool { return strings.EqualFold(c.Title, says) || c.ID == says })
	switch {
	case says == "":
		l.wrong(line, roster.Competency, "The competency is missing. Write its title.")
	case i < 0:
		l.wrong(line, roster.Competency, "There is no such competency here. Write its title as it is here.")
	default:
		c, ok = asked[i], true
	}
	here, said := yesNo[strings.ToLower(line.Says[roster.ShownHere])]
	site := line.Says[roster.Site]
	switch {
	case line.Says[roster.ShownHere] == "" && site == "":
		here = true
	case !said:
		l.wrong(line, roster.ShownHere, "Say whether it was shown here: yes or no.")
		return x, p, c, false
	}
	x = EarlierLine{PersonID: p.ID, Competency: c.ID, On: Day(line.Says[roster.On]), SignedBy: line.Says[roster.SignedBy], Evidence: line.Says[roster.Evidence], Due: Day(line.Says[roster.Due]), Site: site, Here: here}
	field := roster.SignedBy
	switch {
	case x.On == "" || x.On > s.Today() || x.On < firstHired:
		field = roster.On
	case x.Due != "" && x.Due < x.On:
		field = roster.Due
	case x.SignedBy != "" && x.Evidence == "":
		field = roster.Evidence
	case x.SignedBy != "" && !here:
		field = roster.Site
	}
	return x, p, c, l.sentences(line, field, s.checkEarlier(&x)) && whose && ok
}

// DiscardEarlier sets a batch that waits aside; nothing of it counted. Educators only.
func (s *Service) DiscardEarlier(ctx context.Context, actor Actor, key, draftID string) error {
	a, err := s.askOfEntry(actor, key, "set earlier sign-offs aside", draftID)
	if err != nil {
		return err
	}
	_, _, err = s.once(ctx, a, nil, func(u Unit) (string, error) {
		if _, err := draftOf(ctx, u, draftID); err != nil {
			return "", err
		}
		return draftID, u.EndEarlierDraft(ctx, draftID)
	})
	return err
}

// EarlierWaiting are the batches that wait, with whose lines they hold. Educators only.
func (s *Service) EarlierWaiting(ctx context.Context, actor Actor) (all []EarlierDraft, err error) {
	if err := need(actor, Educator); err != nil {
		return nil, err
	}
	err = s.Records.Snapshot(ctx, func(r Reader) error {
		if all, err = r.EarlierDrafts(ctx); err != nil {
			return err
		}
		var ids []string
		for _, d := range all {
			for _, l := range d.Lines {
				ids = append(ids, l.PersonID)
			}
		}
		people, err := r.PeopleOf(ctx, ids)
		by := map[string]Person{}
		for _, p := range people {
			by[p.ID] = p
		}
		for _, d := range all {
			for i, l := range d.Lines {
				d.Lines[i].Name, d.Lines[i].StaffNo = by[l.PersonID].Name, by[l.PersonID].StaffNo
			}
		}
		return err
	})
	return all, err
}

// EarlierOf are a person's earlier sign-offs: one's own, or anyone's for preceptors,
// educators and managers.
func (s *Service) EarlierOf(ctx context.Context, actor Actor, personID string) ([]EarlierLine, error) {
	if err := need(actor, everybody...); err != nil {
		return nil, err
	}
	if personID == "" || !mayRead(actor, personID) {
		return nil, refuse(ErrNotFound, "There is no such person.")
	}
	return s.Records.Earlier(ctx, personID)
}

// EarlierSignOff is one of oneself, or of anyone for preceptors, educators and managers.
func (s *Service) EarlierSignOff(ctx context.Context, actor Actor, id string) (EarlierLine, error) {
	if err := need(actor, everybody...); err != nil {
		return EarlierLine{}, err
	}
	l, err := s.Records.EarlierLine(ctx, id)
	if err == nil && !mayRead(actor, l.PersonID) {
		err = ErrNotFound
	}
	return l, said(err, ErrNotFound, "There is no such earlier sign-off.")
}

// DueByInterval reports whether an earlier sign-off is due when the clinic's interval says, so
// that another day of it is due on another day.
func (s *Service) DueByInterval(ctx context.Context, actor Actor, l EarlierLine) (bool, error) {
	if err := need(actor, everybody...); err != nil {
		return false, err
	}
	kept, err := s.Records.Requirements(ctx)
	if err != nil {
		return false, err
	}
	c, err := s.askedFor(kept, l.Competency)
	if errors.Is(err, ErrNotFound) {
		return false, nil // nobody is signed off for it any more
	}
	return err == nil && l.Due == l.On.AddMonths(c.under(l.Requirements).IntervalMonths), err
}
