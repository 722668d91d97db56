package main

import (
	"context"
	"encoding/json"
	"errors"
	"strings"

	"stillwet/internal/procedure"
	"stillwet/internal/store"
	"stillwet/internal/training"
)

type recheckCmd struct {
	folderFlags `embed:""`
	Procedure   string `help:"Draft of a procedure to judge its logs by (default: each log by the procedure it was judged by)." placeholder:"FILE"`
	JSON        bool   `help:"Write one JSON object."`
}

// Help tells what it does not do.
func (recheckCmd) Help() string {
	return "Judges every stored log again with this program's rules and prints what would be judged otherwise, and why. " +
		"It changes nothing: records keep the judgement they were made with, signed ones for ever. Exit status 1 when something differs."
}

// Run judges again, also beside a running server.
func (c *recheckCmd) Run(ctx context.Context, s streams) (err error) {
	var draft *procedure.Procedure
	if c.Procedure != "" {
		if draft, err = procedureFile(c.Procedure); err != nil {
			return err
		}
	}
	clinic, err := c.open(ctx, store.OpenToRead)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, clinic.close()) }()
	report, err := clinic.service.Recheck(ctx, draft)
	if err != nil {
		return err
	}
	if err := c.write(s, report); err != nil {
		return err
	}
	if report.Different > 0 {
		return errFindings
	}
	return nil
}

func (c *recheckCmd) write(s streams, r training.RecheckReport) error {
	if c.JSON {
		enc := json.NewEncoder(s.out)
		enc.SetEscapeHTML(false)
		return enc.Encode(r)
	}
	p := &printer{w: s.out}
	p.f("%d logs judged again by rules %d: %d the same, %d different (%d of them signed; those keep their judgement)\n",
		r.Logs, r.RulesVersion, r.Same, r.Different, r.Signed)
	for _, g := range r.Groups {
		p.f("  %s  %s: %d\n      %s\n      %s\n", g.Kind, g.What, g.Logs, g.Why, strings.Join(g.Records, ", "))
	}
	for _, x := range r.Unjudged {
		p.f("  not judged  %s: %d\n      %s\n", x.Reason, x.Logs, strings.Join(x.Records, ", "))
	}
	return p.err
}
