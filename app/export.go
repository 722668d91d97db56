package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"

	"stillwet/exports"
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
	if err := writeWhole(c.Out, func(w *bufio.Writer) error { return exports.Annual(w, annual) }); err != nil {
		return err
	}
	_, err = fmt.Fprintf(s.out, "%s: %d people, %d sign-offs, ledger of %d records\n", c.Out, len(annual.People), len(annual.SignOffs), annual.Ledger.Size)
	return err
}

// writeWhole writes a file beside the wanted one and renames it: a file of that
// name is either whole or not there.
func writeWhole(name string, write func(*bufio.Writer) error) (err error) {
	f, err := os.CreateTemp(filepath.Dir(name), ".writing-*")
	if err != nil {
		return err
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, os.Remove(f.Name()))
		}
	}()
	w := bufio.NewWriter(f)
	err = write(w)
	if err == nil {
		err = w.Flush()
	}
	if err = errors.Join(err, f.Close()); err != nil {
		return err
	}
	return os.Rename(f.Name(), name)
}
