package training

import "context"

// Annual is what the annual workbook shows of a calendar year: standing as of
// its last day (today in a year that is not over). Educators only.
func (s *Service) Annual(ctx context.Context, actor Actor, year int) (Annual, error) {
	return Annual{}, errNotBuilt
}

// AnnualFor is Annual for a command run beside the data file, where reading the
// file is the right to it.
func (s *Service) AnnualFor(ctx context.Context, year int) (Annual, error) {
	return Annual{}, errNotBuilt
}

// Verify recomputes everything signed from the stored bytes. Faults are in the
// report, not the error, which means that it could not be checked.
func (s *Service) Verify(ctx context.Context) (VerifyReport, error) {
	return VerifyReport{}, errNotBuilt
}
