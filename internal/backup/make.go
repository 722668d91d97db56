package backup

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"

	"stillwet/internal/files"
	"stillwet/internal/store"
	"stillwet/internal/training"
)

// Making is one backup to be made.
type Making struct {
	Kind
	Store      *store.Store // of the folder, open in any way
	Data       string       // the folder
	Out        string       // the file, which is not there
	WithoutKey bool
	Version    string
	Now        training.Instant
}

// Make writes a backup. It may run beside a server that writes. When it fails
// there is no file.
func Make(ctx context.Context, m Making) (made Manifest, err error) {
	ctx, stop := context.WithTimeout(ctx, mostTime)
	defer stop()
	if err := refuseTaken(m.Out); err != nil {
		return made, err
	}
	stage := stageOf(m.Out)
	if err := m.Disk.MakeFolder(stage); err != nil {
		if errors.Is(err, fs.ErrExist) {
			err = fmt.Errorf("another backup to this file is under way or was cut short; if none is, remove %s", stage)
		}
		return made, err
	}
	defer func() { err = errors.Join(err, files.Gone(stage)) }()
	folder := filepath.Join(stage, "data")
	if err := m.Disk.MakeFolder(folder); err != nil {
		return made, err
	}
	if err := m.gather(ctx, folder); err != nil {
		return made, err
	}
	made, err = m.describe(ctx, folder)
	if err != nil {
		return made, fmt.Errorf("no backup was made, for the copy of the data does not verify: %w (to keep the folder as it is, stop the server and copy it)", err)
	}
	archive := filepath.Join(stage, "archive.tar")
	if err := m.pack(archive, folder, made); err != nil {
		return made, fmt.Errorf("write the backup: %w", err)
	}
	return made, m.finish(archive)
}

// gather copies what a backup holds into a folder that is like the data folder.
func (m Making) gather(ctx context.Context, folder string) error {
	if err := m.Store.CopyTo(ctx, filepath.Join(folder, store.DataFile)); err != nil {
		return err
	}
	names := m.Beside
	if !m.WithoutKey {
		names = append([]string{store.KeyFile}, names...)
	}
	for _, name := range names {
		if err := m.take(filepath.Join(m.Data, name), filepath.Join(folder, name)); err != nil {
			return fmt.Errorf("copy %s: %w", name, err)
		}
	}
	return nil
}

// take copies one small file, when it is there.
func (m Making) take(from, to string) (err error) {
	f, err := os.Open(from)
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	text, err := io.ReadAll(io.LimitReader(f, mostSmallBytes+1))
	if err != nil {
		return err
	}
	if len(text) > mostSmallBytes {
		return fmt.Errorf("%s is larger than %d bytes, which no such file is", from, mostSmallBytes)
	}
	return m.write(to, text)
}

func (m Making) write(name string, text []byte) error {
	f, err := m.Disk.Create(name)
	if err != nil {
		return err
	}
	_, err = f.Write(text)
	return errors.Join(err, f.Close())
}

// describe checks the copy and writes its head and what it holds.
func (m Making) describe(ctx context.Context, folder string) (d Manifest, err error) {
	holds, note, err := m.checked(ctx, folder)
	if err != nil {
		return d, err
	}
	if note != "" {
		if err := m.write(filepath.Join(folder, headName), []byte(note)); err != nil {
			return d, err
		}
	}
	d = Manifest{Format: format, Version: m.Version, Made: m.Now, Holds: holds}
	for _, name := range m.names() {
		e, err := entryOf(folder, name)
		if errors.Is(err, fs.ErrNotExist) {
			continue
		}
		if err != nil {
			return d, err
		}
		d.Files = append(d.Files, e)
	}
	return d, nil
}

// pack writes the archive and reads it again.
func (m Making) pack(archive, folder string, made Manifest) (err error) {
	f, err := m.Disk.Create(archive)
	if err != nil {
		return err
	}
	w := bufio.NewWriterSize(f, 1<<20)
	err = writeArchive(w, folder, made)
	if err == nil {
		err = w.Flush()
	}
	if err == nil {
		err = f.Sync()
	}
	if err = errors.Join(err, f.Close()); err != nil {
		return err
	}
	_, err = m.read(archive, func(Entry, io.Reader) error { return nil })
	return err
}

func (m Making) finish(archive string) error {
	if err := refuseTaken(m.Out); err != nil {
		return err
	}
	if err := m.Disk.Rename(archive, m.Out); err != nil {
		return fmt.Errorf("write the backup: %w", err)
	}
	if err := m.Disk.SyncFolder(filepath.Dir(m.Out)); err != nil {
		return errors.Join(fmt.Errorf("write the backup: %w", err), files.Gone(m.Out))
	}
	return nil
}
