package main

import (
	"context"
	"errors"
	"strings"

	"stillwet/internal/store"
)

type resetEducatorCmd struct {
	folderFlags `embed:""`
	Name        string `help:"Sign-in name of the educator (needed when there are several)."`
	URL         string `help:"Address at which people reach the server, for the link." default:"http://127.0.0.1:8317"`
}

// Help tells whose word this is.
func (resetEducatorCmd) Help() string {
	return "Prints a one-time link by which an educator who cannot sign in any more chooses a new password. Whoever owns the data folder may do this; " +
		"it is written into the ledger. The old password and all sessions end at once. Stop the server first and start it again afterwards. The link works for 24 hours."
}

// Run makes the link; the server must not be running.
func (c *resetEducatorCmd) Run(ctx context.Context, s streams) (err error) {
	clinic, err := c.openUnread(ctx, store.Open)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, clinic.close()) }()
	if err := clinic.service.Begin(ctx); err != nil {
		return err
	}
	token, who, err := clinic.service.OwnerLink(ctx, c.Name)
	if err != nil {
		return err
	}
	p := &printer{w: s.out}
	p.f("Start the server, then let %s open this link once, within 24 hours, to choose a new password:\n\n    %s/first/%s\n\nIt stands in the ledger that this link was made.\n",
		who.Name, strings.TrimRight(c.URL, "/"), token)
	return p.err
}
