package store

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"runtime"
	"strings"

	"gorm.io/gorm"

	"stillwet/internal/files"
	"stillwet/internal/ledger"
)

type clinicRow struct {
	ID          int64 `gorm:"primaryKey;autoIncrement:false"`
	VerifierKey string
}

func (clinicRow) TableName() string { return "clinic" }

// openKey reads the key that signs heads, or makes it for a file in which
// nothing has been signed.
func openKey(ctx context.Context, disk files.Disk, db *gorm.DB, dir string) (*ledger.Key, error) {
	path := filepath.Join(dir, KeyFile)
	known, leaves, err := signedState(ctx, db)
	if err != nil {
		return nil, err
	}
	text, err := readSecret(path)
	switch {
	case errors.Is(err, fs.ErrNotExist) && leaves > 0:
		return nil, fmt.Errorf("the key file %s is missing, and %d records were signed with it; put it back from the backup", path, leaves)
	case errors.Is(err, fs.ErrNotExist):
		if text, err = makeKey(disk, path); err != nil {
			return nil, err
		}
	case err != nil:
		return nil, err
	}
	key, err := ledger.ParseKey(string(text))
	if err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	if known == key.Public() {
		return key, nil
	}
	if leaves > 0 {
		return nil, fmt.Errorf("the key file %s belongs to another data file (it signs for %s)", path, key.Origin())
	}
	row := clinicRow{ID: 1, VerifierKey: key.Public()}
	if err := db.WithContext(ctx).Save(&row).Error; err != nil {
		return nil, fmt.Errorf("keep the verifier key: %w", err)
	}
	return key, nil
}

// readSecret reads the key file. One that others on the machine can open proves
// nothing: whoever has it signs as the clinic. Windows tells no such thing by mode.
func readSecret(path string) ([]byte, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, fmt.Errorf("read the key file: %w", err)
	}
	info, err := f.Stat()
	if err == nil && runtime.GOOS != "windows" && info.Mode().Perm()&0o077 != 0 {
		err = fmt.Errorf("the key file %s can be opened by others on this machine (mode %04o), who could sign as this clinic; close it to them: chmod 600 %s", path, info.Mode().Perm(), path)
	}
	if err != nil {
		return nil, errors.Join(err, f.Close())
	}
	text, err := io.ReadAll(io.LimitReader(f, mostKeyBytes))
	if err := errors.Join(err, f.Close()); err != nil {
		return nil, fmt.Errorf("read the key file: %w", err)
	}
	return text, nil
}

// mostKeyBytes is far more than a key file holds.
const mostKeyBytes = 4 << 10

func signedState(ctx context.Context, db *gorm.DB) (public string, leaves int64, err error) {
	var rows []clinicRow
	if err := db.WithContext(ctx).Where("id = 1").Find(&rows).Error; err != nil {
		return "", 0, fmt.Errorf("read the verifier key: %w", err)
	}
	if len(rows) > 0 {
		public = rows[0].VerifierKey
	}
	if err := db.WithContext(ctx).Model(&leafRow{}).Count(&leaves).Error; err != nil {
		return "", 0, fmt.Errorf("count the ledger's leaves: %w", err)
	}
	return public, leaves, nil
}

// makeKey writes a new key file, synced before anything is signed with it.
func makeKey(disk files.Disk, path string) ([]byte, error) {
	key, err := ledger.NewKey(rand.Reader, strings.ToLower(rand.Text()))
	if err != nil {
		return nil, err
	}
	err = disk.Whole(path, func(f *files.File) error {
		_, err := f.WriteString(key.File())
		return err
	})
	if err != nil {
		return nil, fmt.Errorf("write the key file: %w", err)
	}
	return []byte(key.File()), nil
}

// publicKey is the verifier key for reading: of the key file, or, for a copy
// that came without it, the one the data file names.
func publicKey(ctx context.Context, db *gorm.DB, dir string) (string, error) {
	text, err := os.ReadFile(filepath.Join(dir, KeyFile))
	if err == nil {
		key, err := ledger.ParseKey(string(text))
		if err != nil {
			return "", err
		}
		return key.Public(), nil
	}
	if !errors.Is(err, fs.ErrNotExist) {
		return "", fmt.Errorf("read the key file: %w", err)
	}
	public, _, err := signedState(ctx, db)
	return public, err
}
