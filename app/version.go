package main

import (
	"fmt"
	"runtime"
	"runtime/debug"

	"stillwet/internal/assess"
)

// release is the version of the program, which grows with what users see.
const release = "0.13"

type versionCmd struct{}

// Run prints the release, of what source it was built when the tools noted that, by which
// rules it judges and which Go built it.
func (versionCmd) Run(s streams) error {
	_, err := fmt.Fprintf(s.out, "stillwet %s%s, rules version %d, %s\n", release, source(), assess.RulesVersion, runtime.Version())
	return err
}

// source is the revision that the program was built of, "" where nobody noted it.
func source() string {
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return ""
	}
	noted := map[string]string{}
	for _, x := range info.Settings {
		noted[x.Key] = x.Value
	}
	revision := noted["vcs.revision"]
	if len(revision) < 12 {
		return ""
	}
	text := " (source " + revision[:12] + " of " + noted["vcs.time"]
	if noted["vcs.modified"] == "true" {
		text += ", altered since"
	}
	return text + ")"
}
