package scenarios

import (
	"archive/zip"
	"bytes"
	"io/fs"
	"maps"
	"slices"
)

// BuiltInFiles are the files of the built-in set, by name: what a clinic begins with.
func BuiltInFiles() (map[string][]byte, error) { return FilesOf(builtin) }

// FilesOf are the files of a set in the root of a file system.
func FilesOf(in fs.FS) (map[string][]byte, error) {
	files := map[string][]byte{}
	for _, pattern := range []string{"*.yaml", "*.model.log"} {
		names, err := fs.Glob(in, pattern)
		if err != nil {
			return nil, err
		}
		for _, name := range names {
			if files[name], err = fs.ReadFile(in, name); err != nil {
				return nil, err
			}
		}
	}
	return files, nil
}

// LoadFiles reads and proves a set that lies in memory.
func LoadFiles(files map[string][]byte) (*Library, error) {
	var text bytes.Buffer
	w := zip.NewWriter(&text)
	for _, name := range slices.Sorted(maps.Keys(files)) {
		f, err := w.CreateHeader(&zip.FileHeader{Name: name, Method: zip.Store})
		if err != nil {
			return nil, err
		}
		if _, err := f.Write(files[name]); err != nil {
			return nil, err
		}
	}
	if err := w.Close(); err != nil {
		return nil, err
	}
	r, err := zip.NewReader(bytes.NewReader(text.Bytes()), int64(text.Len()))
	if err != nil {
		return nil, err
	}
	return LoadFS(r)
}
