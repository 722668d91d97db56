//go:build unix

package store

import (
	"fmt"
	"os"
	"path/filepath"
	"syscall"
)

// LockFolder takes the folder's lock, which ends with the process however it
// ends.
func LockFolder(dir string) (*os.File, error) {
	f, err := os.OpenFile(filepath.Join(dir, LockFile), os.O_RDWR|os.O_CREATE, 0o600)
	if err != nil {
		return nil, fmt.Errorf("open the lock file: %w", err)
	}
	if err := syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB); err != nil {
		if closing := f.Close(); closing != nil {
			return nil, fmt.Errorf("%w; %w", err, closing)
		}
		return nil, fmt.Errorf("another stillwet is using %s; stop it first, or give this one another folder with --data", dir)
	}
	return f, nil
}
