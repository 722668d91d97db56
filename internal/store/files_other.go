//go:build !unix

package store

import (
	"fmt"
	"os"
	"path/filepath"
)

// LockFolder makes the lock file anew and holds it open; where an open file
// cannot be removed, a second process fails here.
func LockFolder(dir string) (*os.File, error) {
	path := filepath.Join(dir, LockFile)
	if err := os.Remove(path); err != nil && !os.IsNotExist(err) {
		return nil, fmt.Errorf("another stillwet is using %s; stop it first, or give this one another folder with --data", dir)
	}
	f, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return nil, fmt.Errorf("open the lock file: %w", err)
	}
	return f, nil
}
