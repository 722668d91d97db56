package main

import (
	"context"
	"encoding/json"
	"errors"
	"os"

	"stillwet/internal/roster"
	"stillwet/internal/store"
	"stillwet/internal/training"
)

// listFlags are those of every list of what people have done.
type listFlags struct {
	folderFlags `embed:""`
	File        string `arg:"" help:"The list, .xlsx or CSV." type:"existingfile"`
	DryRun      bool   `help:"Say what it would do, and change nothing."`
	JSON        bool   `help:"Write one JSON object."`
	Dates       string `help:"Which comes first in dates of three numbers that could be two days: day-month or month-day." enum:"day-month,month-day," default:"" placeholder:"ORDER"`
}

type importItemsCmd struct {
	listFlags `embed:""`
}

// Help tells how rows are known and what it does not do.
func (importItemsCmd) Help() string {
	return "All of the list is entered, or nothing when there is a fault in it; then the exit status is 1. People are known by their staff number, without one by a name that is unique; items by their title. " +
		"What is here already, also what was corrected or withdrawn since, is left as it is. Works beside a running server. The header words that are known stand in README.md."
}

// Run reads the list, compares it with what was entered and enters it.
func (c *importItemsCmd) Run(ctx context.Context, s streams) error {
	return c.run(ctx, s, roster.ItemList, (*training.Service).OwnersItems, (*training.Service).ImportItems)
}

type importEarlierCmd struct {
	listFlags `embed:""`
}

// Help tells how rows are known and that an educator confirms them.
func (importEarlierCmd) Help() string {
	return "Earlier sign-offs, from paper or another list, become one batch that waits: it counts for nothing until an educator has read and signed it in the browser (People, Sign-offs from paper). " +
		"All of the list is brought in, or nothing when there is a fault in it; then the exit status is 1. Works beside a running server. The header words that are known stand in README.md."
}

// Run reads the list and keeps it as a batch that waits.
func (c *importEarlierCmd) Run(ctx context.Context, s streams) error {
	return c.run(ctx, s, roster.EarlierList, (*training.Service).OwnersEarlier, (*training.Service).ImportEarlier)
}

type listAct func(*training.Service, context.Context, *roster.List) (training.ListPlan, error)

func (c *listFlags) run(ctx context.Context, s streams, kind roster.ListKind, look, take listAct) (err error) {
	how := store.OpenBeside
	if c.DryRun {
		how, take = store.OpenToRead, look
	}
	clinic, err := c.open(ctx, how)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, clinic.close()) }()
	list, err := c.read(kind, clinic.service.Today())
	if err != nil {
		return err
	}
	if !c.DryRun && !clinic.store.Beside() {
		if err := clinic.service.Begin(ctx); err != nil {
			return err
		}
	}
	plan, err := take(clinic.service, ctx, list)
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

func (c *listFlags) read(kind roster.ListKind, today training.Day) (list *roster.List, err error) {
	f, err := os.Open(c.File)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	info, err := f.Stat()
	if err != nil {
		return nil, err
	}
	return roster.ReadList(f, info.Size(), kind, today.Time(), roster.Order(c.Dates))
}

// importedList is what other programs read of it.
type importedList struct {
	training.ListCount
	Errors []roster.Fault `json:"errors"`
}

func (c *listFlags) tell(s streams, plan training.ListPlan, asks bool) error {
	done := importedList{training.ListCount{New: len(plan.New), Same: plan.Same}, append([]roster.Fault{}, plan.Faults...)}
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
	p.f("%d new, %d here already, %s. %s\n", done.New, done.Same, faults(len(done.Errors)), outcomeOf(c.DryRun, len(done.Errors)))
	return p.err
}
