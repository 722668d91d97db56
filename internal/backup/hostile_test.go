package backup

import (
	"archive/tar"
	"bytes"
	"errors"
	"io"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/store"
)

// entry is one of an archive that is written by hand.
type entry struct {
	tar.Header
	text []byte
}

func entriesOf(t *testing.T, file string) (list []entry) {
	f, err := os.Open(file)
	require.NoError(t, err)
	defer func() { require.NoError(t, f.Close()) }()
	r := tar.NewReader(f)
	for {
		h, err := r.Next()
		if errors.Is(err, io.EOF) {
			return list
		}
		require.NoError(t, err)
		text, err := io.ReadAll(r)
		require.NoError(t, err)
		list = append(list, entry{*h, text})
	}
}

func archiveOf(t *testing.T, list []entry) string {
	var b bytes.Buffer
	w := tar.NewWriter(&b)
	for _, e := range list {
		h := tar.Header{Name: e.Name, Size: int64(len(e.text)), Mode: 0o600, Typeflag: e.Typeflag, Linkname: e.Linkname}
		if e.Size > mostDataBytes {
			h.Size = e.Size
			require.NoError(t, w.WriteHeader(&h))
			return fileOf(t, b.Bytes())
		}
		require.NoError(t, w.WriteHeader(&h))
		_, err := w.Write(e.text)
		require.NoError(t, err)
	}
	require.NoError(t, w.Close())
	return fileOf(t, b.Bytes())
}

func fileOf(t *testing.T, text []byte) string {
	name := filepath.Join(t.TempDir(), "b.tar")
	require.NoError(t, os.WriteFile(name, text, 0o600))
	return name
}

func TestHostileArchivesMakeNothing(t *testing.T) {
	w := newWorld(t)
	w.signed()
	good := w.backup()
	manifest := func(old, replacement string) func([]entry) []entry {
		return func(list []entry) []entry {
			changed := bytes.Replace(list[0].text, []byte(old), []byte(replacement), 1)
			require.NotEqual(t, string(changed), string(list[0].text), old)
			list[0].text = changed
			return list
		}
	}
	atEnd := func(e entry) func([]entry) []entry {
		return func(list []entry) []entry { return append(list, e) }
	}
	for name, c := range map[string]struct {
		change func([]entry) []entry
		says   string
	}{
		"climbs":            {manifest(`"clinic.json"`, `"../clinic.json"`), "is no file of a backup"},
		"another's place":   {manifest(`"clinic.json"`, `"/etc/passwd"`), "is no file of a backup"},
		"unknown":           {manifest(`"clinic.json"`, `"stillwet.db-wal"`), "is no file of a backup"},
		"twice":             {manifest(`"clinic.json"`, `"stillwet.key"`), "stands in the wrong place"},
		"no data":           {manifest(`"stillwet.db"`, `"stillwet.dB"`), "is no file of a backup"},
		"newer schema":      {manifest(`"schema": `, `"schema": 9`), "written by a newer stillwet"},
		"newer format":      {manifest(`"format": 1`, `"format": 2`), "written by a newer stillwet"},
		"minus":             {manifest(`"size": `, `"size": -`), "bytes"},
		"no manifest":       {func(list []entry) []entry { return list[1:] }, "where manifest.json should"},
		"no JSON":           {manifest("{", "["), "cannot be read"},
		"two at once":       {atEnd(entry{tar.Header{Name: "x"}, []byte("x")}), "does not end where it should"},
		"climbs at the end": {atEnd(entry{tar.Header{Name: "../../x"}, []byte("x")}), "does not end where it should"},
		"other content":     {func(list []entry) []entry { list[2].text = []byte("[]\n"); return list }, "is not what was written"},
		"changed data":      {func(list []entry) []entry { list[len(list)-1].text[9000] ^= 1; return list }, "is not what was written"},
		"a link": {func(list []entry) []entry {
			list[2] = entry{tar.Header{Name: "clinic.json", Typeflag: tar.TypeSymlink, Linkname: "/etc/passwd"}, nil}
			return list
		}, "stands where clinic.json should"},
		"a folder": {func(list []entry) []entry {
			list[2] = entry{tar.Header{Name: "clinic.json", Typeflag: tar.TypeDir}, nil}
			return list
		}, "stands where clinic.json should"},
		"a huge manifest":   {func(list []entry) []entry { list[0].text = bytes.Repeat([]byte(" "), mostSmallBytes+1); return list }, "manifest.json has 65537 bytes"},
		"a huge data file":  {func(list []entry) []entry { list[len(list)-1].Size = mostDataBytes + 1; return list }, "stillwet.db has"},
		"nothing":           {func([]entry) []entry { return nil }, "this is no whole backup"},
		"less than it says": {func(list []entry) []entry { return list[:len(list)-1] }, "stillwet.db is missing"},
		"in another order":  {func(list []entry) []entry { list[1], list[2] = list[2], list[1]; return list }, "stands where head should"},
		"no SQLite":         {refilled(w, t, store.DataFile, []byte("no data file")), "file is not a database"},
		"another clinic's":  {refilled(w, t, store.KeyFile, otherKey(t)), "do not verify"},
		"another head":      {refilled(w, t, headName, []byte("no head\n")), "holds no signed head"},
	} {
		t.Run(name, func(t *testing.T) {
			dir := filepath.Join(t.TempDir(), "data")
			_, err := Restore(ctx, w.restoring(archiveOf(t, c.change(entriesOf(t, good))), dir))
			require.ErrorContains(t, err, c.says)
			require.NoDirExists(t, dir)
			require.NoFileExists(t, filepath.Join(filepath.Dir(dir), "clinic.json"))
		})
	}
}

// refilled puts other content into an archive, which says so itself.
func refilled(w *world, t *testing.T, name string, text []byte) func([]entry) []entry {
	return func(list []entry) []entry {
		folder := t.TempDir()
		for _, e := range list {
			content := e.text
			if e.Name == name {
				content = text
			}
			require.NoError(t, os.WriteFile(filepath.Join(folder, e.Name), content, 0o600))
		}
		m, err := w.kind().readManifest(tar.NewReader(bytes.NewReader(tarOf(t, list[:1]))))
		require.NoError(t, err)
		for i, e := range m.Files {
			m.Files[i], err = entryOf(folder, e.Name)
			require.NoError(t, err)
		}
		var b bytes.Buffer
		require.NoError(t, writeArchive(&b, folder, m))
		return entriesOf(t, fileOf(t, b.Bytes()))
	}
}

func tarOf(t *testing.T, list []entry) []byte {
	text, err := os.ReadFile(archiveOf(t, list))
	require.NoError(t, err)
	return text
}

func otherKey(t *testing.T) []byte {
	dir := t.TempDir()
	s, err := store.Open(ctx, dir)
	require.NoError(t, err)
	require.NoError(t, s.Close())
	text, err := os.ReadFile(filepath.Join(dir, store.KeyFile))
	require.NoError(t, err)
	return text
}

// Cut off anywhere, or with any byte changed, an archive makes no folder, or the
// byte is of the padding and the folder is the same.
func TestDamagedArchives(t *testing.T) {
	w := newWorld(t)
	w.signed()
	text, err := os.ReadFile(w.backup())
	require.NoError(t, err)
	passed := 0
	for at := 0; at < len(text); at += max(1, len(text)/60) {
		dir := filepath.Join(t.TempDir(), "data")
		require.Error(t, last(Restore(ctx, w.restoring(fileOf(t, text[:at]), dir))), "cut off at %d", at)
		require.NoDirExists(t, dir)
		flipped := bytes.Clone(text)
		flipped[at] ^= 0x10
		if _, err := Restore(ctx, w.restoring(fileOf(t, flipped), dir)); err == nil {
			passed++
			require.FileExists(t, filepath.Join(dir, store.DataFile))
		} else {
			require.NoDirExists(t, dir)
		}
	}
	t.Logf("of 60 changed bytes %d were of no account", passed)
	require.Less(t, passed, 6)
}

// An older program's backup is brought up when it is restored.
func TestABackupOfAnOlderSchema(t *testing.T) {
	w := newWorld(t)
	folder := t.TempDir()
	m := Manifest{Format: format, Version: "of old", Holds: store.Holdings{Schema: 5}}
	for _, name := range []string{store.KeyFile, store.DataFile} {
		text, err := os.ReadFile(filepath.Join("../../testdata/upgrades/schema-5", name))
		require.NoError(t, err)
		require.NoError(t, os.WriteFile(filepath.Join(folder, name), text, 0o600))
		e, err := entryOf(folder, name)
		require.NoError(t, err)
		m.Files = append(m.Files, e)
	}
	var b bytes.Buffer
	require.NoError(t, writeArchive(&b, folder, m))
	dir := t.TempDir()
	back, err := Restore(ctx, w.restoring(fileOf(t, b.Bytes()), dir))
	require.NoError(t, err)
	newest, err := store.Schema()
	require.NoError(t, err)
	require.Equal(t, newest, back.Holds.Schema)
	require.Positive(t, back.Holds.Leaves)
}

// Whatever an archive holds, only known files of known sizes come out of it.
func FuzzArchive(f *testing.F) {
	k := Kind{Beside: []string{"clinic.json"}}
	folder := f.TempDir()
	m := Manifest{Format: format}
	for _, name := range []string{headName, "clinic.json", store.DataFile} {
		require.NoError(f, os.WriteFile(filepath.Join(folder, name), []byte(name), 0o600))
		e, err := entryOf(folder, name)
		require.NoError(f, err)
		m.Files = append(m.Files, e)
	}
	var b bytes.Buffer
	require.NoError(f, writeArchive(&b, folder, m))
	f.Add(b.Bytes())
	f.Add([]byte{})
	f.Fuzz(func(t *testing.T, text []byte) {
		name := filepath.Join(t.TempDir(), "b.tar")
		require.NoError(t, os.WriteFile(name, text, 0o600))
		_, err := k.read(name, func(e Entry, content io.Reader) error {
			require.Contains(t, k.names(), e.Name)
			n, _ := io.Copy(io.Discard, content) // a cut is told by read
			require.LessOrEqual(t, n, e.Size)
			return nil
		})
		if err == nil {
			require.Contains(t, string(text), store.DataFile)
		}
	})
}
