package main

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"time"
	_ "time/tzdata" // the one file must know every time zone by itself

	"stillwet/internal/store"
	"stillwet/internal/training"
	"stillwet/internal/web"
	"stillwet/scenarios"
)

// demoMark is the file that says that a folder holds a demo clinic.
const demoMark = "DEMO"

// folderFlags name the data folder and what is printed on records.
type folderFlags struct {
	Data   string `help:"Folder of the data file and its key." default:"data" env:"STILLWET_DATA" type:"path"`
	Clinic string `help:"Name of the clinic, as printed on records (default: the one the folder was last served with)." env:"STILLWET_CLINIC"`
	Zone   string `help:"Time zone of the clinic, for example America/Chicago (default: the one the folder was last served with, else this machine's)." env:"STILLWET_ZONE"`
	begins bool   `kong:"-"` // a folder that holds no clinic may begin one
}

// clinic is an open data folder with the services over it.
type clinic struct {
	store   *store.Store
	library training.Library // what is in force, by the data file
	service *training.Service
	backups func() web.Kept // nil without backups of its own
}

func (c *clinic) close() error { return c.store.Close() }

// open opens a data folder with one of the store's ways to open it, and reads the set in
// force.
func (f *folderFlags) open(ctx context.Context, how func(context.Context, string) (*store.Store, error)) (*clinic, error) {
	c, err := f.openUnread(ctx, how)
	if err != nil {
		return nil, err
	}
	if err := c.service.Stock(ctx); err != nil {
		return nil, errors.Join(err, c.close())
	}
	return c, nil
}

// openUnread is open without the set: what verifies signed records, or lets an educator in
// again, must not depend on it.
func (f *folderFlags) openUnread(ctx context.Context, how func(context.Context, string) (*store.Store, error)) (*clinic, error) {
	set, err := f.settings()
	if err != nil {
		return nil, err
	}
	zone, err := training.ParseZone(set.Zone)
	if err != nil {
		return nil, fmt.Errorf("--zone: %w", err)
	}
	if err := f.holdsClinic(); err != nil {
		return nil, err
	}
	records, err := how(ctx, f.Data)
	if err != nil {
		return nil, err
	}
	shelf := training.NewShelf(now, zone)
	return &clinic{store: records, library: shelf, service: training.New(training.Config{
		Records: records, Library: shelf, LoadSet: loadSet, StartingSet: builtInSet, Differ: scenarios.Changes, Unconfirmed: scenarios.NotOwnYet,
		Now: now, NewID: rand.Text, Zone: zone, KeepZone: f.keepZone(), Clinic: set.Clinic, Demo: isDemo(f.Data),
	})}, nil
}

// holdsClinic refuses a folder without a clinic unless one is to begin there: a mistyped
// name would begin an empty one beside the real.
func (f *folderFlags) holdsClinic() error {
	there, err := store.Holds(f.Data)
	if err == nil && !there && !f.begins {
		err = fmt.Errorf("%s holds no clinic: correct --data; to begin a new clinic there, use stillwet serve --new", f.Data)
	}
	return err
}

func now() training.Instant { return training.InstantOf(time.Now()) }

func isDemo(dir string) bool {
	_, err := os.Stat(filepath.Join(dir, demoMark))
	return err == nil
}

// isEmpty reports whether a folder is missing or has nothing in it.
func isEmpty(dir string) (bool, error) {
	entries, err := os.ReadDir(dir)
	if errors.Is(err, os.ErrNotExist) {
		return true, nil
	}
	return len(entries) == 0, err
}
