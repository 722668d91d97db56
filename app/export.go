package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"

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
	_, err = fmt.Fprintf(s.out, "%s: %d people, %d sign-offs, ledger of %d records\n", c.Out, len(annual.People), len(annual.SignOffs), annual.Ledger.Size)
	return err
}
