package training

import (
	"context"
	"strconv"
	"strings"
)

// overtaken says why a demonstration cannot be signed as met any more: another version came
// into force since it began, and something critical differs. "" when it can.
func (s *Service) overtaken(ctx context.Context, r Reader, d Demonstration) (string, error) {
	p, ok := s.present().Procedure(d.Procedure)
	if s.Differ == nil || !ok || p.Hash == d.ProcedureHash {
		return "", nil
	}
	was, err := citedProcedure(ctx, r, d.ProcedureHash)
	if err != nil {
		return "", said(err, ErrNotFound, "The procedure that this was begun under was not kept, so it cannot be compared with the present one.")
	}
	var texts []string
	used := productsUsed(d)
	for _, c := range s.Differ(was, p) {
		if c.critical(used) {
			texts = append(texts, c.Text)
		}
	}
	if len(texts) == 0 {
		return "", nil
	}
	versions, err := r.SetVersions(ctx)
	in := SetInForce(versions, s.Today())
	return "Version " + strconv.Itoa(in.Number) + " of the clinic's procedure is in force from " + in.InForceFrom().Said() + ", after this was begun, and something critical differs: " +
		strings.Join(texts, "; ") + ". So it cannot be signed as met; watch a new one under the present procedure.", err
}

// Overtaken is the sentence that says why a demonstration cannot be signed as met any more,
// for whoever may read it; "" when nothing stands in the way.
func (s *Service) Overtaken(ctx context.Context, actor Actor, d Demonstration) (string, error) {
	if err := need(actor); err != nil {
		return "", err
	}
	if d.State != Ended || len(d.Signatures) > 1 {
		return "", nil
	}
	return s.overtaken(ctx, s.Records, d)
}
