package main

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"os"
	"path/filepath"

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

type setExportCmd struct {
	Data    string `help:"Data folder of a clinic: its set in force (default: the built-in set)." placeholder:"DIR" type:"path"`
	Version int    `help:"Version of the clinic's set, with --data." placeholder:"N"`
	Dir     string `arg:"" help:"The folder; it is made, or empty." placeholder:"FOLDER" type:"path"`
}

// Run writes the built-in set, or a clinic's, also beside a running server.
func (c *setExportCmd) Run(ctx context.Context, s streams) error {
	set, what := scenarios.BuiltIn(), "the built-in set"
	if c.Data != "" {
		var number int
		var err error
		if set, number, err = clinicSet(ctx, c.Data, c.Version); err != nil {
			return err
		}
		what = fmt.Sprintf("version %d", number)
	} else if c.Version != 0 {
		return errors.New("--version is of a clinic's set: give --data as well")
	}
	if err := set.WriteTo(c.Dir); err != nil {
		return err
	}
	_, err := fmt.Fprintf(s.out, "%d files in %s: %s\nset %s\n", len(set.Names()), c.Dir, what, set.Hash())
	return err
}

// clinicSet is a version of the set in a data folder; the one in force is 0.
func clinicSet(ctx context.Context, data string, version int) (set *scenarios.Set, number int, err error) {
	clinic, err := (&folderFlags{Data: data}).openUnread(ctx, store.OpenToRead)
	if err != nil {
		return nil, 0, err
	}
	defer func() { err = errors.Join(err, clinic.close()) }()
	v, files, err := clinic.service.ExportSet(ctx, version)
	if err == nil {
		set, err = scenarios.SetOf(files)
	}
	return set, v.Number, err
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

// demoConfirms are the edits by which the demo's educator confirmed what rests on custom.
func demoConfirms() (edits []scenarios.Edit) {
	by := map[string]string{"by": demo.Educator, "on": demo.ConfirmedOn}
	for _, list := range []string{"order", "closing", "marks", "settings", "products"} {
		edits = append(edits, scenarios.Edit{Do: "confirm", List: list, Fields: by})
	}
	return edits
}

// confirmedSet is the built-in set with them, and what they were.
func confirmedSet() (d training.SetSaving, err error) {
	edits, err := json.Marshal(demoConfirms())
	if err != nil {
		return d, err
	}
	set, err := scenarios.BuiltIn().With(demoConfirms()...)
	if err != nil {
		return d, err
	}
	return training.SetSaving{Files: set.Map(), Edits: string(edits)}, nil
}

// renamedSet is a set in which the demo clinic calls a surface as its people do.
func renamedSet(files map[string][]byte) (d training.SetSaving, err error) {
	edits := []scenarios.Edit{{Do: "put", List: "surfaces", Row: "counter", Fields: map[string]string{"title": "Shelf at the wall"}}}
	set, err := scenarios.SetOf(files)
	if err != nil {
		return d, err
	}
	if set, err = set.With(edits...); err != nil {
		return d, err
	}
	text, err := json.Marshal(edits)
	return training.SetSaving{Files: set.Map(), Edits: string(text)}, err
}
