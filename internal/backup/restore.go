package backup

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"slices"

	"stillwet/internal/files"
	"stillwet/internal/store"
)

// Restoring is one folder to be made of a backup.
type Restoring struct {
	Kind
	File  string
	Data  string   // a folder that is empty or not there
	Heads []string // files with signed heads that were kept elsewhere
	// HeadsOf reads the signed heads of such a file, oldest first.
	HeadsOf func(path string) (notes []string, err error)
	Older   bool // go on although a head says that records are missing
}

// Restored says what came of it.
type Restored struct {
	Manifest
	Note    string // the ledger's head
	Missing int64  // records that were signed after the backup, as far as heads tell
}

// restoring is the folder in the data folder that a backup is unpacked into.
const restoring = ".restoring"

// Restore makes a data folder of a backup. When it fails the folder is as it was.
func Restore(ctx context.Context, r Restoring) (out Restored, err error) {
	ctx, stop := context.WithTimeout(ctx, mostTime)
	defer stop()
	undo, err := r.begin()
	if err != nil {
		return out, err
	}
	defer func() { err = errors.Join(err, undo(err != nil)) }()
	stage := filepath.Join(r.Data, restoring)
	if err := r.Disk.MakeFolder(stage); err != nil {
		return out, err
	}
	if out.Manifest, err = r.unpack(stage); err != nil {
		return out, fmt.Errorf("%s: %w", r.File, err)
	}
	if err := r.prove(ctx, stage, &out); err != nil {
		return out, err
	}
	return out, r.move(stage, out.Manifest)
}

// begin makes the folder, if it has to, takes its lock and makes sure that it is
// empty. What it returns ends all that, and after a failure takes back what was
// made.
func (r Restoring) begin() (undo func(failed bool) error, err error) {
	made, err := missing(filepath.Join(r.Data, store.LockFile))
	if err == nil {
		err = os.MkdirAll(r.Data, 0o700)
	}
	if err != nil {
		return nil, err
	}
	lock, err := store.LockFolder(r.Data)
	if err != nil {
		return nil, err
	}
	undo = func(failed bool) error {
		err := errors.Join(files.Gone(filepath.Join(r.Data, restoring)), lock.Close())
		if failed {
			err = errors.Join(err, removeAll(made))
		}
		return err
	}
	if err := refuseFull(r.Data); err != nil {
		return nil, errors.Join(err, lock.Close(), removeAll(made))
	}
	return undo, files.Gone(filepath.Join(r.Data, restoring))
}

// missing is a file, and each folder above it, that is not there, lowest first.
func missing(name string) (list []string, err error) {
	for at := name; ; at = filepath.Dir(at) {
		there, err := isThere(at)
		if there || err != nil {
			return list, err
		}
		list = append(list, at)
	}
}

// refuseFull refuses a folder with something in it. What a start or a restore that
// ended at once leaves behind counts as nothing.
func refuseFull(dir string) error {
	entries, err := os.ReadDir(dir)
	for _, e := range entries {
		if !slices.Contains([]string{store.LockFile, restoring}, e.Name()) {
			return fmt.Errorf("%s is not empty (there is %s in it), and a restore replaces nothing; name an empty folder, or move what is there away", dir, e.Name())
		}
	}
	return err
}

func removeAll(names []string) (err error) {
	for _, name := range names {
		err = errors.Join(err, os.Remove(name))
	}
	return err
}

// unpack writes the archive's files into the stage, synced.
func (r Restoring) unpack(stage string) (Manifest, error) {
	return r.read(r.File, func(e Entry, content io.Reader) error {
		f, err := r.Disk.Create(filepath.Join(stage, e.Name))
		if err != nil {
			return err
		}
		_, err = io.Copy(f, content)
		if err == nil {
			err = f.Sync()
		}
		return errors.Join(err, f.Close())
	})
}

// prove checks what was unpacked: record by record, and against heads, its own
// and those that were kept elsewhere.
func (r Restoring) prove(ctx context.Context, stage string, out *Restored) error {
	data := filepath.Join(stage, store.DataFile)
	if err := store.BringUp(ctx, data); err != nil {
		return err
	}
	holds, note, err := r.checked(ctx, stage)
	if err != nil {
		return fmt.Errorf("%s holds records that do not verify: %w", r.File, err)
	}
	out.Holds, out.Note = holds, note
	there, err := isThere(filepath.Join(stage, headName))
	if err != nil {
		return err
	}
	if there {
		own := r
		own.HeadsOf = store.HeadsOf
		err = own.follows(ctx, stage, filepath.Join(stage, headName), out)
	}
	for _, path := range r.Heads {
		err = errors.Join(err, r.follows(ctx, stage, path, out))
	}
	return err
}

// follows compares what was unpacked with the last head of a file.
func (r Restoring) follows(ctx context.Context, stage, path string, out *Restored) (err error) {
	notes, err := r.HeadsOf(path)
	if err != nil {
		return fmt.Errorf("%s: %w", path, err)
	}
	if len(notes) == 0 {
		return fmt.Errorf("%s holds no signed head, which is five lines; the last begins with \u2014", path)
	}
	s, err := store.OpenToRead(ctx, stage)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, s.Close()) }()
	err = s.Follows(ctx, notes[len(notes)-1])
	var behind *store.BehindError
	if errors.As(err, &behind) {
		out.Missing = max(out.Missing, behind.Signed-behind.Have)
		if r.Older {
			return nil
		}
		return fmt.Errorf("%s is older than the head in %s: %w. Look for a newer backup; if there is none, restore with --older, and have those records signed again", r.File, path, err)
	}
	if err != nil {
		return fmt.Errorf("%s does not fit the head in %s: %w", r.File, path, err)
	}
	return nil
}

// move puts the files where they belong, the data file first: a start after half
// a move finds records without their key, which it refuses, and never a key
// without its records, on which it would begin an empty clinic.
func (r Restoring) move(stage string, m Manifest) (err error) {
	var moved []string
	defer func() {
		if err != nil {
			for _, name := range moved {
				err = errors.Join(err, files.Gone(name))
			}
		}
	}()
	for _, e := range slices.Backward(m.Files) {
		if e.Name == headName {
			continue
		}
		to := filepath.Join(r.Data, e.Name)
		if err := r.Disk.Rename(filepath.Join(stage, e.Name), to); err != nil {
			return fmt.Errorf("put %s in its place: %w", e.Name, err)
		}
		moved = append(moved, to)
	}
	if err := r.Disk.SyncFolder(r.Data); err != nil {
		return fmt.Errorf("put the files in their places: %w", err)
	}
	return nil
}
