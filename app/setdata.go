package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"stillwet/internal/demo"
	"stillwet/internal/store"
	"stillwet/internal/training"
	"stillwet/scenarios"
)

// loadSet proves the files of a set.
func loadSet(files map[string][]byte) (training.Library, error) {
	set, err := scenarios.SetOf(files)
	if err != nil {
		return nil, err
	}
	return set.Load()
}

// builtInSet is what a clinic begins with.
func builtInSet() (map[string][]byte, error) { return scenarios.BuiltIn().Map(), nil }

type setCmd struct {
	Export setExportCmd `cmd:"" help:"Write a clinic's set into a folder, as files."`
	Import setImportCmd `cmd:"" help:"Make the files of a folder the draft of a clinic's set."`
}

type setExportCmd struct {
	folderFlags `embed:""`
	Version     int    `help:"Version (default: the one in force)."`
	Dir         string `arg:"" help:"Folder to write; it must be empty, or not be there." type:"path"`
}

// Run reads a version, also beside a running server, and writes its files.
func (c *setExportCmd) Run(ctx context.Context, s streams) (err error) {
	clinic, err := c.openUnread(ctx, store.OpenToRead)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, clinic.close()) }()
	v, files, err := clinic.service.ExportSet(ctx, c.Version)
	if err != nil {
		return err
	}
	set, err := scenarios.SetOf(files)
	if err == nil {
		err = set.WriteTo(c.Dir)
	}
	if err != nil {
		return err
	}
	_, err = fmt.Fprintf(s.out, "%s: version %d, %d files, hash %s\n", c.Dir, v.Number, len(files), v.Hash)
	return err
}

type setImportCmd struct {
	folderFlags `embed:""`
	Dir         string `arg:"" help:"Folder with the files of a set." type:"existingdir"`
}

// Help tells what it does not do.
func (setImportCmd) Help() string {
	return "The files become the draft of the clinic's set; nothing holds before an educator has proposed and approved it. " +
		"Every fault is told, and then nothing is imported. Stop the server first and start it again afterwards."
}

// Run reads the folder and keeps the draft; the server must not be running.
func (c *setImportCmd) Run(ctx context.Context, s streams) (err error) {
	set, err := scenarios.ReadSet(os.DirFS(c.Dir))
	if err != nil {
		return err
	}
	if _, err := os.Stat(filepath.Join(c.Data, store.DataFile)); err != nil { // nor is a clinic begun by it
		return fmt.Errorf("there is no data file in %s; name the folder that the server was started with", c.Data)
	}
	clinic, err := c.openUnread(ctx, store.Open)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, clinic.close()) }()
	if err := clinic.service.Begin(ctx); err != nil {
		return err
	}
	d, err := clinic.service.ImportSet(ctx, set.Map())
	if err != nil {
		return err
	}
	_, err = fmt.Fprintf(s.out, "The draft has the %d files of %s, hash %s. It builds on version %d; an educator proposes it.\n", len(d.Files), c.Dir, set.Hash(), d.Base)
	return err
}

// The demo's second version is the first with a line in one file that says who confirmed
// what rests on custom; what is read of such a set is confirmed.
const confirmedFile = "programme.yaml"

var confirmedLine = fmt.Sprintf("# What rests on custom was confirmed by %s on %s.\n", demo.Educator, demo.ConfirmedOn)

// confirmedSet is the built-in set as the demo's educator confirmed it.
func confirmedSet() (map[string][]byte, error) {
	files := scenarios.BuiltIn().Map()
	files[confirmedFile] = append([]byte(confirmedLine), files[confirmedFile]...)
	return files, nil
}

func loadDemoSet(files map[string][]byte) (training.Library, error) {
	set, err := scenarios.SetOf(files)
	if err != nil {
		return nil, err
	}
	lib, err := set.Load()
	if err == nil && strings.HasPrefix(string(files[confirmedFile]), confirmedLine) {
		lib = lib.Confirmed(demo.Educator, demo.ConfirmedOn)
	}
	return lib, err
}
