//go:build !unix

package files

// syncFolder does nothing where a folder cannot be synced.
func syncFolder(string) error { return nil }
