package main

import (
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// core is the engine: standard library only, no clock, no randomness, no I/O.
var core = []string{
	"internal/action", "internal/procedure", "internal/wettime", "internal/station", "internal/assess", "internal/assess/rules", "internal/simulate", "internal/course",
}

// layers is the house: each room and the rooms it imports, no more and no less. A
// room that is missing here fails the test, and so does what is not there (any
// more): a room or an import.
var layers = map[string][]string{
	"internal/action":       {},
	"internal/ledger":       {},
	"internal/files":        {},
	"internal/roster":       {},
	"internal/procedure":    {"internal/action"},
	"internal/wettime":      {"internal/action"},
	"internal/station":      {"internal/action", "internal/procedure", "internal/wettime"},
	"internal/assess":       {"internal/action", "internal/procedure", "internal/station", "internal/wettime"},
	"internal/assess/rules": {"internal/action", "internal/procedure", "internal/station", "internal/wettime", "internal/assess"},
	"internal/simulate":     {"internal/action", "internal/procedure", "internal/station"},
	"internal/course":       {"internal/action", "internal/procedure", "internal/wettime", "internal/station", "internal/assess", "internal/assess/rules", "internal/simulate"},
	"internal/training":     {"internal/course", "internal/ledger", "internal/roster", "internal/action", "internal/procedure", "internal/assess", "internal/assess/rules", "internal/simulate"},
	"internal/store":        {"internal/training", "internal/ledger", "internal/files", "internal/action", "internal/simulate", "internal/assess"},
	"internal/backup":       {"internal/store", "internal/training", "internal/files"},
	"internal/demo":         {"internal/training", "internal/course", "internal/action", "internal/procedure", "internal/simulate"},
	"scenarios":             {"internal/training", "internal/course", "internal/action", "internal/procedure", "internal/assess", "internal/assess/rules", "internal/simulate"},
	"exports":               {"internal/training", "internal/assess"},
	"views":                 {"internal/roster", "scenarios", "internal/training", "internal/course", "internal/action", "internal/procedure", "internal/assess", "internal/simulate"},
	"internal/web":          {"internal/roster", "scenarios", "internal/training", "internal/course", "views", "internal/action", "internal/procedure", "internal/assess", "internal/simulate"},
	"app":                   {"scenarios", "exports", "internal/roster", "internal/store", "internal/backup", "internal/files", "internal/web", "internal/training", "internal/demo", "internal/action", "internal/procedure", "internal/assess", "internal/assess/rules", "internal/simulate"},
}

// namers is who alone may import a module of others, tests aside.
var namers = map[string][]string{
	"github.com/gofiber/fiber":        {"internal/web"},
	"github.com/valyala/fasthttp":     {"internal/web"},
	"gorm.io/":                        {"internal/store"},
	"github.com/mattn/go-sqlite3":     {"internal/store"},
	"github.com/pressly/goose":        {"internal/store"},
	"github.com/xuri/excelize":        {"exports"},
	"github.com/klauspost/compress":   {"exports"},
	"go.yaml.in/yaml":                 {"scenarios"},
	"github.com/a-h/templ":            {"views", "internal/web"},
	"github.com/alecthomas/kong":      {"app"},
	"github.com/alexedwards/argon2id": {"internal/training"},
	"golang.org/x/text":               {"internal/training", "internal/ledger"},
	"golang.org/x/mod":                {"internal/ledger"},
	"github.com/chromedp/":            {},
	"github.com/expr-lang/":           {},
	"github.com/stretchr/testify":     {},
	"github.com/go-json-experiment/":  {},
}

// notInCore is what a pure function has no use for.
var notInCore = []string{"time", "os", "io", "net", "net/http", "math/rand", "math/rand/v2", "crypto/rand", "os/exec", "syscall", "log", "log/slog", "embed"}

// imports parses the files of a room itself, so that the answer is never
// served from a cache of the build.
func imports(t *testing.T, root string) map[string][]string {
	t.Helper()
	found := map[string][]string{}
	err := filepath.WalkDir(root, func(file string, d fs.DirEntry, err error) error {
		if err != nil {
			return err
		}
		if d.IsDir() && (strings.HasPrefix(d.Name(), ".") && file != root || d.Name() == "node_modules" || d.Name() == "testdata") {
			return fs.SkipDir
		}
		if !strings.HasSuffix(file, ".go") || strings.HasSuffix(file, "_test.go") {
			return nil
		}
		rel, err := filepath.Rel(root, file)
		if err != nil {
			return err
		}
		f, err := parser.ParseFile(token.NewFileSet(), file, nil, parser.ImportsOnly)
		if err != nil {
			return err
		}
		room := path.Dir(filepath.ToSlash(rel))
		found[room] = append(found[room], []string{}...)
		for _, spec := range f.Imports {
			name, err := strconv.Unquote(spec.Path.Value)
			if err != nil {
				return err
			}
			if !slices.Contains(found[room], name) {
				found[room] = append(found[room], name)
			}
		}
		return nil
	})
	require.NoError(t, err)
	return found
}

func TestLayers(t *testing.T) {
	found := imports(t, "..")
	require.NotEmpty(t, found)
	for room, names := range found {
		may, known := layers[room]
		if !known && strings.HasSuffix(room, "test") {
			continue // a room of tests may import what it tests
		}
		require.True(t, known, "room %s is not in the table of app/layers_test.go", room)
		for _, name := range names {
			checkImport(t, room, name, may)
		}
	}
	for room, may := range layers {
		require.Contains(t, found, room, "the table names a room that is not there")
		for _, own := range may {
			require.Contains(t, found[room], "stillwet/"+own, "%s may import %s and does not (any more)", room, own)
		}
	}
	for module, rooms := range namers {
		for _, room := range rooms {
			names := func(name string) bool { return strings.HasPrefix(name, module) }
			require.True(t, slices.ContainsFunc(found[room], names), "%s may name %s and does not (any more)", room, module)
		}
	}
}

func checkImport(t *testing.T, room, name string, may []string) {
	t.Helper()
	if own, ok := strings.CutPrefix(name, "stillwet/"); ok {
		require.Contains(t, may, own, "%s must not import %s", room, own)
		return
	}
	if slices.Contains(core, room) {
		require.NotContains(t, notInCore, name, "%s is core: no clock, no randomness, no I/O", room)
	}
	if !strings.Contains(strings.Split(name, "/")[0], ".") {
		return // standard library
	}
	require.NotContains(t, core, room, "%s is core and may not import %s", room, name)
	for module, rooms := range namers {
		if strings.HasPrefix(name, module) {
			require.Contains(t, rooms, room, "%s must not name %s", room, name)
			return
		}
	}
	require.Fail(t, "a module nobody is allowed to name", "%s imports %s: add it to the table with its one room", room, name)
}

// The top of the tree holds what the house says and what tools force.
func TestTopLevel(t *testing.T) {
	entries, err := os.ReadDir("..")
	require.NoError(t, err)
	allowed := []string{"app", "scenarios", "internal", "views", "testdata", "exports", "README.md", "DEVELOPERS.md", "go.mod", "Makefile",
		"go.sum", ".ci", ".gitignore", ".gitattributes", "LICENSE", ".git", "bin", "data"}
	for _, e := range entries {
		require.Contains(t, allowed, e.Name())
	}
}

// Versions that something depends on beyond "newest": see DEVELOPERS.md.
func TestPins(t *testing.T) {
	text, err := os.ReadFile("../go.mod")
	require.NoError(t, err)
	for _, pin := range []string{"github.com/gofiber/fiber/v2 v2.52.15\n", "github.com/valyala/fasthttp v1.58.0\n"} {
		require.Contains(t, string(text), pin)
	}
}
