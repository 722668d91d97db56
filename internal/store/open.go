package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"runtime"

	"github.com/mattn/go-sqlite3"
	"gorm.io/driver/sqlite"
	"gorm.io/gorm"
	"gorm.io/gorm/logger"

	"stillwet/internal/files"
)

// oldestSQLite is 3.51.3: before it, two connections that wrote and
// checkpointed at once could, rarely, damage a file.
const oldestSQLite = 3051003

// Pragmas stand in the DSN so that every pooled connection has them.
const (
	commonDSN = "_journal_mode=WAL&_busy_timeout=5000&_foreign_keys=on&_recursive_triggers=on&_stmt_cache_size=64&_cache_size=-16384"
	writerDSN = commonDSN + "&_txlock=immediate&_synchronous=FULL"
	readerDSN = commonDSN + "&_query_only=1&_synchronous=NORMAL"
)

// Options are what a server says about its data folder.
type Options struct {
	Heads       string       // folder of the file of heads, which is there; "" keeps none
	AcceptHeads bool         // put the file of heads aside and begin it anew
	NetworkDisk bool         // the data folder may lie on another machine's disk
	Warn        func(string) // hears what somebody should know and nothing is refused for
	Disk        files.Disk
}

// Holds reports whether a folder holds a clinic: its data file, or a key that is left of one.
func Holds(dir string) (bool, error) {
	for _, name := range []string{DataFile, KeyFile} {
		_, err := os.Stat(filepath.Join(dir, name))
		if err == nil || !errors.Is(err, os.ErrNotExist) {
			return err == nil, err
		}
	}
	return false, nil
}

// Open opens the data folder for a command that writes; it makes
// folder, file and key when there are none. A second Open of the same folder
// is refused while the first is open. It keeps no heads and takes any disk: what a
// demo loses was invented. ErrReadOnly says that it can perhaps be opened to read.
func Open(ctx context.Context, dir string) (*Store, error) {
	return OpenWith(ctx, dir, Options{NetworkDisk: true})
}

// OpenWith opens the data folder as Open does, with a server's options.
func OpenWith(ctx context.Context, dir string, o Options) (s *Store, err error) {
	if o.Warn == nil {
		o.Warn = func(string) {}
	}
	if err := checkEngine(); err != nil {
		return nil, err
	}
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return nil, fmt.Errorf("make the data folder: %w", err)
	}
	if err := onThisMachine(dir, o.NetworkDisk); err != nil {
		return nil, err
	}
	s = &Store{dir: dir, space: freeSpace}
	defer func() {
		if err != nil {
			if Unwritable(err) {
				err = fmt.Errorf("%w: %w", ErrReadOnly, err)
			}
			err = errors.Join(err, s.Close())
			s = nil
		}
	}()
	if s.lock, err = LockFolder(dir); err != nil {
		return s, err
	}
	path := filepath.Join(dir, DataFile)
	if o.Heads != "" {
		if err = headsBefore(o, path); err != nil {
			return s, err
		}
	}
	if err = s.openFile(ctx, path, o.Disk); err != nil {
		return s, err
	}
	if o.Heads != "" {
		err = s.openHeads(ctx, o)
	}
	return s, err
}

// openFile opens data file and key to write and to read.
func (s *Store) openFile(ctx context.Context, path string, disk files.Disk) (err error) {
	if err := touch(path); err != nil {
		return err
	}
	if s.w, err = connect(path, writerDSN, 1); err != nil {
		return err
	}
	if err = checkFile(ctx, s.w); err != nil {
		return fmt.Errorf("%s: %w", path, err)
	}
	if err = migrate(ctx, s.w); err != nil {
		return fmt.Errorf("%s: %w", path, err)
	}
	if s.key, err = openKey(ctx, disk, s.w, filepath.Dir(path)); err != nil {
		return err
	}
	if s.r, err = connect(path, readerDSN, max(4, 2*runtime.NumCPU())); err != nil {
		return err
	}
	s.reads = reads{s.r, s.key.Public()}
	u := unit{reads{s.w, s.reads.public}, s.key, &growth{}}
	return u.begin(ctx) // nothing could be signed on top of a ledger that does not fit its head
}

// onThisMachine refuses a disk that belongs to another machine: its locks and
// syncs are not to be relied on, and SQLite files on such disks get damaged.
func onThisMachine(dir string, anyway bool) error {
	kind, err := files.Network(dir)
	if err != nil {
		return fmt.Errorf("which disk is %s on? %w", dir, err)
	}
	return refuseNetwork(dir, kind, anyway)
}

func refuseNetwork(dir, kind string, anyway bool) error {
	if kind == "" || anyway {
		return nil
	}
	return fmt.Errorf("%s lies on a network file system (%s), where a data file gets damaged sooner or later; put the data folder on a disk of this machine and let backups go to the other one, "+
		"or, if you know that its locks and syncs can be relied on, start with --network-disk", dir, kind)
}

// OpenBeside opens the data folder for a command that adds a few records, also while a
// server has it open: writers wait for each other, and each transaction begins from what
// the file then holds. It makes and migrates nothing while another has the folder. The head
// of what it adds is written down by the server, with its next one or at its start.
func OpenBeside(ctx context.Context, dir string) (s *Store, err error) {
	path := filepath.Join(dir, DataFile)
	if _, err := os.Stat(path); err != nil {
		return nil, fmt.Errorf("there is no data file %s; name the folder that the server was started with", path)
	}
	lock, locked := LockFolder(dir)
	if locked == nil {
		if err := lock.Close(); err != nil {
			return nil, err
		}
		return Open(ctx, dir)
	}
	if s, err = OpenToRead(ctx, dir); err != nil {
		return nil, err
	}
	s.beside = true
	if s.w, err = connect(path, writerDSN, 1); err == nil {
		s.key, err = openKey(ctx, files.Disk{}, s.w, dir)
	}
	if err != nil {
		return nil, errors.Join(err, s.Close())
	}
	return s, nil
}

// OpenToRead opens the data folder beside a running server, to read only.
func OpenToRead(ctx context.Context, dir string) (s *Store, err error) {
	if err := checkEngine(); err != nil {
		return nil, err
	}
	path := filepath.Join(dir, DataFile)
	if _, err := os.Stat(path); err != nil {
		return nil, fmt.Errorf("there is no data file %s; name the folder that the server was started with", path)
	}
	s, err = openToRead(ctx, dir, "&mode=ro")
	if err != nil && Unwritable(err) { // SQLite can make no index in this folder
		if alone(path) { // and needs none
			s, err = openToRead(ctx, dir, "&mode=ro&immutable=1")
		} else {
			s, err = openCopy(ctx, dir)
		}
	}
	if err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	return s, nil
}

func openToRead(ctx context.Context, dir, mode string) (s *Store, err error) {
	s = &Store{dir: dir, space: freeSpace}
	if s.r, err = connect(filepath.Join(dir, DataFile), readerDSN+mode, max(2, runtime.NumCPU())); err != nil {
		return nil, err
	}
	if err = sameSchema(ctx, s.r); err == nil {
		s.reads.db = s.r
		s.reads.public, err = publicKey(ctx, s.r, dir)
	}
	if err != nil {
		return nil, errors.Join(err, s.Close())
	}
	return s, nil
}

// openCopy reads a folder on a medium that takes no writing, with the log of a server
// that was cut short beside the data file: of a copy, into which SQLite folds that log.
func openCopy(ctx context.Context, dir string) (s *Store, err error) {
	scratch, err := os.MkdirTemp("", "stillwet-read-*")
	if err != nil {
		return nil, fmt.Errorf("make a folder to read in: %w", err)
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, os.RemoveAll(scratch))
		}
	}()
	for _, name := range []string{DataFile, DataFile + "-wal", KeyFile} {
		err := copyFile(filepath.Join(dir, name), filepath.Join(scratch, name))
		if err != nil && !errors.Is(err, fs.ErrNotExist) { // a copy may come without log or key
			return nil, err
		}
	}
	if s, err = openToRead(ctx, scratch, ""); err != nil {
		return nil, err
	}
	s.scratch = scratch
	return s, nil
}

func copyFile(from, to string) (err error) {
	in, err := os.Open(from)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, in.Close()) }()
	out, err := os.OpenFile(to, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o600)
	if err != nil {
		return err
	}
	_, err = io.Copy(out, in)
	return errors.Join(err, out.Close())
}

// alone reports whether a data file was closed by whoever wrote it last: with its
// log or its index beside it it may be in use.
func alone(path string) bool {
	for _, beside := range []string{"-wal", "-shm"} {
		if _, err := os.Stat(path + beside); !errors.Is(err, fs.ErrNotExist) {
			return false
		}
	}
	return true
}

func checkEngine() error {
	version, number, _ := sqlite3.Version()
	if number < oldestSQLite {
		return fmt.Errorf("this program was built with SQLite %s; it needs 3.51.3 or newer, for earlier ones can damage a file", version)
	}
	return nil
}

// touch makes the file before SQLite does, so that only its owner can read it.
func touch(path string) error {
	f, err := os.OpenFile(path, os.O_RDWR|os.O_CREATE, 0o600)
	if err != nil {
		return fmt.Errorf("open the data file: %w", err)
	}
	return f.Close()
}

func connect(path, options string, connections int) (*gorm.DB, error) {
	abs, err := filepath.Abs(path)
	if err != nil {
		return nil, fmt.Errorf("data file: %w", err)
	}
	name := url.URL{Scheme: "file", Path: filepath.ToSlash(abs), RawQuery: options}
	db, err := connectIn(name.String(), connections)
	if err != nil {
		return nil, fmt.Errorf("open %s: %w", path, err)
	}
	return db, nil
}

func connectIn(name string, connections int) (*gorm.DB, error) {
	pool, err := sql.Open("sqlite3", name)
	if err != nil {
		return nil, err
	}
	pool.SetMaxOpenConns(connections)
	pool.SetMaxIdleConns(connections)
	pool.SetConnMaxLifetime(0)
	db, err := gorm.Open(sqlite.New(sqlite.Config{Conn: pool}), &gorm.Config{
		TranslateError: true,
		Logger:         logger.Discard, // its lines would hold people's names
	})
	if err != nil {
		return nil, errors.Join(err, pool.Close())
	}
	return db, nil
}

// checkFile refuses a damaged file and a disk that cannot keep what was
// acknowledged.
func checkFile(ctx context.Context, w *gorm.DB) error {
	var mode, whole string
	var sync int
	db := w.WithContext(ctx)
	if err := db.Raw("PRAGMA journal_mode").Row().Scan(&mode); err != nil {
		return fmt.Errorf("is this a data file of stillwet? %w", err)
	}
	if err := db.Raw("PRAGMA synchronous").Row().Scan(&sync); err != nil {
		return err
	}
	if mode != "wal" || sync != 2 {
		return fmt.Errorf("the file system allows only journal %q with sync level %d; put the data folder on a local disk", mode, sync)
	}
	if err := db.Raw("PRAGMA quick_check(1)").Row().Scan(&whole); err != nil {
		return err
	}
	if whole != "ok" {
		return fmt.Errorf("the file is damaged (%s); keep it and restore the last backup", whole)
	}
	return nil
}
