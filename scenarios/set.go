package scenarios

import (
	"archive/zip"
	"bytes"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"iter"
	"os"
	"path"
	"path/filepath"
	"regexp"
	"slices"
	"strings"

	"go.yaml.in/yaml/v3"

	"stillwet/internal/procedure"
)

// The caps of a set, looked at before anything of it is decoded.
const (
	MaxFiles   = 400
	MaxSetText = 8 << 20 // of all files together
	maxZip     = MaxSetText + MaxFiles*512
)

// Set is the files of a set: procedures, parts, scenarios with their models, programme
// and course. It never changes.
type Set struct {
	names []string // sorted
	texts map[string][]byte
}

var namePattern = regexp.MustCompile(`^[a-z0-9][a-z0-9.-]{0,99}\.(yaml|model\.log)$`)

// BuiltIn is the set that comes with the program.
func BuiltIn() *Set {
	s, err := ReadSet(builtin)
	if err != nil {
		panic(fmt.Errorf("the built-in set: %w", err))
	}
	return s
}

// ReadSet reads the set in the root of a file system. What is no NAME.yaml and no
// NAME.model.log is passed over: a folder may hold notes.
func ReadSet(files fs.FS) (*Set, error) {
	entries, err := fs.ReadDir(files, ".")
	if err != nil {
		return nil, err
	}
	c := collector{texts: map[string][]byte{}}
	for _, e := range entries {
		name := e.Name()
		if strings.HasSuffix(name, ".yml") {
			return nil, fmt.Errorf("%s: a file of a set ends in .yaml or .model.log", name)
		}
		if e.IsDir() || !strings.HasSuffix(name, ".yaml") && !strings.HasSuffix(name, ".model.log") {
			continue
		}
		if err := c.addFile(files, name); err != nil {
			return nil, err
		}
	}
	return c.set()
}

// collector gathers the files of a set within its caps.
type collector struct {
	texts map[string][]byte
	size  int
}

func (c *collector) addFile(files fs.FS, name string) error {
	about, err := fs.Stat(files, name) // of what a link leads to
	if err != nil {
		return err
	}
	if !about.Mode().IsRegular() {
		return fmt.Errorf("%s: is no plain file", name)
	}
	f, err := files.Open(name)
	if err != nil {
		return err
	}
	return errors.Join(c.add(name, about.Size(), f), f.Close())
}

// add takes a file of a size that is claimed: no more is read than a file may have.
func (c *collector) add(name string, claimed int64, r io.Reader) error {
	if !namePattern.MatchString(name) {
		return fmt.Errorf("%.120q: a file of a set is called NAME.yaml or NAME.model.log, with lower-case letters, digits, points and hyphens, and stands in no folder", name)
	}
	if _, twice := c.texts[name]; twice {
		return fmt.Errorf("%s: is there twice", name)
	}
	if len(c.texts) == MaxFiles {
		return fmt.Errorf("a set has at most %d files", MaxFiles)
	}
	tooLarge := fmt.Errorf("%s: the file is larger than %d bytes", name, procedure.MaxText)
	if claimed < 0 || claimed > procedure.MaxText {
		return tooLarge
	}
	text, err := io.ReadAll(io.LimitReader(r, procedure.MaxText+1))
	if err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	if len(text) > procedure.MaxText {
		return tooLarge
	}
	if c.size += len(text); c.size > MaxSetText {
		return fmt.Errorf("the files of a set have at most %d bytes together", MaxSetText)
	}
	c.texts[name] = text
	return nil
}

func (c *collector) set() (*Set, error) {
	if len(c.texts) == 0 {
		return nil, errors.New("there are no files of a set here: NAME.procedure.yaml, NAME.parts.yaml, NAME.yaml, NAME.model.log")
	}
	s := newSet(c.texts)
	for _, name := range s.names {
		if err := noAliases(name, s.texts[name]); err != nil {
			return nil, err
		}
	}
	return s, nil
}

func newSet(texts map[string][]byte) *Set {
	s := &Set{texts: texts}
	for name := range texts {
		s.names = append(s.names, name)
	}
	slices.Sort(s.names)
	return s
}

// noAliases refuses anchors and aliases, of which few bytes can be made many. They are
// looked for in the tree, where nothing is put in their place yet. What is no YAML is
// for the loader to tell.
func noAliases(name string, text []byte) error {
	if !strings.HasSuffix(name, ".yaml") || !bytes.ContainsAny(text, "&*") {
		return nil
	}
	var tree yaml.Node
	if yaml.Unmarshal(text, &tree) != nil {
		return nil
	}
	if line := aliasIn(&tree); line > 0 {
		return fmt.Errorf("%s:%d: anchors and aliases (&, *) are not read; write the row out", name, line)
	}
	return nil
}

// aliasIn is the line of the first anchor or alias, 0 when there is none.
func aliasIn(n *yaml.Node) int {
	if n.Anchor != "" || n.Kind == yaml.AliasNode {
		return max(1, n.Line)
	}
	for _, child := range n.Content {
		if line := aliasIn(child); line > 0 {
			return line
		}
	}
	return 0
}

// ReadZip reads a set from a zip that holds its files and nothing else.
func ReadZip(data []byte) (*Set, error) {
	if len(data) > maxZip {
		return nil, fmt.Errorf("the zip is larger than %d bytes", maxZip)
	}
	z, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		return nil, fmt.Errorf("this is no zip that can be read: %w", err)
	}
	if len(z.File) > MaxFiles {
		return nil, fmt.Errorf("a set has at most %d files; this zip has %d", MaxFiles, len(z.File))
	}
	c := collector{texts: map[string][]byte{}}
	for _, f := range z.File {
		if err := c.addMember(f); err != nil {
			return nil, err
		}
	}
	return c.set()
}

func (c *collector) addMember(f *zip.File) error {
	if !f.Mode().IsRegular() || f.Flags&1 != 0 {
		return fmt.Errorf("%.120q: is no plain file, or is locked with a password", f.Name)
	}
	r, err := f.Open()
	if err != nil {
		return fmt.Errorf("%.120q: %w", f.Name, err)
	}
	claimed := int64(min(f.UncompressedSize64, procedure.MaxText+1))
	return errors.Join(c.add(f.Name, claimed, r), r.Close())
}

// Zip is the set as one file, the same bytes for the same files.
func (s *Set) Zip() []byte {
	var out bytes.Buffer
	z := zip.NewWriter(&out)
	for _, name := range s.names {
		w, err := z.CreateHeader(&zip.FileHeader{Name: name, Method: zip.Deflate})
		if err == nil {
			_, err = w.Write(s.texts[name])
		}
		if err != nil {
			panic(err) // a buffer takes everything
		}
	}
	if err := z.Close(); err != nil {
		panic(err)
	}
	return out.Bytes()
}

// WriteTo writes the set's files into a folder that holds nothing, or is made.
func (s *Set) WriteTo(dir string) error {
	if err := os.MkdirAll(dir, 0o755); err != nil {
		return err
	}
	there, err := os.ReadDir(dir)
	if err != nil {
		return err
	}
	if len(there) > 0 {
		return fmt.Errorf("%s is not empty: files of two sets would be mixed", dir)
	}
	for name, text := range s.Files() {
		if err := os.WriteFile(filepath.Join(dir, name), text, 0o644); err != nil {
			return err
		}
	}
	return nil
}

// Hash is the fingerprint of the files with their names.
func (s *Set) Hash() string {
	h := sha256.New()
	for _, name := range s.names {
		sum := sha256.Sum256(s.texts[name])
		line := name + "\x00" + hex.EncodeToString(sum[:]) + "\n"
		h.Write([]byte(line))
	}
	return hex.EncodeToString(h.Sum(nil))
}

// Names are the names of the files, sorted.
func (s *Set) Names() []string { return slices.Clone(s.names) }

// File is the text of a file, not to be changed.
func (s *Set) File(name string) ([]byte, bool) {
	text, ok := s.texts[name]
	return text, ok
}

// Files are the files by name, sorted; the texts are not to be changed.
func (s *Set) Files() iter.Seq2[string, []byte] {
	return func(yield func(string, []byte) bool) {
		for _, name := range s.names {
			if !yield(name, s.texts[name]) {
				return
			}
		}
	}
}

// setFS is a set as the loader reads it.
type setFS struct{ *Set }

func (s setFS) ReadFile(name string) ([]byte, error) {
	text, ok := s.File(name)
	if !ok {
		return nil, &fs.PathError{Op: "read", Path: name, Err: fs.ErrNotExist}
	}
	return text, nil
}

func (s setFS) Glob(pattern string) (names []string, err error) {
	for _, name := range s.names {
		ok, err := path.Match(pattern, name)
		if err != nil {
			return nil, err
		}
		if ok {
			names = append(names, name)
		}
	}
	return names, nil
}

// Open is asked of every file system; the loader reads whole files.
func (setFS) Open(name string) (fs.File, error) {
	return nil, &fs.PathError{Op: "open", Path: name, Err: fs.ErrInvalid}
}
