//go:build !linux && !darwin && !freebsd

package store

// freeSpace is not known here.
func freeSpace(string) (free uint64, known bool) { return 0, false }

func diskFull(error) bool { return false }
