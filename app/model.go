package main

import (
	"errors"
	"fmt"
	"io/fs"
	"os"

	"stillwet/internal/simulate"
	"stillwet/scenarios"
)

type modelCmd struct {
	Library  string   `help:"Folder of procedures and scenarios (default: the built-in ones)." placeholder:"DIR" type:"existingdir"`
	Scenario string   `arg:"" help:"Id of the scenario."`
	Cues     []string `arg:"" optional:"" help:"The steps in their order, and what is waited for between them: +30s, until-reached:SURFACE, until-dry:SURFACE (default: the cues of the present model log)."`
}

// Help tells what the cues are for.
func (modelCmd) Help() string {
	return "Prints the model log of a list of steps, with every time and every dry-out, as the file SCENARIO.model.log. " +
		"After a new surface, another label time or another order, give the steps (or nothing, to take them from the present file) " +
		"and write the output over that file. Exit status 1 when the engine does not give it full marks."
}

// Run prints the log, then says what the engine finds in it.
func (c *modelCmd) Run(s streams) error {
	var files fs.FS
	if c.Library != "" {
		files = os.DirFS(c.Library)
	}
	lib, err := scenarios.Unproved(files)
	if err != nil {
		return err
	}
	sc, ok := lib.Scenario(c.Scenario)
	if !ok {
		return fmt.Errorf("there is no scenario %q", c.Scenario)
	}
	p, ok := lib.Procedure(sc.Procedure)
	if !ok {
		return fmt.Errorf("there is no procedure %q", sc.Procedure)
	}
	cues := c.Cues
	if len(cues) == 0 {
		cues = simulate.CuesOf(sc.Model)
	}
	if len(cues) == 0 {
		return fmt.Errorf("the model log of %q names no cues; list the steps", sc.ID)
	}
	text, err := simulate.Model(p, sc, cues)
	if err != nil {
		return err
	}
	out, errs := &printer{w: s.out}, &printer{w: s.err}
	out.f("%s", text)
	sc.Model = text
	faults := scenarios.Prove(sc, p)
	for _, fault := range faults {
		errs.f("%v\n", fault)
	}
	if err := errors.Join(out.err, errs.err); err != nil {
		return err
	}
	if len(faults) > 0 {
		return errFindings
	}
	return nil
}
