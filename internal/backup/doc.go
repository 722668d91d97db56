// Package backup keeps a data folder in one file and makes a folder of it again.
//
// The file is a plain tar archive: first manifest.json, which says what the
// others are and what the records come to, then the files, among them head, the
// newest signed head. Nothing is called a backup before it was read again, and
// its data file opened and verified record by record.
package backup

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"time"

	"stillwet/internal/files"
	"stillwet/internal/store"
	"stillwet/internal/training"
)

// Names in an archive besides those of the data folder.
const (
	manifestName = "manifest.json"
	headName     = "head"
)

// mostTime is how long a backup or a restore may take.
const mostTime = 30 * time.Minute

// format is the version of the archive.
const format = 1

// Manifest says what an archive holds.
type Manifest struct {
	Format  int              `json:"format"`
	Version string           `json:"stillwet"` // of the program that made it
	Made    training.Instant `json:"made"`
	Holds   store.Holdings   `json:"holds"`
	Files   []Entry          `json:"files"`
}

// Entry is one file of an archive.
type Entry struct {
	Name   string `json:"name"`
	Size   int64  `json:"size"`
	SHA256 string `json:"sha256"`
}

// HasKey reports whether the key that signs is in the archive.
func (m Manifest) HasKey() bool {
	return slices.ContainsFunc(m.Files, func(e Entry) bool { return e.Name == store.KeyFile })
}

// Kind is what backups and folders have in common.
type Kind struct {
	// Beside are the small files that may stand beside data file and key.
	Beside []string
	// Verify checks the records of a folder by the services.
	Verify func(ctx context.Context, dir string) error
	Disk   files.Disk
}

// checked opens a folder, checks file and records and says what it holds.
func (k Kind) checked(ctx context.Context, dir string) (h store.Holdings, note string, err error) {
	s, err := store.OpenToRead(ctx, dir)
	if err != nil {
		return h, "", err
	}
	defer func() { err = errors.Join(err, s.Close()) }()
	if h, err = s.Holdings(ctx); err != nil {
		return h, "", err
	}
	head, err := s.Ledger(ctx)
	if err != nil {
		return h, "", err
	}
	return h, head.Note, k.Verify(ctx, dir)
}

// isThere reports whether a file is there, whatever it is.
func isThere(name string) (bool, error) {
	_, err := os.Lstat(name)
	if errors.Is(err, fs.ErrNotExist) {
		return false, nil
	}
	return err == nil, err
}

// stageOf is the folder beside a backup in which it is made.
func stageOf(out string) string {
	return filepath.Join(filepath.Dir(out), "."+filepath.Base(out)+stageEnd)
}

const stageEnd = ".part"

func refuseTaken(name string) error {
	there, err := isThere(name)
	if err == nil && there {
		err = fmt.Errorf("%s is there already, and a backup replaces nothing; give another name", name)
	}
	return err
}
