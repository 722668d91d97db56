package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"stillwet/exports"
	"stillwet/internal/store"
	"stillwet/internal/training"
)

type verifyCmd struct {
	folderFlags `embed:""`
	Head        []string `help:"A signed head that was kept elsewhere: the file of heads, or a workbook. The ledger must extend it. May be given several times." type:"existingfile" placeholder:"FILE"`
	Key         string   `help:"The verifier key that the clinic is known by, as on every workbook."`
	AllHeads    bool     `help:"Check the signature of every stored head, not of the newest only."`
	Workbook    string   `help:"A workbook that was kept: name the first cells that the records contradict." type:"existingfile" placeholder:"FILE.xlsx"`
}

// Help tells what the command proves and what it cannot.
func (verifyCmd) Help() string {
	return "Recomputes the ledger and every signed record from the stored bytes, in both directions, and names what does not agree. " +
		"Reads only; works beside a running server, on a copy and on a read-only medium. Exit status 1 when anything does not agree. " +
		"What was cut off the end of the ledger, or a whole file put back from an older day, shows only by a head that was kept elsewhere: give --head."
}

// Run verifies and tells what it cannot know.
func (c *verifyCmd) Run(ctx context.Context, s streams) (err error) {
	heads, err := c.heads()
	if err != nil {
		return err
	}
	clinic, err := c.openUnread(ctx, store.OpenToRead)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, clinic.close()) }()
	progress := &printer{w: s.err}
	report, err := clinic.service.VerifyWith(ctx, training.VerifyOptions{Heads: heads, Key: c.Key, AllHeads: c.AllHeads,
		Progress: func(done int64) { progress.f("%d records checked…\n", done) }})
	if err := errors.Join(err, progress.err); err != nil {
		return err
	}
	differences, err := c.differences(ctx, clinic)
	if err != nil {
		return err
	}
	return c.tell(s, report, differences, len(heads))
}

func (c *verifyCmd) tell(s streams, report training.VerifyReport, differences []exports.Difference, heads int) error {
	p := &printer{w: s.out}
	for _, f := range report.Faults {
		p.f("%s, %s: %s\n", f.Record, f.Field, f.Text)
	}
	for i, d := range differences {
		if i == mostDifferences {
			p.f("… and %d more cells of the workbook\n", len(differences)-i)
			break
		}
		p.f("%s: %s\n", c.Workbook, d)
	}
	p.f("%d records in the ledger, %s\nhead: size %d, root %s\nkey: %s\n",
		report.Leaves, faults(len(report.Faults)+len(differences)), report.Head.Size, report.Head.Root, report.Head.Key)
	p.f("Not known from this: %s\n", unknowable(heads, c.Key, c.Workbook))
	if p.err != nil {
		return p.err
	}
	if len(report.Faults)+len(differences) > 0 {
		return errFindings
	}
	return nil
}

const mostDifferences = 20

// unknowable says what the check could not see.
func unknowable(heads int, key, workbook string) string {
	var all []string
	if workbook != "" {
		all = append(all, "the words on the workbook's first sheet, the counts in its sheet of standings, and how people stood in other items and in change training")
	}
	if heads == 0 {
		all = append(all, "whether the newest records were cut off, or the whole file is an older one (give --head with a workbook or file of heads kept elsewhere)")
	}
	if key == "" {
		all = append(all, "whether the clinic's key was replaced together with everything signed (give --key from an older workbook)")
	}
	all = append(all, "whether what was signed is true, what was practised and not finished, and who sat at the keyboard")
	return strings.Join(all, "; ") + "."
}

// heads reads what was kept elsewhere.
func (c *verifyCmd) heads() (all []training.GivenHead, err error) {
	names := c.Head
	if c.Workbook != "" {
		names = append(names[:len(names):len(names)], c.Workbook)
	}
	for _, name := range names {
		notes, err := headsIn(name)
		if err == nil && len(notes) == 0 {
			err = errors.New("it holds no signed head, so it proves nothing")
		}
		if err != nil {
			return nil, fmt.Errorf("%s: %w", name, err)
		}
		for _, note := range notes {
			all = append(all, training.GivenHead{From: filepath.Base(name), Note: note})
		}
	}
	return all, nil
}

// headsIn are the signed heads of a file of heads, or the one of a workbook.
func headsIn(name string) (notes []string, err error) {
	if !strings.EqualFold(filepath.Ext(name), ".xlsx") {
		return store.HeadsOf(name)
	}
	f, err := os.Open(name)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	kept, err := exports.Reread(f)
	if err != nil || kept.Head == "" {
		return nil, err
	}
	return []string{kept.Head}, nil
}

// differences compares the kept workbook with the records.
func (c *verifyCmd) differences(ctx context.Context, clinic *clinic) (all []exports.Difference, err error) {
	if c.Workbook == "" {
		return nil, nil
	}
	f, err := os.Open(c.Workbook)
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	kept, err := exports.Reread(f)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", c.Workbook, err)
	}
	if err := clinic.service.Stock(ctx); err != nil { // titles are of what is in force
		return nil, err
	}
	annual, err := clinic.service.AnnualOn(ctx, kept.Year, kept.AsOf)
	if err != nil {
		return nil, err
	}
	ever, err := clinic.service.EverCalled(ctx)
	if err != nil {
		return nil, err
	}
	return kept.Against(annual, ever)
}
