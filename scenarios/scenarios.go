// Package scenarios holds the built-in procedures, scenarios and programme as
// strict YAML, and loads them.
//
// A procedure is NAME.procedure.yaml. What several have in common stands in parts,
// NAME.parts.yaml: lists of rows (areas, surfaces, items, places, products, steps,
// order, marks, picture). A procedure says which it is made of and what it has
// otherwise:
//
//	parts: [hands, machine, chair-side]   # their rows in this order, then its own
//	on: [hose]                            # of what is off, this is there
//	without:
//	  surfaces: [call-light]
//	  order: [[eyes-on, lines-off]]       # likewise items, places, products, steps, marks
//	change:
//	  marks:
//	    - {id: wet, worth: 9}             # the row of that id, with the fields that differ
//
// A surface, item or place with "off: true" is not there unless the procedure
// names it under "on". With what is not there go the steps that do something to
// nothing else, and their pairs and marks; the shape of a surface stays in the
// picture as scenery, but not of one that is off. The hash is that of the whole.
//
// A scenario is NAME.yaml with its model log
// NAME.model.log; programme.yaml says what it takes to be signed off. A scenario
// lists the steps that it offers, or under "without" those of the procedure that
// it does not, and what the world does by itself, after the first use of a step
// or, in a run, at a time:
//
//	events:
//	  - {after: discard-circuit, happens: patient leaves}
//	  - {at: "2:00", happens: alarm}
//
// What it teaches (one sentence) is told to whoever has passed. Small facts of it may
// vary: the seed of a try decides which, and every combination is proved with the
// model that its cues give.
//
//	vary:
//	  - name: where
//	    options:
//	      - {value: front, words: the front panel of the machine}
//	      - {value: chair, words: an arm of the chair}
//	story: There is blood on {where}.      # the words
//	start: ["blood on {where}"]            # the value, as in steps, without, events and cues
//
// A scenario of kind find shows the model of another one with mistakes planted in it, which
// are to be found; find.go tells how it is written.
//
// course.yaml, where there is one, is the course: lessons with their questions, and
// modules of parts to read, watch, practise and be tested in.
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
	"sync"

	"stillwet/internal/action"
	"stillwet/internal/course"
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
	modules      []course.Module
	resting      []Rest
	unshown      map[string][]string // by lesson, what its rows were of that is gone
}

// Load reads and proves the built-in set.
func Load() (*Library, error) { return builtIn() }

// builtIn is the built-in set, proved once: a library never changes.
var builtIn = sync.OnceValues(func() (*Library, error) { return LoadFS(builtin) })

// LoadFS reads and proves the set in the root of a file system.
func LoadFS(files fs.FS) (*Library, error) { return load(files, strictly) }

// Unproved reads a set whose models may be missing or out of date, for writing
// them anew; nil stands for the built-in set.
func Unproved(files fs.FS) (*Library, error) {
	if files == nil {
		files = builtin
	}
	return load(files, unproved)
}

func load(files fs.FS, how mode) (*Library, error) {
	l := &loader{folder: newFolder("", files), files: files, how: how, lib: &Library{procedures: map[string]*procedure.Procedure{}, unshown: map[string][]string{}}}
	names, err := fs.Glob(files, "*.yaml")
	if err != nil {
		return nil, err
	}
	l.each(names, func(name string) bool { return strings.HasSuffix(name, partSuffix) }, l.readPart)
	l.each(names, func(name string) bool { return strings.HasSuffix(name, procedureSuffix) }, l.procedure)
	l.each(names, isScenario, l.scenario)
	if !how.blind() { // they have the models of others
		l.finds = true
		l.each(names, isScenario, l.scenario)
	}
	l.programme()
	l.course()
	if err := errors.Join(once(l.faults)...); err != nil {
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
	*folder
	files  fs.FS
	how    mode
	finds  bool // it is the turn of find scenarios, which rest on the others
	lib    *Library
	faults []error
}

func isScenario(name string) bool {
	return !strings.HasSuffix(name, partSuffix) && !strings.HasSuffix(name, procedureSuffix) && name != programmeFile && name != courseFile
}

func (l *loader) each(names []string, is func(string) bool, do func(string)) {
	for _, name := range names {
		if is(name) {
			do(name)
		}
	}
}

// readPart tells the faults of a part, whether a procedure names it or not.
func (l *loader) readPart(name string) {
	p := l.part(strings.TrimSuffix(name, partSuffix))
	if p == nil {
		l.faults = append(l.faults, &action.Fault{File: name, Line: 1, Text: "no procedure can name this part: use lower-case letters, digits and single hyphens"})
		return
	}
	l.faults = append(l.faults, p.faults...)
}

// once leaves out what was said before: a fault of a part is one of each procedure
// that it belongs to.
func once(faults []error) (told []error) {
	said := map[string]bool{}
	for _, f := range faults {
		if !said[f.Error()] {
			told = append(told, f)
		}
		said[f.Error()] = true
	}
	return told
}

// there reports whether the set has a file: what it holds may be refused, but it
// is not unknown.
func (l *loader) there(name string) bool {
	_, err := fs.ReadFile(l.files, name)
	return err == nil
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
	p, faults := l.folder.procedure(name, text)
	l.faults = append(l.faults, faults...)
	if p == nil {
		return
	}
	if want := p.ID + procedureSuffix; name != want {
		l.faults = append(l.faults, &action.Fault{File: name, Line: 1, Text: fmt.Sprintf("the file of procedure %q is named %s", p.ID, want)})
		return
	}
	if l.hiddenVariant(name, p) {
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
