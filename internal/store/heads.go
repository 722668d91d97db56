package store

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"time"

	"stillwet/internal/files"
	"stillwet/internal/ledger"
	"stillwet/internal/training"
)

// HeadFile is the name of the file of signed heads.
const HeadFile = "heads"

// mostHeads is how many bytes are read of a file of heads: those of many years.
const mostHeads = 64 << 20

// headPatience is how long an act waits for its head to be written down. It is
// kept already: a share that does not answer must not hold up the clinic.
const headPatience = 2 * time.Second

// How a ledger may not follow from a head that was signed earlier.
var (
	ErrOtherKey  = errors.New("the head is not signed with this clinic's key: it is of another clinic, or was altered")
	ErrRewritten = errors.New("the ledger was rewritten: its records are not those that the head was signed for")
)

// BehindError tells of a ledger that is older than a head.
type BehindError struct{ Have, Signed int64 }

func (e *BehindError) Error() string {
	return fmt.Sprintf("the ledger has %d records and the head was signed for %d: %d signed records are missing", e.Have, e.Signed, e.Signed-e.Have)
}

// Follows checks that the ledger holds everything that a signed head was signed
// for, by the stored hashes. What the leaves say is for verify to check.
func (r reads) Follows(ctx context.Context, note string) error {
	head, err := ledger.OpenHead(note, r.public)
	if err != nil {
		return fmt.Errorf("%w (%w)", ErrOtherKey, err)
	}
	var size int64
	if err := r.q(ctx).Raw("SELECT COALESCE(MAX(i) + 1, 0) FROM ledger_leaves").Row().Scan(&size); err != nil {
		return fmt.Errorf("size of the ledger: %w", err)
	}
	if size < head.Size {
		return &BehindError{size, head.Size}
	}
	walk, err := ledger.Resume(head.Size, r.hashes(ctx))
	if err != nil {
		return err
	}
	if walk.Head() != head {
		return ErrRewritten
	}
	return nil
}

// ErrContradict says that a file of heads was added to by somebody else: the server
// writes only heads of ever larger ledgers.
var ErrContradict = errors.New("the heads in it contradict one another")

// HeadsOf reads the heads of a file of heads, or one head that a person copied, which
// may lack its last line break.
func HeadsOf(path string) ([]string, error) {
	notes, err := headsIn(path, "")
	if err == nil && len(notes) == 0 {
		return headsIn(path, "\n")
	}
	return notes, err
}

// headsIn reads the heads of a file, with something behind it. Each must be of a larger
// ledger than the one before. Of a file of many years the newest are read.
func headsIn(path, behind string) (notes []string, err error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, fmt.Errorf("read the heads: %w", err)
	}
	defer func() { err = errors.Join(err, f.Close()) }()
	info, err := f.Stat()
	if err != nil {
		return nil, fmt.Errorf("read the heads: %w", err)
	}
	newest := io.NewSectionReader(f, max(0, info.Size()-mostHeads), mostHeads)
	return increasing(io.MultiReader(newest, strings.NewReader(behind)))
}

func increasing(r io.Reader) (notes []string, err error) {
	size := int64(-1)
	for note, err := range ledger.EachHead(r) {
		if err != nil {
			return nil, fmt.Errorf("read the heads: %w", err)
		}
		next := ledger.SizeOf(note)
		if next <= size && (len(notes) == 0 || notes[len(notes)-1] != note) {
			return nil, fmt.Errorf("%w: one of %d records stands after one of %d. Somebody added to it to hide something, or two programs wrote to it", ErrContradict, next, size)
		}
		size, notes = next, append(notes, note)
	}
	return notes, nil
}

// HeadsKept is how the writing down of heads stands.
type HeadsKept struct {
	Last training.Instant // when a head was last written; "" since the start
	Err  string           // why the last one was not, "" when it was
}

// heads is the file that each new head is added to, best on another disk.
type heads struct {
	path     string
	disk     files.Disk
	warn     func(string)
	patience time.Duration

	mu    sync.Mutex // held while the file is written
	size  int64      // of the tree of the last head in it
	fresh bool       // the file is new, and its name may not last yet

	state sync.Mutex
	kept  HeadsKept
	told  bool // that the last one failed
}

// Heads is how the writing down of heads stands.
func (s *Store) Heads() HeadsKept {
	if s.heads == nil {
		return HeadsKept{}
	}
	s.heads.state.Lock()
	defer s.heads.state.Unlock()
	return s.heads.kept
}

// keep adds a head. It does not hold up the act for longer than it may; a failure
// is told once, and to who asks.
func (h *heads) keep(note, public string) {
	done := make(chan struct{})
	go func() {
		defer close(done)
		h.mu.Lock()
		defer h.mu.Unlock()
		h.noted(h.add(note, public))
	}()
	select {
	case <-done:
	case <-time.After(h.patience):
		h.noted(fmt.Errorf("%s does not answer", h.path))
	}
}

func (h *heads) noted(err error) {
	h.state.Lock()
	defer h.state.Unlock()
	if err == nil {
		h.kept, h.told = HeadsKept{Last: training.InstantOf(time.Now())}, false
		return
	}
	h.kept.Err = err.Error()
	if !h.told {
		h.told = true
		h.warn("The ledger's new head could not be written down: " + err.Error() + ". The record itself is kept; the next head is tried again.")
	}
}

// add writes a head unless a later one is there. It begins on a new line,
// whatever a failed write left.
func (h *heads) add(note, public string) (err error) {
	head, err := ledger.OpenHead(note, public)
	if err != nil || head.Size <= h.size {
		return err
	}
	f, err := h.disk.Append(h.path)
	if err != nil {
		return err
	}
	_, err = f.WriteString("\n" + note)
	if err == nil {
		err = f.Sync()
	}
	if err == nil && h.fresh {
		err = h.disk.SyncFolder(filepath.Dir(h.path))
	}
	if err = errors.Join(err, f.Close()); err == nil {
		h.size, h.fresh = head.Size, false
	}
	return err
}

// openHeads reads the file of heads and refuses a ledger that does not follow
// from its last one. A ledger that is ahead of it (the program ended before its
// head was written) is written down.
func (s *Store) openHeads(ctx context.Context, o Options) error {
	h := &heads{path: filepath.Join(o.Heads, HeadFile), disk: o.Disk, warn: o.Warn, patience: headPatience}
	notes, err := headsIn(h.path, "")
	h.fresh = errors.Is(err, fs.ErrNotExist)
	if err != nil && !h.fresh {
		return headRefused(h.path, err)
	}
	for _, note := range slices.Backward(spread(notes)) { // the newest says most
		if err := s.Follows(ctx, note); err != nil {
			return headRefused(h.path, err)
		}
		h.size = max(h.size, ledger.SizeOf(note))
	}
	now, err := s.Ledger(ctx)
	if err != nil {
		return err
	}
	s.heads = h
	if h.fresh && now.Size > 0 {
		o.Warn(fmt.Sprintf("The file of heads %s is new and begins with %d records. If one was there before, stop and see where it is.", h.path, now.Size))
	}
	if now.Note != "" {
		h.keep(now.Note, s.key.Public())
	}
	return nil
}

// mostAtStart is how many heads a start looks at; verify looks at every one.
const mostAtStart = 256

// spread picks heads from the oldest to the newest, which is among them.
func spread(notes []string) []string {
	if len(notes) <= mostAtStart {
		return notes
	}
	picked := make([]string, mostAtStart)
	for i := range picked {
		picked[i] = notes[i*(len(notes)-1)/(mostAtStart-1)]
	}
	return picked
}

// headRefused says what a ledger that does not fit means, and the ways out.
func headRefused(path string, err error) error {
	means := "Either the data file is not this clinic's, or the file of heads is not"
	var behind *BehindError
	switch {
	case errors.As(err, &behind):
		means = "An older data file was put in place of a newer one"
	case errors.Is(err, ErrContradict):
		means = "The file of heads itself cannot be trusted as it is"
	case errors.Is(err, ErrRewritten):
		means = "Somebody changed signed records, or put another data file in place"
	case !errors.Is(err, ErrOtherKey):
		means = "The ledger's stored hashes cannot be read"
	}
	return fmt.Errorf("the ledger does not follow from the heads in %s: %w. %s. Run stillwet verify and look for the right data file, or restore the newest backup; "+
		"only if you know why it is so and will go on with this one, start once with --accept-heads, which puts the file of heads aside", path, err, means)
}

// headsBefore looks at the file of heads before anything is made in the data
// folder: a missing data file must not be replaced by an empty one.
func headsBefore(o Options, dataFile string) error {
	if _, err := os.Stat(o.Heads); err != nil {
		return fmt.Errorf("the folder of heads %s is not there (%w); connect the disk or share, or name another folder with --heads", o.Heads, err)
	}
	path := filepath.Join(o.Heads, HeadFile)
	if o.AcceptHeads {
		return putAside(o, path)
	}
	notes, err := headsIn(path, "")
	if errors.Is(err, fs.ErrNotExist) {
		return nil
	}
	if err != nil {
		return headRefused(path, err)
	}
	if _, missing := os.Stat(dataFile); len(notes) > 0 && missing != nil {
		return fmt.Errorf("%s holds heads of a ledger, and the data file %s is not there; restore the newest backup, or name the right folder with --data; "+
			"to begin a new clinic here, start once with --accept-heads, which puts the file of heads aside", path, dataFile)
	}
	return nil
}

// putAside renames the file of heads to the first free name.
func putAside(o Options, path string) error {
	if _, err := os.Stat(path); err != nil {
		return nil // nothing to put aside
	}
	for n := 1; ; n++ {
		aside := fmt.Sprintf("%s.aside-%d", path, n)
		if _, err := os.Lstat(aside); err == nil {
			continue
		}
		if err := o.Disk.Rename(path, aside); err != nil {
			return fmt.Errorf("put the file of heads aside: %w", err)
		}
		o.Warn("The file of heads was put aside as " + aside + ". Keep it: it tells what was signed.")
		return nil
	}
}
