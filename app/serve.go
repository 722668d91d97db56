package main

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"time"

	"stillwet/exports"
	"stillwet/internal/store"
	"stillwet/internal/web"
)

// listenFlags say where the server is reached.
type listenFlags struct {
	Listen  string `help:"Address to listen on." default:"127.0.0.1:8317" env:"STILLWET_LISTEN"`
	TLSCert string `help:"Certificate file, for https." placeholder:"FILE" env:"STILLWET_TLS_CERT" type:"path"`
	TLSKey  string `help:"Key file of the certificate." placeholder:"FILE" env:"STILLWET_TLS_KEY" type:"path"`
	Behind  bool   `name:"behind-https" help:"A proxy in front serves https: mark cookies as secure." env:"STILLWET_BEHIND_HTTPS"`
}

// reached is where the server is reached: a port that is taken and a certificate
// that is read, before anything is made or opened.
type reached struct {
	listener net.Listener
	url      string
	open     bool // from other machines, without https
}

func (l *listenFlags) take() (p reached, err error) {
	var pair *tls.Config
	if l.TLSCert != "" || l.TLSKey != "" {
		if pair, err = tlsConfig(l.TLSCert, l.TLSKey); err != nil {
			return p, err
		}
	}
	if p.listener, err = net.Listen("tcp", l.Listen); err != nil {
		return p, fmt.Errorf("--listen: %w", err)
	}
	p.url = "http://" + p.listener.Addr().String()
	here, local := p.listener.Addr().(*net.TCPAddr)
	p.open = pair == nil && !l.Behind && !(local && here.IP.IsLoopback())
	if pair != nil {
		p.url = "https://" + p.listener.Addr().String()
		p.listener = tls.NewListener(p.listener, pair)
	}
	return p, nil
}

// close gives the port back where it was never served; a second time is no error.
func (p reached) close() error {
	if err := p.listener.Close(); !errors.Is(err, net.ErrClosed) {
		return err
	}
	return nil
}

type serveCmd struct {
	New         bool `help:"Begin a clinic in a folder that holds none."`
	folderFlags `embed:""`
	listenFlags `embed:""`
	keepFlags   `embed:""`
}

// Run serves until the context ends.
func (c *serveCmd) Run(ctx context.Context, s streams) error {
	if isDemo(c.Data) {
		return fmt.Errorf("%s holds a demo clinic; use another folder for real work, or stillwet demo --data %s", c.Data, c.Data)
	}
	at, err := c.take()
	if err != nil {
		return err
	}
	c.begins = c.New
	log := web.NewLog(s.err, time.Now)
	clinic, err := c.openOrRead(ctx, c.opening(log))
	if err != nil {
		return errors.Join(err, at.listener.Close())
	}
	if clinic.store.Ready() != nil { // there is nothing new to back up
		return errors.Join(c.serve(ctx, s, clinic, at, log), clinic.close())
	}
	if err = clinic.warnOfClock(ctx, log); err == nil { // before Begin adds a leaf of now
		err = errors.Join(c.keep(), clinic.service.Begin(ctx))
	}
	if err != nil && !store.Unwritable(err) {
		return errors.Join(err, at.listener.Close(), clinic.close())
	}
	err = c.withBackups(ctx, log, c.Data, clinic, func() error { return c.serve(ctx, s, clinic, at, log) })
	return errors.Join(err, at.close(), clinic.close())
}

// openOrRead opens the folder, or opens it to read where it takes no writing:
// records that can be read are better than none.
func (f *folderFlags) openOrRead(ctx context.Context, how func(context.Context, string) (*store.Store, error)) (*clinic, error) {
	c, err := f.open(ctx, how)
	if !errors.Is(err, store.ErrReadOnly) {
		return c, err
	}
	c, reading := f.open(ctx, store.OpenToRead)
	if reading != nil {
		return nil, err
	}
	c.store.Because(err)
	return c, nil
}

// serve answers requests until the context ends, then lets those under way
// finish.
func (l *listenFlags) serve(ctx context.Context, s streams, c *clinic, at reached, log *slog.Logger) error {
	config := web.Config{
		Service: c.service, Library: c.library, Log: log,
		Secure: l.Behind || l.TLSCert != "", Behind: l.Behind, Open: at.open, WriteAnnual: exports.Annual,
		Ready: func(context.Context) error { return c.store.Ready() }, LowSpace: c.store.LowSpace, Backups: c.backups, Heads: c.heads,
	}
	if c.service.Demo && !l.Behind { // anybody may enter a demo, but not through a page of elsewhere
		config.OnlyHost, config.OnlyPort = l.hostAndPort(at)
	}
	app, err := web.New(config)
	if err == nil {
		err = greet(ctx, s, c, at)
	}
	if err != nil {
		return errors.Join(err, at.listener.Close())
	}
	return web.Serve(ctx, app, at.listener, 10*time.Second)
}

// hostAndPort are the host that was asked for and the port that was taken.
func (l *listenFlags) hostAndPort(at reached) (host, port string) {
	host, _, _ = net.SplitHostPort(l.Listen) // it was listened on
	_, port, _ = net.SplitHostPort(at.listener.Addr().String())
	return host, port
}

// greet prints the address, and the one-time link while there is nobody.
func greet(ctx context.Context, s streams, c *clinic, at reached) error {
	p := &printer{w: s.out}
	if err := c.store.Ready(); err != nil {
		p.f("WARNING: %v. Records can be read; nothing is saved.\n", err)
	} else if err := greetFirst(ctx, p, c, at.url); err != nil {
		return err
	}
	if at.open {
		p.f("WARNING: this address is reached from other machines without https: whoever is on the way reads the passwords. Give --tls-cert with --tls-key, or put a proxy with https in front and give --behind-https.\n")
	}
	p.f("Stillwet is at %s (stop with Ctrl-C)\n", at.url)
	return p.err
}

func greetFirst(ctx context.Context, p *printer, c *clinic, url string) error {
	token, open, err := c.service.FirstRunToken(ctx)
	if open {
		p.f("Nobody has an account yet. Open this link once, within 24 hours, to make the first educator's:\n\n    %s/first/%s\n\n", url, token)
	}
	return err
}
