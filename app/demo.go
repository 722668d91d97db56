package main

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"time"

	"stillwet/internal/demo"
	"stillwet/internal/store"
	"stillwet/internal/web"
	"stillwet/scenarios"
)

type demoCmd struct {
	Data        string `help:"Folder of the demo's data; it is filled when empty, and gone on with when it holds a demo." default:"data/demo" type:"path"`
	listenFlags `embed:""`
}

// Run fills the folder when it is empty, and serves it.
func (c *demoCmd) Run(ctx context.Context, s streams) error {
	empty, err := isEmpty(c.Data)
	if err != nil {
		return err
	}
	if !empty && !isDemo(c.Data) {
		return fmt.Errorf("%s is not empty and holds no demo clinic; name an empty folder", c.Data)
	}
	at, err := c.take()
	if err != nil {
		return err
	}
	clinic, err := c.filled(ctx, s, empty)
	if err != nil {
		return errors.Join(err, at.listener.Close())
	}
	return errors.Join(c.serve(ctx, s, clinic, at, web.NewLog(s.err, time.Now)), clinic.close())
}

// filled opens the demo's folder, with people and work in it.
func (c *demoCmd) filled(ctx context.Context, s streams, empty bool) (*clinic, error) {
	folder := folderFlags{Data: c.Data, Clinic: demo.Clinic, begins: true}
	if empty {
		p := &printer{w: s.out}
		p.f("Filling a demo clinic with a year of invented work (some seconds)…\n")
		if err := errors.Join(p.err, fillDemo(ctx, folder)); err != nil {
			return nil, err
		}
	}
	clinic, err := folder.openOrRead(ctx, store.Open)
	if err != nil {
		return nil, err
	}
	people, err := clinic.store.People(ctx)
	if err == nil && clinic.store.Ready() == nil {
		err = clinic.service.Begin(ctx)
	}
	if err != nil {
		return nil, errors.Join(err, clinic.close())
	}
	clinic.service.DemoOffers = demo.Offers(people)
	return clinic, nil
}

// fillDemo fills a folder beside the wanted one and renames it, so that a fill
// that is cut short leaves nothing behind that looks like a demo.
func fillDemo(ctx context.Context, want folderFlags) error {
	final := want.Data
	if err := os.MkdirAll(filepath.Dir(final), 0o700); err != nil {
		return err
	}
	part, err := os.MkdirTemp(filepath.Dir(final), ".filling-*")
	if err != nil {
		return err
	}
	defer func() { _ = os.RemoveAll(part) }() // gone already when all went well
	want.Data = part
	mark := []byte("A demo clinic: everything in this folder is invented.\n")
	if err := os.WriteFile(filepath.Join(part, demoMark), mark, 0o600); err != nil {
		return err
	}
	clinic, err := want.open(ctx, store.Open)
	if err != nil {
		return err
	}
	err = want.keep()
	if err == nil {
		err = demo.Fill(ctx, demo.Config{
			Records: clinic.store, LoadSet: loadSet, StartingSet: builtInSet, Differ: scenarios.Changes, ConfirmedSet: confirmedSet, RenamedSet: renamedSet, NewID: rand.Text, Zone: clinic.service.Zone(), Today: time.Now(),
		})
	}
	if err = errors.Join(err, clinic.close()); err != nil {
		return err
	}
	if err := os.RemoveAll(final); err != nil { // an empty folder, or none
		return err
	}
	return os.Rename(part, final)
}
