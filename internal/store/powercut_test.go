package store

import (
	"bufio"
	"context"
	"encoding/hex"
	"fmt"
	"hash/maphash"
	"maps"
	"math/rand/v2"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
)

// A power cut is replayed: a child signs while everything it does to its files
// is recorded; then, for each moment of the record, the disk is put together as a
// power cut at that moment could have left it. What was synced is there; of what
// was not, each write may be there, missing, or torn at a sector. It is assumed
// that a file that was synced has its name, and that the disk does not lie.

// deed is one thing a child did to a file, or said.
type deed struct {
	what string // write, truncate, sync, remove, create, said
	name string // below the data folder
	off  int64  // -1: at the end
	data []byte
	size int64
}

// The calls, as strace writes them with every text in hexadecimal.
var (
	callLine = regexp.MustCompile(`^(\w+)\((.*)\)\s+= (-?\d+)`)
	fdPath   = regexp.MustCompile(`^\d+<([^>]*)>`)
	quoted   = regexp.MustCompile(`"([^"]*)"`)
)

func unhex(t testing.TB, s string) []byte {
	b, err := hex.DecodeString(strings.ReplaceAll(s, `\x`, ""))
	require.NoError(t, err)
	return b
}

const traced = "trace=openat,pwrite64,write,fsync,fdatasync,ftruncate,unlink,unlinkat,rename,renameat,renameat2"

// record lets a child sign and reads what it did.
func record(t *testing.T, dir string, rounds int, sync string) (deeds []deed) {
	trace := filepath.Join(t.TempDir(), "trace")
	c := child(dir, rounds, sync, "-y", "-xx", "-s", "70000", "-e", traced, "-o", trace)
	c.Stderr = os.Stderr
	require.NoError(t, c.Run())
	f, err := os.Open(trace)
	require.NoError(t, err)
	defer func() { require.NoError(t, f.Close()) }()
	scan := bufio.NewScanner(f)
	scan.Buffer(nil, 1<<20)
	begun := map[string]string{} // by thread
	for scan.Scan() {
		thread, line, _ := strings.Cut(strings.TrimSpace(scan.Text()), " ")
		line = strings.TrimSpace(line)
		if half, cut := strings.CutSuffix(line, "<unfinished ...>"); cut {
			begun[thread] = strings.TrimSuffix(half, " ")
			continue
		}
		if _, rest, again := strings.Cut(line, " resumed>"); again && strings.HasPrefix(line, "<... ") {
			line = begun[thread] + rest
		}
		if m := callLine.FindStringSubmatch(line); m != nil && m[3] != "-1" {
			if d, ours := deedOf(t, dir, m[1], m[2]); ours {
				deeds = append(deeds, d)
			}
		}
	}
	require.NoError(t, scan.Err())
	return deeds
}

// deedOf reads a call; those on files elsewhere, and on what SQLite makes anew by
// itself, are none of ours.
func deedOf(t testing.TB, dir, call, args string) (d deed, ours bool) {
	var texts [][]byte
	for _, m := range quoted.FindAllStringSubmatch(args, -1) {
		texts = append(texts, unhex(t, m[1]))
	}
	if strings.HasPrefix(args, "1<") {
		return deed{what: "said", data: texts[0]}, true
	}
	path := ""
	if m := fdPath.FindStringSubmatch(args); m != nil {
		path = string(unhex(t, m[1]))
	} else if len(texts) > 0 {
		path = string(texts[0])
	}
	name, err := filepath.Rel(dir, path)
	if err != nil || strings.HasPrefix(name, "..") || strings.HasSuffix(name, "-shm") || name == LockFile {
		return d, false
	}
	last := func() int64 {
		n, err := strconv.ParseInt(strings.TrimSpace(args[strings.LastIndex(args, ",")+1:]), 10, 64)
		require.NoError(t, err, args)
		return n
	}
	switch call {
	case "pwrite64":
		return deed{what: "write", name: name, off: last(), data: texts[0]}, true
	case "write":
		return deed{what: "write", name: name, off: -1, data: texts[0]}, true
	case "ftruncate":
		return deed{what: "truncate", name: name, size: last()}, true
	case "fsync", "fdatasync":
		return deed{what: "sync", name: name}, true
	case "unlink", "unlinkat":
		return deed{what: "remove", name: name}, true
	case "openat":
		return deed{what: "create", name: name}, strings.Contains(args, "O_CREAT")
	}
	require.Fail(t, "a call that the replay does not know", "%s(%s)", call, args)
	return d, false
}

// sector is the most that a disk writes at once for sure.
const sector = 512

// onDisk is one file: what lasts, and what was done since.
type onDisk struct {
	lasting []byte
	named   bool // its name lasts
	since   []deed
}

func (f *onDisk) size() int64 {
	n := int64(len(f.lasting))
	for _, d := range f.since {
		n = sizeAfter(n, d)
	}
	return n
}

func sizeAfter(n int64, d deed) int64 {
	if d.what == "truncate" {
		return d.size
	}
	return max(n, d.off+int64(len(d.data)))
}

func applied(b []byte, d deed) []byte {
	n := sizeAfter(int64(len(b)), d)
	if int64(len(b)) < n {
		b = append(b, make([]byte, n-int64(len(b)))...)
	}
	b = b[:n]
	copy(b[min(d.off, n):], d.data)
	return b
}

// disk is the model of a folder's disk.
type disk map[string]*onDisk

func diskOf(t testing.TB, dir string) disk {
	d := disk{}
	require.NoError(t, filepath.WalkDir(dir, func(path string, e os.DirEntry, err error) error {
		if err != nil || e.IsDir() || e.Name() == LockFile || strings.HasSuffix(path, "-shm") {
			return err
		}
		text, err := os.ReadFile(path)
		name, _ := filepath.Rel(dir, path)
		d[name] = &onDisk{lasting: text, named: true}
		return err
	}))
	return d
}

func (d disk) do(x deed) {
	f := d[x.name]
	if f == nil {
		f = &onDisk{}
		if x.what == "sync" || x.what == "remove" {
			return // of a folder
		}
		d[x.name] = f
	}
	switch x.what {
	case "write", "truncate":
		if x.off < 0 {
			x.off = f.size()
		}
		f.since = append(f.since, x)
	case "sync":
		for _, s := range f.since {
			f.lasting = applied(f.lasting, s)
		}
		f.since, f.named = nil, true
	case "remove":
		delete(d, x.name) // as the file system has it: removed in order
	}
}

// The ways in which what was not synced may be there.
const (
	nothing = iota
	everything
	half
	torn // and from there on each differs
	ways
)

// left is a folder as a power cut leaves it.
func (d disk) left(way int, dice *rand.Rand) map[string][]byte {
	found := map[string][]byte{}
	for _, name := range slices.Sorted(maps.Keys(d)) {
		f := d[name]
		if !f.named && (way == nothing || way != everything && dice.IntN(2) == 0) {
			continue
		}
		b := slices.Clone(f.lasting)
		for _, x := range f.since {
			switch {
			case way == everything:
				b = applied(b, x)
			case way == nothing || dice.IntN(2) == 0:
			case way == half || x.what == "truncate":
				b = applied(b, x)
			default:
				for off := 0; off < len(x.data); off += sector {
					if dice.IntN(2) == 0 {
						part := x.data[off:min(off+sector, len(x.data))]
						b = applied(b, deed{what: "write", off: x.off + int64(off), data: part})
					}
				}
			}
		}
		found[name] = b
	}
	return found
}

// counted is what a replay came to, in states of the disk.
type counted struct {
	states, distinct int
	acts             int // acknowledged by the end
	lossy            int // lack an act that was acknowledged
	told             int // of these, do not follow from the head on the other disk
	ahead            int // lack nothing, and the head on the other disk is of more
	damaged          int // are not whole
}

func (c *counted) add(o counted) {
	c.states, c.distinct, c.acts = c.states+o.states, c.distinct+o.distinct, c.acts+o.acts
	c.lossy, c.told, c.ahead, c.damaged = c.lossy+o.lossy, c.told+o.told, c.ahead+o.ahead, c.damaged+o.damaged
}

func (c counted) String() string {
	return fmt.Sprintf("%d states of the disk (%d distinct), %d acts acknowledged: %d states lack one of them (%d of these told by the head on the other disk), %d are damaged",
		c.states, c.distinct, c.acts, c.lossy, c.told, c.damaged)
}

// seen is what a state of the disk holds.
type seen struct {
	acts    map[string]bool
	damage  error
	follows bool // from the head on the other disk
}

// replay puts the disk together at each moment and looks at it.
func replay(t *testing.T, base disk, deeds []deed, public string, each int, dice *rand.Rand) (c counted) {
	dir := filepath.Join(roomInMemory(t), "state")
	known := map[uint64]seen{} // many states are the same
	said := told{map[string]bool{}, map[string]bool{}}
	for _, d := range deeds {
		switch d.what {
		case "said":
			said.line(strings.TrimSpace(string(d.data)))
		case "create":
			base.do(d)
			continue
		default:
			base.do(d)
		}
		for n := range each {
			c.states++
			content := base.left(n%ways, dice)
			sum := sumOf(content)
			found, again := known[sum]
			if !again {
				c.distinct++
				unpack(t, dir, content)
				found = look(t, dir, public, c.distinct%50 == 0)
				known[sum] = found
			}
			c.judge(t, found, &said, d)
		}
	}
	c.acts = len(said.done)
	return c
}

func (c *counted) judge(t *testing.T, found seen, said *told, after deed) {
	switch {
	case found.damage == nil && said.invented(found.acts) > 0:
		found.damage = fmt.Errorf("%d acts are stored that nobody tried", said.invented(found.acts))
		fallthrough
	case found.damage != nil:
		if c.damaged++; c.damaged == 1 {
			t.Logf("after %s of %s: %v", after.what, after.name, found.damage)
		}
	case said.lost(found.acts) > 0:
		c.lossy++
		if !found.follows {
			c.told++
		}
	case !found.follows:
		c.ahead++
	}
}

var seed = maphash.MakeSeed()

func sumOf(content map[string][]byte) uint64 {
	var h maphash.Hash
	h.SetSeed(seed)
	for _, name := range slices.Sorted(maps.Keys(content)) {
		_, _ = fmt.Fprintf(&h, "%s %d ", name, len(content[name])) // it never fails
		_, _ = h.Write(content[name])
	}
	return h.Sum64()
}

// look reads a state of the disk, and some as a start does.
func look(t *testing.T, dir, public string, start bool) (found seen) {
	note, err := lastHead(filepath.Join(headsOf(dir), HeadFile))
	if err != nil {
		require.ErrorIs(t, err, os.ErrNotExist)
	}
	found.acts, found.follows, found.damage = storedActs(filepath.Join(dir, DataFile), public, note)
	if start && found.damage == nil {
		s, err := OpenWith(context.Background(), dir, Options{Heads: headsOf(dir)})
		require.Equal(t, found.follows, err == nil, "a start sees it too: %v", err)
		if err == nil {
			require.NoError(t, s.Close())
		}
	}
	return found
}

func unpack(t testing.TB, dir string, content map[string][]byte) {
	require.NoError(t, os.RemoveAll(dir))
	require.NoError(t, os.MkdirAll(headsOf(dir), 0o700))
	for name, text := range content {
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), text, 0o600))
	}
}

// roomInMemory is a folder in memory where there is one: a state lives for a
// millisecond.
func roomInMemory(t testing.TB) string {
	dir, err := os.MkdirTemp("/dev/shm", "states-")
	if err != nil {
		return t.TempDir()
	}
	t.Cleanup(func() { require.NoError(t, os.RemoveAll(dir)) })
	return dir
}

func publicOf(t testing.TB, dir string) string {
	s, err := OpenToRead(context.Background(), dir)
	require.NoError(t, err)
	defer func() { require.NoError(t, s.Close()) }()
	return s.Public()
}

// cutAt records and replays one run.
func cutAt(t *testing.T, rounds, each int, sync string, dice *rand.Rand) counted {
	dir := signingFolder(t)
	base, public := diskOf(t, dir), publicOf(t, dir)
	deeds := record(t, dir, rounds, sync)
	return replay(t, base, deeds, public, each, dice)
}

// statesWanted is how many crash states are put together: more with STATES.
func statesWanted(t testing.TB) int {
	n, err := strconv.Atoi(os.Getenv("STATES"))
	if os.Getenv("STATES") == "" {
		return 5000
	}
	require.NoError(t, err)
	return n
}

func TestAPowerCutLosesNothingAcknowledged(t *testing.T) {
	t.Parallel()
	luck := rand.Uint64()
	t.Logf("luck %d", luck)
	dice := rand.New(rand.NewPCG(luck, 0))
	var all counted
	for wanted := statesWanted(t); all.states < wanted; {
		all.add(cutAt(t, 30, 4, "", dice))
	}
	t.Log(all)
	require.Zero(t, all.lossy+all.ahead+all.damaged)
}

// The same without a sync at each commit loses what was acknowledged, so the
// replay can tell; and so can whoever has the heads.
func TestThePowerCutHasTeeth(t *testing.T) {
	t.Parallel()
	c := cutAt(t, 12, 2, "NORMAL", rand.New(rand.NewPCG(1, 2)))
	t.Log("synchronous=NORMAL: ", c)
	require.Positive(t, c.lossy)
	require.Equal(t, c.lossy, c.told)
	require.Zero(t, c.damaged)
}
