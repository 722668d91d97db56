package scenarios

import (
	"bytes"
	"maps"
	"slices"
)

// SetOf is the set of some files by their names, within the caps.
func SetOf(files map[string][]byte) (*Set, error) {
	c := collector{texts: map[string][]byte{}}
	for _, name := range slices.Sorted(maps.Keys(files)) {
		if err := c.add(name, int64(len(files[name])), bytes.NewReader(files[name])); err != nil {
			return nil, err
		}
	}
	return c.set()
}

// Map are the files of the set by their names, not to be changed.
func (s *Set) Map() map[string][]byte { return maps.Clone(s.texts) }
