package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"path/filepath"
	"strings"

	"stillwet/exports"
	"stillwet/internal/files"
	"stillwet/internal/store"
)

type exportCmd struct {
	Annual annualCmd `cmd:"" help:"Write the annual competency workbook."`
}

type annualCmd struct {
	folderFlags `embed:""`
	Year        int    `help:"Calendar year (default: this one)."`
	Out         string `help:"Workbook to write." required:"" type:"path" placeholder:"FILE.xlsx"`
}

// Run reads the records, also beside a running server, and writes the workbook.
func (c *annualCmd) Run(ctx context.Context, s streams) (err error) {
	if !strings.EqualFold(filepath.Ext(c.Out), ".xlsx") {
		return fmt.Errorf("--out: %s does not end in .xlsx; the workbook is written in that form only", c.Out)
	}
	clinic, err := c.open(ctx, store.OpenToRead)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, clinic.close()) }()
	if c.Year == 0 {
		c.Year = clinic.service.Today().Time().Year()
	}
	annual, err := clinic.service.AnnualFor(ctx, c.Year)
	if err != nil {
		return err
	}
	err = files.Disk{}.Whole(c.Out, func(f *files.File) error {
		w := bufio.NewWriter(f)
		return errors.Join(exports.Annual(w, annual), w.Flush())
	})
	if err != nil {
		return err
	}
	if _, err = fmt.Fprintf(s.out, "%s: %d people, %d sign-offs and %d from paper, ledger of %d records\n", c.Out, len(annual.People), len(annual.SignOffs), len(annual.Earlier), annual.Ledger.Size); err != nil {
		return err
	}
	return warnOfFaults(ctx, s, clinic)
}

// warnOfFaults says when the records that a workbook was made of do not verify.
func warnOfFaults(ctx context.Context, s streams, c *clinic) error {
	report, err := c.service.Verify(ctx)
	if err != nil || len(report.Faults) == 0 {
		return err
	}
	_, err = fmt.Fprintf(s.err, "WARNING: %d things in the records do not agree with what was signed (stillwet verify names them). The workbook shows them as they are now: do not hand it on.\n", len(report.Faults))
	return errors.Join(err, errFindings)
}
