package main

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"time"

	"stillwet/exports"
	"stillwet/internal/web"
)

// listenFlags say where the server is reached.
type listenFlags struct {
	Listen  string `help:"Address to listen on." default:"127.0.0.1:8317" env:"STILLWET_LISTEN"`
	TLSCert string `help:"Certificate file, for https." placeholder:"FILE" env:"STILLWET_TLS_CERT" type:"path"`
	TLSKey  string `help:"Key file of the certificate." placeholder:"FILE" env:"STILLWET_TLS_KEY" type:"path"`
	Behind  bool   `name:"behind-https" help:"A proxy in front serves https: mark cookies as secure." env:"STILLWET_BEHIND_HTTPS"`
}

func (l *listenFlags) scheme() string {
	if l.TLSCert != "" {
		return "https"
	}
	return "http"
}

type serveCmd struct {
	folderFlags `embed:""`
	listenFlags `embed:""`
	keepFlags   `embed:""`
}

// Run serves until the context ends.
func (c *serveCmd) Run(ctx context.Context, s streams) error {
	if isDemo(c.Data) {
		return fmt.Errorf("%s holds a demo clinic; use another folder for real work, or stillwet demo --data %s", c.Data, c.Data)
	}
	log := slog.New(slog.NewTextHandler(s.err, nil))
	clinic, err := c.open(ctx, c.opening(log))
	if err != nil {
		return err
	}
	err = errors.Join(c.keep(), clinic.service.Begin(ctx))
	if err == nil {
		err = c.withBackups(ctx, log, c.Data, clinic, func() error { return c.serve(ctx, s, clinic) })
	}
	return errors.Join(err, clinic.close())
}

// serve answers requests until the context ends, then lets those under way
// finish.
func (l *listenFlags) serve(ctx context.Context, s streams, c *clinic) error {
	app, err := web.New(web.Config{
		Service: c.service, Library: c.library, Log: slog.New(slog.NewTextHandler(s.err, nil)),
		Secure: l.Behind || l.TLSCert != "", WriteAnnual: exports.Annual, Ready: func(context.Context) error { return c.store.Ready() },
		Backups: c.backups, Heads: c.heads,
	})
	if err != nil {
		return err
	}
	listener, err := net.Listen("tcp", l.Listen)
	if err != nil {
		return fmt.Errorf("--listen: %w", err)
	}
	url := l.scheme() + "://" + listener.Addr().String()
	if err := greet(ctx, s, c, url); err != nil {
		return errors.Join(err, listener.Close())
	}
	if l.TLSCert != "" {
		if listener, err = tlsListener(listener, l.TLSCert, l.TLSKey); err != nil {
			return err
		}
	}
	return web.Serve(ctx, app, listener, 10*time.Second)
}

// greet prints the address, and the one-time link while there is nobody.
func greet(ctx context.Context, s streams, c *clinic, url string) error {
	p := &printer{w: s.out}
	token, open, err := c.service.FirstRunToken(ctx)
	if err != nil {
		return err
	}
	if open {
		p.f("Nobody has an account yet. Open this link once, within 24 hours, to make the first educator's:\n\n    %s/first/%s\n\n", url, token)
	}
	p.f("Stillwet is at %s (stop with Ctrl-C)\n", url)
	return p.err
}
