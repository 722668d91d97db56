// Package files is what the program itself does to files, SQLite's work aside:
// whole files that are synced and renamed, lines that are added and synced. Its
// steps go through one place, so that a test can let any of them fail.
package files

import (
	"crypto/rand"
	"errors"
	"io"
	"os"
	"path/filepath"
)

// Disk is where files are. The zero value is the machine's.
type Disk struct {
	// Fail, when there is one, is asked before each step; its error is the step's.
	Fail func(step, name string) error
}

func (d Disk) may(step, name string) error {
	if d.Fail == nil {
		return nil
	}
	return d.Fail(step, name)
}

// File is a file that is being written.
type File struct {
	*os.File
	disk Disk
}

// Create makes a file that is not there yet, for its owner only.
func (d Disk) Create(name string) (*File, error) {
	return d.open(name, os.O_WRONLY|os.O_CREATE|os.O_EXCL)
}

// Append opens a file to add to, and makes it when it is not there.
func (d Disk) Append(name string) (*File, error) {
	return d.open(name, os.O_WRONLY|os.O_CREATE|os.O_APPEND)
}

func (d Disk) open(name string, how int) (*File, error) {
	if err := d.may("open", name); err != nil {
		return nil, err
	}
	f, err := os.OpenFile(name, how, 0o600)
	if err != nil {
		return nil, err
	}
	return &File{f, d}, nil
}

// Write writes, and when it is to fail writes half, as a full disk does.
func (f *File) Write(b []byte) (int, error) {
	if err := f.disk.may("write", f.Name()); err != nil {
		n, short := f.File.Write(b[:len(b)/2])
		return n, errors.Join(err, short)
	}
	return f.File.Write(b)
}

// ReadFrom takes the way through Write.
func (f *File) ReadFrom(r io.Reader) (int64, error) {
	return io.Copy(struct{ io.Writer }{f}, r)
}

// WriteString takes the way through Write.
func (f *File) WriteString(s string) (int, error) { return f.Write([]byte(s)) }

// Sync makes what was written last.
func (f *File) Sync() error {
	if err := f.disk.may("sync", f.Name()); err != nil {
		return err
	}
	return f.File.Sync()
}

// Rename gives a file its name, in place of one that had it.
func (d Disk) Rename(from, to string) error {
	if err := d.may("rename", to); err != nil {
		return err
	}
	return os.Rename(from, to)
}

// MakeFolder makes one folder that is not there yet, for its owner only.
func (d Disk) MakeFolder(name string) error {
	if err := d.may("open", name); err != nil {
		return err
	}
	return os.Mkdir(name, 0o700)
}

// SyncFolder makes the names in a folder as lasting as the contents.
func (d Disk) SyncFolder(dir string) error {
	if err := d.may("sync", dir); err != nil {
		return err
	}
	return syncFolder(dir)
}

// Whole writes a file beside the wanted one, syncs it and renames it: a file of
// that name is either whole or what it was before.
func (d Disk) Whole(name string, write func(*File) error) (err error) {
	f, err := d.Create(name + "." + rand.Text()[:8] + ".new")
	if err != nil {
		return err
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, Gone(f.Name()))
		}
	}()
	err = write(f)
	if err == nil {
		err = f.Sync()
	}
	if err = errors.Join(err, f.Close()); err != nil {
		return err
	}
	if err = d.Rename(f.Name(), name); err != nil {
		return err
	}
	return d.SyncFolder(filepath.Dir(name))
}

// Gone removes a file or a folder with all that is in it, and is content when
// there is none.
func Gone(name string) error { return os.RemoveAll(name) }
