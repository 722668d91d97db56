package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"strings"

	"stillwet/internal/roster"
	"stillwet/internal/store"
	"stillwet/internal/training"
)

type importCmd struct {
	People  importPeopleCmd  `cmd:"" help:"Bring a list of people in from a spreadsheet."`
	Items   importItemsCmd   `cmd:"" help:"Bring a list of other annual items in: who had what on which day."`
	Earlier importEarlierCmd `cmd:"" help:"Bring a list of sign-offs from paper in, to be confirmed by an educator."`
}

type importPeopleCmd struct {
	folderFlags `embed:""`
	File        string `arg:"" help:"List of people, .xlsx or CSV." type:"existingfile"`
	DryRun      bool   `help:"Say what it would do, and change nothing."`
	JSON        bool   `help:"Write one JSON object."`
	Dates       string `help:"Which comes first in dates of three numbers that could be two days: day-month or month-day." enum:"day-month,month-day," default:"" placeholder:"ORDER"`
}

// Help tells how people are known and what it does not do.
func (importPeopleCmd) Help() string {
	return "All of the list is brought in, or nothing when there is a fault in it; then the exit status is 1. People are known by their staff number, without one by a name that is unique. " +
		"Nobody is removed because they are not in the list, and nobody gets an account by it. Works beside a running server. The header words that are known stand in README.md."
}

// Run reads the list, compares it with who is here and brings it in.
func (c *importPeopleCmd) Run(ctx context.Context, s streams) (err error) {
	how := store.OpenBeside
	if c.DryRun {
		how = store.OpenToRead
	}
	clinic, err := c.openUnread(ctx, how)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, clinic.close()) }()
	list, err := c.read(clinic.service.Today())
	if err != nil {
		return err
	}
	var plan training.RosterPlan
	if c.DryRun {
		plan, err = clinic.service.OwnersRoster(ctx, list)
	} else if err = c.begin(ctx, clinic); err == nil {
		plan, err = clinic.service.ImportRoster(ctx, list)
	}
	if err != nil {
		return err
	}
	if err := c.tell(s, plan, list.Asks()); err != nil {
		return err
	}
	if len(plan.Faults) > 0 {
		return errFindings
	}
	return nil
}

// begin does what a server does first, where there is none.
func (c *importPeopleCmd) begin(ctx context.Context, clinic *clinic) error {
	if clinic.store.Beside() {
		return nil
	}
	return clinic.service.Begin(ctx)
}

func (c *importPeopleCmd) read(today training.Day) (list *roster.File, err error) {
	f, err := os.Open(c.File)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	info, err := f.Stat()
	if err != nil {
		return nil, err
	}
	return roster.Read(f, info.Size(), roster.Options{Today: today.Time(), Dates: roster.Order(c.Dates)})
}

// imported is what other programs read of an import.
type imported struct {
	training.RosterDone
	Errors []roster.Fault `json:"errors"`
}

func (c *importPeopleCmd) tell(s streams, plan training.RosterPlan, asks bool) error {
	done := imported{training.RosterDone{New: len(plan.New), Changed: len(plan.Changed), Same: plan.Same}, append([]roster.Fault{}, plan.Faults...)}
	if c.JSON {
		enc := json.NewEncoder(s.out)
		enc.SetEscapeHTML(false)
		return enc.Encode(done)
	}
	p := &printer{w: s.out}
	for _, f := range done.Errors {
		p.f("%s\n", faultLine(f))
	}
	if asks && c.Dates == "" {
		p.f("Say --dates day-month or --dates month-day when the whole file has one order.\n")
	}
	p.f("%d new, %d changed, %d the same, %s. %s\n", done.New, done.Changed, done.Same, faults(len(done.Errors)), outcomeOf(c.DryRun, len(done.Errors)))
	for i, x := range plan.Changed {
		if i == mostNamed {
			p.f("  … and %d more\n", len(plan.Changed)-i)
			break
		}
		p.f("  changed: %s: %s\n", strings.TrimSpace(x.Was.StaffNo+" "+x.Was.Name), x.Changes())
	}
	for i, x := range plan.New {
		if i == mostNamed {
			p.f("  … and %d more\n", len(plan.New)-i)
			break
		}
		p.f("  new: %s\n", strings.TrimSpace(x.Is.StaffNo+" "+x.Is.Name))
	}
	for _, f := range plan.Doubts {
		p.f("Look at %s\n", faultLine(f))
	}
	if n := len(plan.Absent); n > 0 {
		p.f("%d here and not in the file (nothing becomes of them):\n", n)
		for _, x := range plan.Absent {
			p.f("  %s\n", strings.TrimSpace(x.Name+" "+x.StaffNo))
		}
	}
	return p.err
}

// mostNamed is how many people of each kind a line is written for.
const mostNamed = 200

// faults counts them in words.
func faults(n int) string {
	if n == 1 {
		return "1 fault"
	}
	return fmt.Sprintf("%d faults", n)
}

func faultLine(f roster.Fault) string {
	place := fmt.Sprintf("row %d", f.Row)
	if f.Column != "" {
		place += ", " + f.Column
	}
	if f.Value != "" {
		place += fmt.Sprintf(", %q", f.Value)
	}
	return place + ": " + f.Do
}

func outcomeOf(dryRun bool, faults int) string {
	switch {
	case dryRun:
		return "Nothing was changed: this was a dry run."
	case faults > 0:
		return "Nothing was changed. Mend the file and import it again."
	}
	return "Done."
}
