package training

import (
	"context"
	"fmt"
	"slices"
	"time"

	"stillwet/internal/assess"
	"stillwet/internal/procedure"
)

// Annual is what the annual workbook shows of a calendar year: standing as of
// its last day (today in a year that is not over). Educators and managers only.
func (s *Service) Annual(ctx context.Context, actor Actor, year int) (Annual, error) {
	if err := need(actor, Educator, Manager); err != nil {
		return Annual{}, err
	}
	return s.AnnualFor(ctx, year)
}

// AnnualFor is Annual for a command run beside the data file, where reading the
// file is the right to it.
func (s *Service) AnnualFor(ctx context.Context, year int) (Annual, error) {
	return s.AnnualOn(ctx, year, s.Today())
}

// AnnualOn is AnnualFor with the standings of an earlier day, to be compared with a
// workbook that was made then.
func (s *Service) AnnualOn(ctx context.Context, year int, day Day) (Annual, error) {
	now := s.Now()
	if this := now.Day(s.Zone()).Time().Year(); year < 2000 || year > this {
		return Annual{}, refuse(ErrInvalid, "There is no workbook of %d; choose a year from 2000 to %d.", year, this)
	}
	a := Annual{Clinic: s.Clinic, Year: year, From: Day(fmt.Sprintf("%04d-01-01", year)), To: Day(fmt.Sprintf("%04d-12-31", year)),
		Zone: s.Zone().String(), MadeAt: now, Demo: s.Demo, People: map[string]Person{}, Titles: map[string]string{}, Products: map[string]string{}, Stations: map[string]string{}, Evidence: map[string]Demonstration{}}
	a.AsOf = min(a.To, day)
	s.titles(&a)
	err := s.Records.Snapshot(ctx, func(r Reader) error {
		var err error
		if a.Ledger, err = r.Ledger(ctx); err != nil {
			return fmt.Errorf("the ledger's head: %w; run stillwet verify", err)
		}
		if a.Versions, err = s.versionsUpTo(ctx, r, a.To); err != nil {
			return err
		}
		if a.Requirements, err = s.requirementsUpTo(ctx, r, a.To); err != nil {
			return err
		}
		return s.fillAnnual(ctx, r, &a)
	})
	return a, err
}

// EverCalled is by what names and numbers the ledger has people, by their ids.
func (s *Service) EverCalled(ctx context.Context) (map[string][]Named, error) {
	all, err := s.Records.NamesEver(ctx)
	of := map[string][]Named{}
	for _, n := range all {
		of[n.PersonID] = append(of[n.PersonID], n)
	}
	return of, err
}

// versionsUpTo are the versions of the set that there were on a day.
func (s *Service) versionsUpTo(ctx context.Context, r SetReader, day Day) ([]SetVersion, error) {
	all, err := r.SetVersions(ctx)
	return slices.DeleteFunc(all, func(v SetVersion) bool { return v.Made().At.Day(s.Zone()) > day }), err
}

// requirementsUpTo are the versions of requirements that there were on a day, by competency.
func (s *Service) requirementsUpTo(ctx context.Context, r Reader, day Day) ([]Requirements, error) {
	all, err := r.Requirements(ctx)
	return slices.DeleteFunc(all, func(v Requirements) bool { return v.At.Day(s.Zone()) > day }), err
}

// VersionAt is the number of the version of the set that was in force at a moment; 0 where
// the set lies in no data file.
func (a *Annual) VersionAt(at Instant, zone *time.Location) int {
	return SetInForceAt(a.Versions, at, zone).Number
}

// titles names the procedures in force and the competencies.
func (s *Service) titles(a *Annual) {
	for _, c := range s.Library.Competencies() {
		a.Titles[c.ID] = c.Title
		p, ok := s.Library.Procedure(c.Procedure)
		if !ok {
			continue
		}
		if in := (InForce{p.Definition.Title, p.Version, p.Hash}); !slices.Contains(a.Procedures, in) {
			a.Procedures = append(a.Procedures, in)
		}
	}
	a.RulesVersion = assess.RulesVersion
}

func (s *Service) fillAnnual(ctx context.Context, r Reader, a *Annual) error {
	people, err := r.People(ctx)
	if err != nil {
		return err
	}
	k, err := s.known(ctx, r, a.AsOf, "")
	if err != nil {
		return err
	}
	for _, p := range people {
		a.People[p.ID] = p
		if p.EmployedIn(a.From, a.AsOf) {
			a.Standings = append(a.Standings, k.standings(p)...)
		}
	}
	if a.SignOffs, err = r.SignOffs(ctx, SignOffQuery{From: a.From, To: a.To}); err != nil {
		return err
	}
	year := DemonstrationQuery{Purpose: ForReturn, From: a.From.AddDays(-1).End(s.Zone()), Before: a.To.End(s.Zone()), Results: true}
	if a.Demonstrations, err = r.Demonstrations(ctx, year); err != nil {
		return err
	}
	if a.Observed, err = s.observedFrom(ctx, r, a.From, a.AsOf); err != nil {
		return err
	}
	if err := s.fillCorrected(ctx, r, a); err != nil {
		return err
	}
	if a.Earlier, err = r.Earlier(ctx, ""); err != nil {
		return err
	}
	a.Earlier = slices.DeleteFunc(a.Earlier, func(l EarlierLine) bool { return l.Batch.At >= a.AsOf.End(s.Zone()) })
	if a.Items, err = s.itemRows(ctx, r, people, a); err != nil {
		return err
	}
	if err := s.productTitles(ctx, r, a); err != nil {
		return err
	}
	if a.Duties, err = s.dutiesIn(ctx, r, a.From, a.AsOf); err != nil {
		return err
	}
	cited := []string{}
	for _, o := range a.SignOffs {
		cited = append(cited, o.Demonstrations...)
	}
	evidence, err := r.Demonstrations(ctx, DemonstrationQuery{IDs: cited})
	if err != nil {
		return err
	}
	for _, d := range evidence {
		a.Evidence[d.ID] = d
	}
	a.Signed, err = signedAs(ctx, r, a.SignOffs, append(slices.Clone(a.Demonstrations), evidence...))
	return err
}

// fillCorrected adds who might sign in the year, and what was put right in it.
func (s *Service) fillCorrected(ctx context.Context, r Reader, a *Annual) error {
	all, err := r.Entitlements(ctx, "")
	if err != nil {
		return err
	}
	for _, e := range all {
		if e.From <= a.To && e.Until >= a.From && (e.End.At == "" || e.End.At.Day(s.Zone()) >= a.From) {
			a.Entitlements = append(a.Entitlements, e)
		}
	}
	a.Corrected, err = r.Corrected(ctx, a.From.AddDays(-1).End(s.Zone()), a.To.End(s.Zone()))
	return err
}

// productTitles names the product of each demonstration as the procedure that it
// was begun under does.
func (s *Service) productTitles(ctx context.Context, r DefinitionReader, a *Annual) error {
	by := map[string]*procedure.Procedure{}
	for _, d := range a.Demonstrations {
		p := by[d.ProcedureHash]
		if p == nil {
			var err error
			if p, err = s.begunUnder(ctx, r, d); err != nil {
				return err
			}
			by[d.ProcedureHash] = p
		}
		a.Products[d.ID] = p.Title(d.Product)
		a.Stations[d.ID] = p.Variant
	}
	return nil
}
