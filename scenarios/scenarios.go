// Package scenarios holds the built-in procedure, scenarios and programme as
// strict YAML, and loads them.
//
// A procedure is NAME.procedure.yaml; a scenario is NAME.yaml with its model log
// NAME.model.log; programme.yaml says what it takes to be signed off. A scenario
// lists the steps that it offers, or under "without" those of the procedure that
// it does not, and what the world does by itself, after the first use of a step
// or, in a run, at a time:
//
//	events:
//	  - {after: discard-circuit, happens: patient leaves}
//	  - {at: "2:00", happens: alarm}
//
// A model log is written by "stillwet model" from the cues in its first lines.
//
// Every fault of every file is reported at once, with file:line. A scenario
// whose model log does not get full marks from the engine is refused: the
// program does not start with an answer it would not itself accept.
package scenarios

import (
	"cmp"
	"embed"
	"errors"
	"fmt"
	"io/fs"
	"path"
	"slices"
	"strings"

	"stillwet/internal/action"
	"stillwet/internal/procedure"
	"stillwet/internal/simulate"
	"stillwet/internal/training"
)

//go:embed *.yaml *.model.log
var builtin embed.FS

// Library is a loaded set. It implements training.Library.
type Library struct {
	procedures   map[string]*procedure.Procedure
	scenarios    []*simulate.Scenario
	competencies []training.Competency
}

// Load reads and proves the built-in set.
func Load() (*Library, error) { return LoadFS(builtin) }

// LoadFS reads and proves the set in the root of a file system.
func LoadFS(files fs.FS) (*Library, error) { return load(files, false) }

// Unproved reads a set whose models may be missing or out of date, for writing
// them anew; nil stands for the built-in set.
func Unproved(files fs.FS) (*Library, error) {
	if files == nil {
		files = builtin
	}
	return load(files, true)
}

func load(files fs.FS, unproved bool) (*Library, error) {
	l := &loader{files: files, unproved: unproved, lib: &Library{procedures: map[string]*procedure.Procedure{}}}
	names, err := fs.Glob(files, "*.yaml")
	if err != nil {
		return nil, err
	}
	for _, name := range names {
		if strings.HasSuffix(name, procedureSuffix) {
			l.procedure(name)
		}
	}
	for _, name := range names {
		if !strings.HasSuffix(name, procedureSuffix) && name != programmeFile {
			l.scenario(name)
		}
	}
	l.programme()
	if err := errors.Join(l.faults...); err != nil {
		return nil, err
	}
	slices.SortStableFunc(l.lib.scenarios, func(a, b *simulate.Scenario) int {
		return cmp.Or(a.Level-b.Level, strings.Compare(a.ID, b.ID))
	})
	return l.lib, nil
}

const (
	programmeFile   = "programme.yaml"
	procedureSuffix = ".procedure.yaml"
)

type loader struct {
	files    fs.FS
	unproved bool // models are not looked at
	lib      *Library
	faults   []error
}

func (l *loader) read(name string) ([]byte, bool) {
	text, err := fs.ReadFile(l.files, name)
	if err != nil {
		l.faults = append(l.faults, err)
		return nil, false
	}
	return text, true
}

func (l *loader) procedure(name string) {
	text, ok := l.read(name)
	if !ok {
		return
	}
	p, faults := ReadProcedure(name, text)
	l.faults = append(l.faults, faults...)
	if p == nil {
		return
	}
	if want := p.ID + procedureSuffix; name != want {
		l.faults = append(l.faults, &action.Fault{File: name, Line: 1, Text: fmt.Sprintf("the file of procedure %q is named %s", p.ID, want)})
		return
	}
	l.lib.procedures[p.ID] = p
}

// Procedure returns a procedure by id.
func (l *Library) Procedure(id string) (*procedure.Procedure, bool) {
	p, ok := l.procedures[id]
	return p, ok
}

// Scenario returns a scenario by id.
func (l *Library) Scenario(id string) (*simulate.Scenario, bool) {
	for _, s := range l.scenarios {
		if s.ID == id {
			return s, true
		}
	}
	return nil, false
}

// Scenarios returns every scenario, easiest first.
func (l *Library) Scenarios() []*simulate.Scenario { return l.scenarios }

// Competencies returns what is signed off.
func (l *Library) Competencies() []training.Competency { return l.competencies }

// modelOf is the name of a scenario's model log.
func modelOf(name string) string { return strings.TrimSuffix(path.Base(name), ".yaml") + ".model.log" }
