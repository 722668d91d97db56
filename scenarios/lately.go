package scenarios

import "sync"

// lately keeps the libraries of the sets that were loaded last. A set never changes under
// its hash, and a library never changes, so nothing goes stale; proving one takes most of
// a second.
type lately struct {
	how   mode
	mu    sync.Mutex
	by    map[string]*Library
	order []string // oldest first
}

// mostLately bounds it: a clinic works on few versions at a time.
const mostLately = 8

var (
	followed = lately{how: following, by: map[string]*Library{}}
	outlined = lately{how: editing, by: map[string]*Library{}}
)

func (l *lately) load(set *Set) (*Library, error) {
	hash := set.Hash()
	l.mu.Lock()
	lib, ok := l.by[hash]
	l.mu.Unlock()
	if ok {
		return lib, nil
	}
	lib, err := load(setFS{set}, l.how)
	if err != nil {
		return nil, err
	}
	l.mu.Lock()
	defer l.mu.Unlock()
	if l.by[hash] == nil {
		if len(l.order) == mostLately {
			delete(l.by, l.order[0])
			l.order = l.order[1:]
		}
		l.by[hash], l.order = lib, append(l.order, hash)
	}
	return lib, nil
}
