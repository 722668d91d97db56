package main

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/demo"
	"stillwet/internal/store"
	"stillwet/internal/training"
	"stillwet/scenarios"
)

// exportedOf writes a version of a folder's set out and gives its folder.
func exportedOf(t *testing.T, data string, more ...string) string {
	dir := filepath.Join(t.TempDir(), "set")
	code, out, errs := stillwet(t, append([]string{"set", "export", "--data", data, dir}, more...)...)
	require.Equal(t, 0, code, out+errs)
	return dir
}

func hashOf(t *testing.T, dir string) string {
	set, err := scenarios.ReadSet(os.DirFS(dir))
	require.NoError(t, err)
	return set.Hash()
}

// A clinic of before begins, when this program first opens it, with the set of the program.
func TestASetGoesOutAndComesBackAsItWas(t *testing.T) {
	data := folder(t)
	out := filepath.Join(t.TempDir(), "set")
	code, _, errs := stillwet(t, "set", "export", "--data", data, out)
	require.Equal(t, 2, code)
	require.Contains(t, errs, "no version", "it was not served yet")
	c, err := (&folderFlags{Data: data}).open(t.Context(), store.Open)
	require.NoError(t, err)
	require.NoError(t, c.service.Begin(t.Context()))
	require.NoError(t, c.close())

	dir := exportedOf(t, data)
	require.Equal(t, scenarios.BuiltIn().Hash(), hashOf(t, dir))
	code, _, errs = stillwet(t, "set", "export", "--data", data, dir)
	require.Equal(t, 2, code)
	require.Contains(t, errs, "is not empty")
	code, said, errs := stillwet(t, "set", "import", "--data", data, dir)
	require.Equal(t, 0, code, errs)
	require.Contains(t, said, hashOf(t, dir))
	require.Contains(t, said, "builds on version 1")
	code, _, errs = stillwet(t, "set", "import", "--data", data, dir)
	require.Equal(t, 2, code)
	require.Contains(t, errs, "There is a draft already")
	code, said, errs = stillwet(t, "verify", "--data", data)
	require.Equal(t, 0, code, said+errs)
}

func TestAFaultyFolderIsNotImported(t *testing.T) {
	data := servedFixture(t, "schema-11")
	dir := exportedOf(t, data, "--version", "1")
	name := filepath.Join(dir, "programme.yaml")
	text, err := os.ReadFile(name)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(name, append(text, "nonsense: 1\n"...), 0o600))
	code, _, errs := stillwet(t, "set", "import", "--data", data, dir)
	require.Equal(t, 2, code)
	require.Contains(t, errs, "programme.yaml:")
	code, _, errs = stillwet(t, "set", "import", "--data", t.TempDir(), dir)
	require.Equal(t, 2, code)
	require.Contains(t, errs, "no data file", "no clinic is begun by it")
}

// What a clinic has in force decides, and not what is built in: a product by its name.
func TestARunningClinicReadsItsOwnSet(t *testing.T) {
	data := servedFixture(t, "schema-11")
	c, err := (&folderFlags{Data: data, Zone: "America/Chicago"}).open(t.Context(), store.OpenToRead)
	require.NoError(t, err)
	p, ok := c.library.Procedure("between-patients")
	require.True(t, ok)
	require.NoError(t, c.close())
	built, err := scenarios.Load()
	require.NoError(t, err)
	own, _ := built.Procedure("between-patients")
	require.NotEqual(t, own.Hash, p.Hash)
	log := file(t, strings.Replace(modelText(t), "procedure between-patients -", "procedure between-patients "+p.Hash, 1))
	code, out, errs := stillwet(t, "assess", "--data", data, log)
	require.Equal(t, 0, code, out+errs)
	require.Contains(t, out, p.Hash[:12])
	code, _, errs = stillwet(t, "assess", log)
	require.Equal(t, 2, code)
	require.Contains(t, errs, "another version of procedure")
}

func modelText(t *testing.T) string {
	text, err := os.ReadFile(model)
	require.NoError(t, err)
	return string(text)
}

// A set in force that this program cannot read stops the server with a sentence, and
// nothing that does not need it: what was signed is verified and handed on.
func TestASetThatCannotBeReadIsToldAtTheStart(t *testing.T) {
	data := servedFixture(t, "schema-11")
	service := func(how func(context.Context, string) (*store.Store, error)) error {
		c, err := (&folderFlags{Data: data, Zone: "America/Chicago"}).openUnread(t.Context(), how)
		require.NoError(t, err)
		defer func() { require.NoError(t, c.close()) }()
		config := c.service.Config
		config.LoadSet = func(map[string][]byte) (training.Library, error) { return nil, os.ErrInvalid }
		return training.New(config).Stock(t.Context())
	}
	require.ErrorContains(t, service(store.OpenToRead), "version 3 of the clinic's set holds, and this program cannot read it")
	code, out, errs := stillwet(t, "verify", "--data", data)
	require.Equal(t, 0, code, out+errs)
}

// The demo's second version asks what a library asks whose educator confirmed every row.
func TestTheDemosSetIsTheConfirmedOne(t *testing.T) {
	d, err := confirmedSet()
	require.NoError(t, err)
	lib, err := loadSet(d.Files)
	require.NoError(t, err)
	built, err := scenarios.Load()
	require.NoError(t, err)
	confirmed := built.Confirmed(demo.Educator, demo.ConfirmedOn)
	for _, c := range confirmed.Competencies() {
		want, _ := confirmed.Procedure(c.Procedure)
		is, ok := lib.Procedure(c.Procedure)
		require.True(t, ok)
		require.Equal(t, want.Definition, is.Definition)
	}
	require.Len(t, lib.Scenarios(), len(confirmed.Scenarios()))
}
