package training

import (
	"context"
	"slices"
)

// MostSurveyed is how many people's records are put together at once.
const MostSurveyed = 20

// Surveyed is what a surveyor is shown of some named people, as of one moment.
type Surveyed struct {
	At      Instant
	Ledger  LedgerHead
	Records []SurveyRecord // as they were asked for
}

// SurveyRecord is one person's whole record but for practice, each list newest first.
type SurveyRecord struct {
	Person         Person
	Standings      []Standing
	SignOffs       []SignOff
	Demonstrations []WholeDemonstration // return demonstrations that were ended, the withdrawn ones too
	Entitlements   []Entitlement
	Plans          []Plan
	Corrected      []Corrected
	Earlier        []EarlierLine // sign-offs from paper
	Items          ItemsOf
	Names          map[string]string // person id to name, of everyone named in it
	Signed         SignedAs
	Signers        map[int64]SignerThen // by ledger number, but for what the learner signed
}

// SignerThen is how somebody who signed stood on the day of their signature.
type SignerThen struct {
	Standing    *Standing    // in the competency that they signed for; nil when it is not asked of them
	Entitlement *Entitlement // for it, of that day; nil when there was none
}

// Survey is the records of some named people for a surveyor. Educators and managers only: it
// is what the workbook holds, of single people.
func (s *Service) Survey(ctx context.Context, actor Actor, ids []string) (all Surveyed, err error) {
	if err := need(actor, Educator, Manager); err != nil {
		return all, err
	}
	if len(ids) == 0 {
		return all, refuse(ErrInvalid, "Nobody was chosen. Tick people on the page People first.")
	}
	if len(ids) > MostSurveyed {
		return all, refuse(ErrInvalid, "%d people were chosen; records of %d people at most are put together at once.", len(ids), MostSurveyed)
	}
	all.At = s.Now()
	err = s.Records.Snapshot(ctx, func(r Reader) (err error) {
		if all.Ledger, err = r.Ledger(ctx); err != nil {
			return err
		}
		corrected, err := r.Corrected(ctx, "", all.At.Day(s.Zone()).End(s.Zone()))
		if err != nil {
			return err
		}
		slices.Reverse(corrected)
		then := signersThen{s: s, r: r, stand: map[string]*Standing{}}
		for _, id := range ids {
			one, err := s.survey(ctx, r, id, corrected, &then)
			if err != nil {
				return err
			}
			all.Records = append(all.Records, one)
		}
		return nil
	})
	return all, err
}

func (s *Service) survey(ctx context.Context, r Reader, id string, corrected []Corrected, then *signersThen) (one SurveyRecord, err error) {
	if one.Person, err = r.Person(ctx, id); err != nil {
		return one, said(err, ErrNotFound, "There is no such person.")
	}
	k, err := s.known(ctx, r, s.Today(), id)
	if err != nil {
		return one, err
	}
	one.Standings = k.standings(one.Person)
	if one.SignOffs, err = r.SignOffs(ctx, SignOffQuery{PersonID: id}); err != nil {
		return one, err
	}
	if one.Entitlements, err = r.Entitlements(ctx, id); err != nil {
		return one, err
	}
	if one.Plans, err = r.Plans(ctx, PlanQuery{PersonID: id}); err != nil {
		return one, err
	}
	if one.Earlier, err = r.Earlier(ctx, id); err != nil {
		return one, err
	}
	if one.Items, err = s.itemsOf(ctx, r, one.Person); err != nil {
		return one, err
	}
	if one.Demonstrations, err = s.surveyedWork(ctx, r, id); err != nil {
		return one, err
	}
	one.Corrected = slices.DeleteFunc(slices.Clone(corrected), func(c Corrected) bool { return c.PersonID != id })
	plain := make([]Demonstration, len(one.Demonstrations))
	for i, d := range one.Demonstrations {
		plain[i] = d.Demonstration
	}
	if one.Signed, err = signedAs(ctx, r, one.SignOffs, plain); err != nil {
		return one, err
	}
	if one.Names, err = names(ctx, r, idsIn(PersonRecord{Person: one.Person, SignOffs: one.SignOffs, Demonstrations: plain, Entitlements: one.Entitlements})); err != nil {
		return one, err
	}
	return one, then.fill(ctx, &one)
}

// surveyedWork is a person's return demonstrations that were ended, with their results and
// what became of them.
func (s *Service) surveyedWork(ctx context.Context, r Reader, id string) ([]WholeDemonstration, error) {
	listed, err := r.Demonstrations(ctx, DemonstrationQuery{TraineeID: id, Purpose: ForReturn})
	if err != nil {
		return nil, err
	}
	listed = slices.DeleteFunc(listed, func(d Demonstration) bool { return d.State != Ended })
	var ids []string
	for _, d := range listed {
		ids = append(ids, d.ID)
	}
	by, err := wholeDemonstrations(ctx, r, ids)
	if err != nil {
		return nil, err
	}
	var all []WholeDemonstration
	for _, d := range listed {
		whole := by[d.ID]
		whole.Signatures = d.Signatures
		all = append(all, whole)
	}
	return all, nil
}

// signersThen finds how signers stood, once for each of their days and competencies.
type signersThen struct {
	s     *Service
	r     Reader
	stand map[string]*Standing
}

func (t *signersThen) fill(ctx context.Context, one *SurveyRecord) (err error) {
	one.Signers = map[int64]SignerThen{}
	for _, o := range one.SignOffs {
		if one.Signers[o.Leaf], err = t.of(ctx, o.SignerID, o.Competency, o.SignedAt, func(e Entitlement) bool { return e.SignOff }); err != nil {
			return err
		}
	}
	for _, d := range one.Demonstrations {
		for _, n := range d.Signatures {
			if n.Meaning == LearnerDid {
				continue
			}
			if one.Signers[n.Leaf], err = t.of(ctx, n.SignerID, d.Competency, n.SignedAt, func(e Entitlement) bool { return e.Watch }); err != nil {
				return err
			}
		}
	}
	return nil
}

// of is how a signer stood at the end of a day, as the records of that day had it, and by
// what they might sign at a moment of it.
func (t *signersThen) of(ctx context.Context, id, competency string, at Instant, may func(Entitlement) bool) (then SignerThen, err error) {
	day := at.Day(t.s.Zone())
	key := id + "\n" + competency + "\n" + string(day)
	if _, ok := t.stand[key]; !ok {
		if t.stand[key], err = t.stood(ctx, id, competency, day); err != nil {
			return then, err
		}
	}
	then.Standing = t.stand[key]
	all, err := t.r.Entitlements(ctx, id)
	for i, e := range all {
		if e.Competency == competency && e.From <= day && day <= e.Until && may(e) && (e.End.At == "" || e.End.At > at) {
			then.Entitlement = &all[i]
			break
		}
	}
	return then, err
}

func (t *signersThen) stood(ctx context.Context, id, competency string, day Day) (*Standing, error) {
	p, err := t.r.Person(ctx, id)
	if err != nil {
		return nil, err
	}
	k, err := t.s.known(ctx, t.r, day, id)
	if err != nil {
		return nil, err
	}
	for _, st := range k.standings(p) {
		if st.Competency.ID == competency {
			return &st, nil
		}
	}
	return nil, nil
}
