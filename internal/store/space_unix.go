//go:build linux || darwin || freebsd

package store

import (
	"errors"
	"syscall"
)

// freeSpace is what is left on a folder's disk for this program.
func freeSpace(dir string) (free uint64, known bool) {
	var st syscall.Statfs_t
	if err := syscall.Statfs(dir, &st); err != nil || st.Blocks == 0 { // a file system without a size
		return 0, false
	}
	return uint64(st.Bavail) * uint64(st.Bsize), true
}

func diskFull(err error) bool {
	return errors.Is(err, syscall.ENOSPC) || errors.Is(err, syscall.EDQUOT) || errors.Is(err, syscall.EROFS)
}
