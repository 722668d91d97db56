package main

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"time"

	"stillwet/internal/backup"
	"stillwet/internal/store"
	"stillwet/internal/web"
)

// keepFlags say where a server keeps copies, and what it may go on with.
type keepFlags struct {
	Backups     string `help:"Folder for a backup every hour, best on another disk or share (default: backups in the data folder, which is lost with it)." env:"STILLWET_BACKUPS" placeholder:"DIR" type:"path"`
	Heads       string `help:"Folder of the file of signed heads, which exposes a ledger that was set back or rewritten. Only on another disk or share is it of much use (default: the data folder)." env:"STILLWET_HEADS" placeholder:"DIR" type:"path"`
	AcceptHeads bool   `help:"Put the file of heads aside and go on with a ledger that does not follow from it; for one start, by who knows why."`
	NetworkDisk bool   `help:"Go on although the data folder lies on a network file system; for who knows that its locks and syncs can be relied on." env:"STILLWET_NETWORK_DISK"`
}

// opening opens a data folder for a server.
func (k *keepFlags) opening(log *slog.Logger) func(context.Context, string) (*store.Store, error) {
	return func(ctx context.Context, dir string) (*store.Store, error) {
		heads := k.Heads
		if heads == "" {
			heads = dir
		}
		return store.OpenWith(ctx, dir, store.Options{
			Heads: heads, AcceptHeads: k.AcceptHeads, NetworkDisk: k.NetworkDisk, Warn: func(text string) { log.Warn(text) },
		})
	}
}

// warnOfClock says when this machine's clock is behind what was ledgered. Nothing is
// refused for it: the order of signed records is the ledger's.
func (c *clinic) warnOfClock(ctx context.Context, log *slog.Logger) error {
	last, behind, err := c.service.ClockBehind(ctx)
	if behind {
		log.Warn(fmt.Sprintf("This machine's clock says %s, and the last record was signed at %s. Set the clock: what is done now is dated too early.", c.service.Now(), last))
	}
	return err
}

// heads is how the file of heads stands.
func (c *clinic) heads() web.Kept { return web.Kept(c.store.Heads()) }

// withBackups makes backups while serve runs.
func (k *keepFlags) withBackups(ctx context.Context, log *slog.Logger, data string, c *clinic, serve func() error) error {
	keeper, err := k.keeper(log, data, c)
	if err != nil {
		return err
	}
	c.backups = func() web.Kept { return web.Kept(keeper.State()) }
	ctx, stop := context.WithCancel(ctx)
	var running sync.WaitGroup
	running.Go(func() { keeper.Run(ctx) })
	err = serve()
	stop()
	running.Wait()
	return err
}

// keeper finds the folder for backups. The default one is made; one that was
// named must be there, for a share that is not connected must not be replaced by
// a folder of that name.
func (k *keepFlags) keeper(log *slog.Logger, data string, c *clinic) (*backup.Keeper, error) {
	dir := k.Backups
	if dir == "" {
		dir = filepath.Join(data, "backups")
		if err := os.MkdirAll(dir, 0o700); err != nil {
			return nil, fmt.Errorf("make the folder of backups: %w", err)
		}
		log.Warn("Backups go to " + dir + ", which is lost with the data folder; name another disk or share with --backups.")
	} else if _, err := os.Stat(dir); err != nil {
		return nil, fmt.Errorf("the folder of backups is not there (%w); connect the disk or share, make the folder, or name another with --backups", err)
	}
	keeper := &backup.Keeper{
		Dir: dir, Clinic: c.store.ClinicID(), Now: time.Now,
		Failed: func(err error) { log.Warn(err.Error()) },
		Make: func(ctx context.Context, out string) error {
			_, err := backup.Make(ctx, backup.Making{Kind: folderKind, Store: c.store, Data: data, Out: out, Version: release, Now: now()})
			return err
		},
	}
	return keeper, keeper.Start()
}

// folderKind is what backups hold and how they are proved.
var folderKind = backup.Kind{Beside: []string{settingsFile, demoMark}, Verify: verifyFolder}

// mostTold is how many faults are told of records that do not verify.
const mostTold = 5

// verifyFolder checks every signed record of a folder.
func verifyFolder(ctx context.Context, dir string) (err error) {
	clinic, err := (&folderFlags{Data: dir}).openUnread(ctx, store.OpenToRead)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, clinic.close()) }()
	report, err := clinic.service.Verify(ctx)
	if err != nil || len(report.Faults) == 0 {
		return err
	}
	var told []string
	for _, f := range report.Faults[:min(mostTold, len(report.Faults))] {
		told = append(told, fmt.Sprintf("%s, %s: %s", f.Record, f.Field, f.Text))
	}
	return fmt.Errorf("%s in the signed records (stillwet verify tells all): %s", faults(len(report.Faults)), strings.Join(told, " "))
}
