package main

import (
	"context"
	"errors"
	"path/filepath"

	"stillwet/internal/backup"
	"stillwet/internal/store"
)

type backupCmd struct {
	Data       string `help:"Folder of the data file and its key." default:"data" env:"STILLWET_DATA" type:"path"`
	Out        string `help:"Backup to write; nothing is replaced." required:"" placeholder:"FILE.tar" type:"path"`
	WithoutKey bool   `help:"Leave out the key that signs; keep it elsewhere, for without it nothing more can be signed."`
}

// Help tells what a backup is.
func (backupCmd) Help() string {
	return "Writes data file, key, settings and the ledger's newest head into one tar archive that only its owner can read, checks every signed record of it, " +
		"and says what it holds. Whoever has the key signs as the clinic: keep backups as you keep the data folder."
}

// Run writes a backup.
func (c *backupCmd) Run(ctx context.Context, s streams) (err error) {
	from, err := store.OpenToRead(ctx, c.Data)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, from.Close()) }()
	made, err := backup.Make(ctx, backup.Making{
		Kind: folderKind, Store: from, Data: c.Data, Out: c.Out, WithoutKey: c.WithoutKey, Version: release, Now: now(),
	})
	if err != nil {
		return err
	}
	p := &printer{w: s.out}
	p.f("%s: verified.\n", c.Out)
	p.holds(made)
	if !made.HasKey() {
		p.f("The key is not in it.\n")
	}
	return p.err
}

// holds prints what a backup holds.
func (p *printer) holds(m backup.Manifest) {
	h := m.Holds
	p.f("Made on %s by stillwet %s, schema %d.\n", m.Made, m.Version, h.Schema)
	p.f("%d people, %d practice runs and orders, %d demonstrations, %d signatures, %d sign-offs; the last entry is of %s.\n",
		h.People, h.Attempts, h.Demonstrations, h.Signatures, h.SignOffs, orNone(string(h.Newest)))
	p.f("A ledger of %d signed records, the last of %s.\n", h.Leaves, orNone(string(h.NewestSigned)))
}

func orNone(text string) string {
	if text == "" {
		return "no day yet"
	}
	return text
}

type restoreCmd struct {
	File  string   `arg:"" help:"The backup." type:"path"`
	Data  string   `help:"Folder to make, empty or not there." default:"data" env:"STILLWET_DATA" type:"path"`
	Head  []string `help:"A workbook, a file with a signed head that was kept elsewhere, or the server's file of heads: tells whether the backup is older." placeholder:"FILE" type:"path" sep:"none"`
	Older bool     `help:"Restore a backup that lacks records which a head tells of."`
}

// Help tells what is checked.
func (restoreCmd) Help() string {
	return "Makes a data folder of a backup after it has checked the archive, the data file and every signed record. When anything is wrong the folder stays as it was."
}

// Run restores a backup.
func (c *restoreCmd) Run(ctx context.Context, s streams) error {
	back, err := backup.Restore(ctx, backup.Restoring{Kind: folderKind, File: c.File, Data: c.Data, Heads: c.Head, HeadsOf: headsIn, Older: c.Older})
	if err != nil {
		return err
	}
	p := &printer{w: s.out}
	p.f("%s: restored and verified.\n", c.Data)
	p.holds(back.Manifest)
	if back.Missing > 0 {
		p.f("It is an older backup: %d records that were signed after it are missing. Have them signed again. The first start needs --accept-heads.\n", back.Missing)
	}
	if !back.HasKey() {
		key := filepath.Join(c.Data, store.KeyFile)
		p.f("The backup holds no key. Put the clinic's key file there as %s before the first start, and close it to others: chmod 600 %s\n", key, key)
	}
	if back.Note != "" {
		p.f("\nThe ledger's head; compare it with one that was kept elsewhere, such as a workbook's:\n\n%s", back.Note)
	}
	return p.err
}
