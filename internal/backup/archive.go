package backup

import (
	"archive/tar"
	"bufio"
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"

	"stillwet/internal/store"
)

// Limits of what is read from an archive.
const (
	mostSmallBytes = 64 << 10
	mostDataBytes  = 64 << 30
)

// names are what an archive may hold besides the manifest, in their order.
func (k Kind) names() []string {
	return slices.Concat([]string{headName}, k.Beside, []string{store.KeyFile, store.DataFile})
}

func mostOf(name string) int64 {
	if name == store.DataFile {
		return mostDataBytes
	}
	return mostSmallBytes
}

func entryOf(folder, name string) (e Entry, err error) {
	f, err := os.Open(filepath.Join(folder, name))
	if err != nil {
		return e, err
	}
	sum := sha256.New()
	n, err := io.Copy(sum, f)
	return Entry{name, n, hex.EncodeToString(sum.Sum(nil))}, errors.Join(err, f.Close())
}

func writeArchive(w io.Writer, folder string, m Manifest) error {
	text, err := json.MarshalIndent(m, "", "  ")
	if err != nil {
		return err
	}
	t := tar.NewWriter(w)
	head := func(name string, size int64) error {
		return t.WriteHeader(&tar.Header{Name: name, Size: size, Mode: 0o600, ModTime: m.Made.Time(), Format: tar.FormatPAX})
	}
	if err := head(manifestName, int64(len(text))); err != nil {
		return err
	}
	if _, err := t.Write(text); err != nil {
		return err
	}
	for _, e := range m.Files {
		if err := head(e.Name, e.Size); err != nil {
			return err
		}
		if err := copyFile(t, filepath.Join(folder, e.Name)); err != nil {
			return err
		}
	}
	return t.Close()
}

func copyFile(w io.Writer, name string) error {
	f, err := os.Open(name)
	if err != nil {
		return err
	}
	_, err = io.Copy(w, f)
	return errors.Join(err, f.Close())
}

// errNoBackup is said of a file that was never a backup, or is one no more.
var errNoBackup = errors.New("this is no whole backup")

func notWhole(format string, args ...any) error {
	return fmt.Errorf("%w: %s", errNoBackup, fmt.Sprintf(format, args...))
}

// read goes through an archive and gives each file it names to take, in order.
// Only known names, of the sizes and with the content the manifest says, pass.
func (k Kind) read(archive string, take func(Entry, io.Reader) error) (m Manifest, err error) {
	f, err := os.Open(archive)
	if err != nil {
		return m, err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	t := tar.NewReader(bufio.NewReaderSize(f, 1<<20))
	if m, err = k.readManifest(t); err != nil {
		return m, err
	}
	for _, e := range m.Files {
		if err := next(t, e.Name, e.Size); err != nil {
			return m, err
		}
		sum := sha256.New()
		content := io.TeeReader(t, sum)
		if err := take(e, content); err != nil {
			return m, err
		}
		if _, err := io.Copy(io.Discard, content); err != nil {
			return m, notWhole("%s is cut off (%v)", e.Name, err)
		}
		if hex.EncodeToString(sum.Sum(nil)) != e.SHA256 {
			return m, notWhole("%s is not what was written into it", e.Name)
		}
	}
	if _, err := t.Next(); !errors.Is(err, io.EOF) {
		return m, notWhole("it does not end where it should (%v)", err)
	}
	return m, nil
}

// next goes on to the file that comes next, which is the wanted one.
func next(t *tar.Reader, name string, size int64) error {
	h, err := t.Next()
	if err != nil {
		return notWhole("%s is missing (%v)", name, err)
	}
	if h.Name != name || h.Typeflag != tar.TypeReg {
		return notWhole("%q stands where %s should", h.Name, name)
	}
	if size >= 0 && h.Size != size || h.Size > mostOf(name) {
		return notWhole("%s has %d bytes", name, h.Size)
	}
	return nil
}

func (k Kind) readManifest(t *tar.Reader) (m Manifest, err error) {
	if err := next(t, manifestName, -1); err != nil {
		return m, err
	}
	text, err := io.ReadAll(t)
	if err != nil {
		return m, notWhole("%s is cut off (%v)", manifestName, err)
	}
	d := json.NewDecoder(bytes.NewReader(text))
	if err := d.Decode(&m); err != nil {
		return m, notWhole("%s cannot be read (%v)", manifestName, err)
	}
	if m.Format != format {
		return m, fmt.Errorf("the backup was written by a newer stillwet (format %d, this program knows %d); use the newer program", m.Format, format)
	}
	newest, err := store.Schema()
	if err != nil {
		return m, err
	}
	if m.Holds.Schema > newest {
		return m, fmt.Errorf("the backup was written by a newer stillwet, %s (schema %d, this program knows %d); restore it with the newer program", m.Version, m.Holds.Schema, newest)
	}
	return m, k.allowed(m.Files)
}

// allowed lets known names pass, each once and in the order they are written in.
func (k Kind) allowed(list []Entry) error {
	known := k.names()
	at := -1
	for _, e := range list {
		place := slices.Index(known, e.Name)
		if place <= at {
			return notWhole("%q is no file of a backup, or stands in the wrong place", e.Name)
		}
		if e.Size < 0 || e.Size > mostOf(e.Name) {
			return notWhole("%s has %d bytes", e.Name, e.Size)
		}
		at = place
	}
	if at != len(known)-1 {
		return notWhole("there is no %s in it", store.DataFile)
	}
	return nil
}
