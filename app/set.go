package main

import (
	"errors"
	"os"

	"stillwet/scenarios"
)

// setCmd is what can be done with a set of procedures, scenarios, programme and course.
type setCmd struct {
	Export setExportCmd `cmd:"" help:"Write the set's files into an empty folder."`
	Check  setCheckCmd  `cmd:"" help:"Say everything that is wrong with the set in a folder."`
	Import setImportCmd `cmd:"" help:"Make the files of a folder the draft of a clinic's set."`
}

type setCheckCmd struct {
	Dir string `arg:"" help:"Folder of the set." placeholder:"DIR" type:"existingdir"`
}

// Help tells what is no fault.
func (setCheckCmd) Help() string {
	return "Prints every fault with its file and line; exit status 1 when there is one. A scenario whose model cannot follow its procedure rests: " +
		"it is told, with what needs it, and is no fault."
}

// Run checks a folder.
func (c *setCheckCmd) Run(s streams) error {
	out := &printer{w: s.out}
	set, err := scenarios.ReadSet(os.DirFS(c.Dir))
	var lib *scenarios.Library
	if err == nil {
		lib, err = set.Load()
	}
	if err != nil {
		out.f("%v\n", err)
		return errors.Join(errFindings, out.err)
	}
	for _, r := range lib.Resting() {
		out.f("%s %s rests: %s\n", r.Of, r.ID, r.Why)
	}
	for _, x := range set.Spoken(lib) {
		out.f("advice: %s\n", x.Text())
	}
	out.f("no fault: %d scenarios, set %s\n", len(lib.Scenarios()), set.Hash())
	return out.err
}
