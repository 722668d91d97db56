package scenarios_test

import (
	"archive/zip"
	"bytes"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/fstest"

	"github.com/stretchr/testify/require"

	"stillwet/internal/procedure"
	"stillwet/scenarios"
)

// setOf is a set of these files.
func setOf(t testing.TB, files map[string]string) (*scenarios.Set, error) {
	t.Helper()
	folder := fstest.MapFS{}
	for name, text := range files {
		folder[name] = &fstest.MapFile{Data: []byte(text)}
	}
	return scenarios.ReadSet(folder)
}

func texts(s *scenarios.Set) map[string]string {
	all := map[string]string{}
	for name, text := range s.Files() {
		all[name] = string(text)
	}
	return all
}

func TestASetGoesOutAndComesBackTheSame(t *testing.T) {
	built := scenarios.BuiltIn()
	small, err := setOf(t, map[string]string{"a.yaml": "", "b.model.log": "x\r\n", "c-d.parts.yaml": "# ä\n"})
	require.NoError(t, err)
	for _, s := range []*scenarios.Set{built, small} {
		back, err := scenarios.ReadZip(s.Zip())
		require.NoError(t, err)
		require.Equal(t, s.Hash(), back.Hash())
		require.Equal(t, texts(s), texts(back))
		require.Equal(t, s.Zip(), back.Zip(), "no times, one order")

		dir := filepath.Join(t.TempDir(), "out")
		require.NoError(t, s.WriteTo(dir))
		back, err = scenarios.ReadSet(os.DirFS(dir))
		require.NoError(t, err)
		require.Equal(t, s.Hash(), back.Hash())
		require.ErrorContains(t, s.WriteTo(dir), "is not empty")
	}
	require.Equal(t, files(t, nil)[proc].Data, func() []byte { text, _ := built.File(proc); return text }())
	require.Len(t, built.Names(), len(files(t, nil)))
}

func TestTheHashFollowsNamesAndTexts(t *testing.T) {
	seen := map[string]bool{}
	for _, files := range []map[string]string{
		{"a.yaml": "x", "b.yaml": "y"}, {"a.yaml": "y", "b.yaml": "x"}, {"a.yaml": "xy"}, {"a.yaml": "x"}, {"a.yaml": "x", "b.yaml": "y", "c.yaml": ""},
	} {
		s, err := setOf(t, files)
		require.NoError(t, err)
		require.False(t, seen[s.Hash()], "%v", files)
		seen[s.Hash()] = true
	}
}

type member struct{ name, text string }

func zipped(t testing.TB, members ...member) []byte {
	t.Helper()
	var out bytes.Buffer
	z := zip.NewWriter(&out)
	for _, m := range members {
		w, err := z.Create(m.name)
		require.NoError(t, err)
		_, err = w.Write([]byte(m.text))
		require.NoError(t, err)
	}
	require.NoError(t, z.Close())
	return out.Bytes()
}

func TestHostileZipsAreRefused(t *testing.T) {
	many, full := []member{}, []member{}
	for i := range scenarios.MaxFiles + 1 {
		many = append(many, member{fmt.Sprintf("f%d.yaml", i), ""})
	}
	for i := range scenarios.MaxSetText/procedure.MaxText + 1 {
		full = append(full, member{fmt.Sprintf("f%d.yaml", i), strings.Repeat("#", procedure.MaxText)})
	}
	one := member{"a.yaml", "id: a"}
	for name, c := range map[string]struct {
		zip  []byte
		want string
	}{
		"no zip":          {[]byte("id: a"), "no zip"},
		"empty":           {zipped(t), "there are no files of a set"},
		"folder":          {zipped(t, one, member{"set/b.yaml", "id: b"}), "stands in no folder"},
		"way out":         {zipped(t, one, member{"../b.yaml", "id: b"}), "stands in no folder"},
		"root":            {zipped(t, one, member{"/etc/b.yaml", "id: b"}), "stands in no folder"},
		"backslash":       {zipped(t, one, member{`..\b.yaml`, "id: b"}), "stands in no folder"},
		"points":          {zipped(t, one, member{"..", "id: b"}), "is called NAME.yaml"},
		"directory":       {zipped(t, one, member{"set/", ""}), "no plain file"},
		"other ending":    {zipped(t, one, member{"b.exe", "id: b"}), "is called NAME.yaml"},
		"capitals":        {zipped(t, one, member{"B.yaml", "id: b"}), "lower-case"},
		"line feed":       {zipped(t, one, member{"b\n.yaml", "id: b"}), "is called NAME.yaml"},
		"twice":           {zipped(t, one, one), "is there twice"},
		"many":            {zipped(t, many...), "at most 400 files"},
		"large":           {zipped(t, member{"a.yaml", strings.Repeat("#", procedure.MaxText+1)}), "larger than 1048576 bytes"},
		"bomb":            {zipped(t, member{"a.yaml", strings.Repeat(" ", 100<<20)}), "larger than 1048576 bytes"},
		"full":            {zipped(t, full...), "at most 8388608 bytes together"},
		"huge":            {make([]byte, 9<<20), "zip is larger than"},
		"alias":           {zipped(t, member{"a.yaml", "a: &x [1]\nb: [*x]\n"}), "a.yaml:1: anchors and aliases"},
		"billion laughs":  {zipped(t, member{"a.yaml", laughs()}), "a.yaml:1: anchors and aliases"},
		"merge of a row":  {zipped(t, member{"a.yaml", "a: &x {b: 1}\nc: {<<: *x}\n"}), "anchors and aliases"},
		"claims too few":  {lying(t, 3), ""},
		"claims too many": {lying(t, 1<<40), ""},
	} {
		t.Run(name, func(t *testing.T) {
			s, err := scenarios.ReadZip(c.zip)
			require.Error(t, err)
			require.Nil(t, s)
			require.ErrorContains(t, err, c.want)
		})
	}
}

func laughs() string {
	text := "a0: &a0 [ha, ha]\n"
	for i := range 40 {
		text += fmt.Sprintf("a%d: &a%d [*a%d, *a%d, *a%d]\n", i+1, i+1, i, i, i)
	}
	return text
}

// lying is a zip whose directory says another size than its member has.
func lying(t *testing.T, claimed uint64) []byte {
	var out bytes.Buffer
	z := zip.NewWriter(&out)
	w, err := z.CreateRaw(&zip.FileHeader{Name: "a.yaml", Method: zip.Store, UncompressedSize64: claimed, CompressedSize64: 9})
	require.NoError(t, err)
	_, err = w.Write([]byte("id: a-b-c"))
	require.NoError(t, err)
	require.NoError(t, z.Close())
	return out.Bytes()
}

func TestAFolderIsReadWithinTheSameCaps(t *testing.T) {
	large := strings.Repeat("#", procedure.MaxText+1)
	for want, files := range map[string]map[string]string{
		"larger than":         {"a.yaml": large},
		"lower-case":          {"A.yaml": "id: a"},
		"ends in .yaml":       {"a.yml": "id: a", "b.yaml": "id: b"},
		"anchors and aliases": {"a.yaml": "a: &x 1\n"},
		"there are no files":  {"README": "read me"},
	} {
		_, err := setOf(t, files)
		require.ErrorContains(t, err, want)
	}
	s, err := setOf(t, map[string]string{"a.yaml": "id: a", "README.md": "notes", ".hidden": large})
	require.NoError(t, err)
	require.Equal(t, []string{"a.yaml"}, s.Names())

	dir := t.TempDir()
	require.NoError(t, os.Symlink("/dev/zero", filepath.Join(dir, "a.yaml")))
	_, err = scenarios.ReadSet(os.DirFS(dir))
	require.ErrorContains(t, err, "no plain file")
}

func FuzzReadZip(f *testing.F) {
	f.Add(zipped(f, member{"a.yaml", "id: a"}, member{"a.model.log", "stillwet log 2\n"}))
	f.Add(zipped(f, member{"../a.yaml", "x: &a [*a]"}))
	f.Add([]byte("PK\x03\x04"))
	f.Fuzz(func(t *testing.T, data []byte) {
		s, err := scenarios.ReadZip(data)
		require.True(t, (s == nil) == (err != nil), "either a set or a fault")
		if err != nil {
			return
		}
		size := 0
		for _, text := range s.Files() {
			size += len(text)
		}
		require.LessOrEqual(t, len(s.Names()), scenarios.MaxFiles)
		require.LessOrEqual(t, size, scenarios.MaxSetText)
		back, err := scenarios.ReadZip(s.Zip())
		require.NoError(t, err)
		require.Equal(t, maps.Collect(s.Files()), maps.Collect(back.Files()))
	})
}
