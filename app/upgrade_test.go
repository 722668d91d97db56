package main

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"testing"

	"github.com/gofiber/fiber/v2"
	"github.com/stretchr/testify/require"

	"stillwet/exports"
	"stillwet/internal/ledger"
	"stillwet/internal/store"
	"stillwet/internal/training"
	"stillwet/internal/web"
)

const upgrades = "../testdata/upgrades"

// The data folder of every earlier version is opened, brought up, verified,
// read page by page and exported. A new version is a new folder.
func TestEveryEarlierVersionIsBroughtUp(t *testing.T) {
	entries, err := os.ReadDir(upgrades)
	require.NoError(t, err)
	versions := 0
	for _, e := range entries {
		if !e.IsDir() {
			continue
		}
		versions++
		t.Run(e.Name(), func(t *testing.T) {
			dir := t.TempDir()
			for _, name := range []string{store.DataFile, store.KeyFile} {
				text, err := os.ReadFile(filepath.Join(upgrades, e.Name(), name))
				require.NoError(t, err)
				require.NoError(t, os.WriteFile(filepath.Join(dir, name), text, 0o600))
			}
			note, err := os.ReadFile(filepath.Join(upgrades, e.Name(), "head.txt"))
			require.NoError(t, err)
			everyPageIsThere(t, dir)
			headIsContained(t, dir, string(note))
			code, out, errs := stillwet(t, "verify", "--data", dir)
			require.Equal(t, 0, code, out+errs)
			require.Contains(t, out, " 0 faults\n")
			code, out, errs = stillwet(t, "recheck", "--data", dir)
			require.Contains(t, []int{0, exitFindings}, code, out+errs)
			require.Regexp(t, `^[1-9]\d* logs judged again by rules \d+: `, out)
			require.NotContains(t, out, "not judged", "every text that is cited is there")
			book := filepath.Join(t.TempDir(), "annual.xlsx")
			code, out, errs = stillwet(t, "export", "annual", "--data", dir, "--year", "2026", "--out", book)
			require.Equal(t, 0, code, errs)
			require.NotContains(t, out, " 0 sign-offs")
			require.FileExists(t, book)
		})
	}
	require.Positive(t, versions)
}

// everyPageIsThere opens the folder as the server does, which brings it up, and
// asks for every page that shows one of its records.
func everyPageIsThere(t *testing.T, dir string) {
	ctx := context.Background()
	flags := folderFlags{Data: dir, Clinic: "Invented Clinic", Zone: "America/Chicago"}
	c, err := flags.open(ctx, store.Open)
	require.NoError(t, err)
	defer func() { require.NoError(t, c.close()) }()
	report, err := c.service.Verify(ctx)
	require.NoError(t, err)
	require.Empty(t, report.Faults, "brought up, and not served yet")
	require.NoError(t, c.service.Begin(ctx))
	app, err := web.New(web.Config{Service: c.service, Library: c.library, Log: slog.New(slog.DiscardHandler), WriteAnnual: exports.Annual})
	require.NoError(t, err)
	people, err := c.store.People(ctx)
	require.NoError(t, err)
	educator := func(string) string { return "" }
	for _, p := range people {
		account, err := c.store.AccountOf(ctx, p.ID)
		require.NoError(t, err)
		if account.Disabled {
			continue
		}
		own := signedIn(t, c, app, p)
		own("/practice")
		own("/people/" + p.ID)
		if p.Role == training.Educator {
			educator = own
		}
	}
	require.Contains(t, educator("/people"), people[0].Name)
	educator("/watch")
	educator("/annual/2026.xlsx")
	seen := map[string]int{}
	for _, p := range people {
		require.Contains(t, educator("/people/"+p.ID), p.Name)
		attempts, demonstrations := recordsOf(t, c, p)
		for _, a := range attempts {
			body := educator("/attempts/" + a.ID)
			require.Contains(t, body, "As text")
			require.NotContains(t, body, "was not kept")
			seen["attempts"]++
		}
		for _, d := range demonstrations {
			body := educator("/demonstrations/" + d.ID)
			if d.State == training.Ended {
				require.Contains(t, body, "As text")
				require.NotContains(t, body, "was not kept")
			}
			seen[string(d.State)]++
			lines, err := c.store.Observations(ctx, d.ID)
			require.NoError(t, err)
			seen["lines"] += len(lines)
		}
	}
	for _, kind := range []string{"attempts", "recording", "ended", "abandoned", "lines"} {
		require.Positive(t, seen[kind], kind)
	}
}

// recordsOf are the attempts and demonstrations of one person.
func recordsOf(t *testing.T, c *clinic, p training.Person) ([]training.Attempt, []training.Demonstration) {
	attempts, err := c.store.Attempts(context.Background(), p.ID, true, 1000)
	require.NoError(t, err)
	demonstrations, err := c.store.Demonstrations(context.Background(), training.DemonstrationQuery{TraineeID: p.ID})
	require.NoError(t, err)
	return attempts, demonstrations
}

// signedIn opens a session for a person and gives what asks for pages in it.
func signedIn(t *testing.T, c *clinic, app *fiber.App, p training.Person) func(path string) string {
	sum := sha256.Sum256([]byte("cookie-" + p.ID))
	require.NoError(t, c.store.Write(context.Background(), func(u training.Unit) error {
		return u.OpenSession(context.Background(), training.Session{IDHash: hex.EncodeToString(sum[:]), PersonID: p.ID, CreatedAt: now(), LastSeen: now()})
	}))
	return func(path string) string {
		r := httptest.NewRequest("GET", path, nil)
		r.AddCookie(&http.Cookie{Name: "stillwet", Value: "cookie-" + p.ID})
		resp, err := app.Test(r, -1)
		require.NoError(t, err)
		body, err := io.ReadAll(resp.Body)
		require.NoError(t, err)
		require.NoError(t, resp.Body.Close())
		require.Equal(t, 200, resp.StatusCode, "%s for %s: %s", path, p.Name, body)
		return string(body)
	}
}

// headIsContained checks the head that the old program signed against the
// leaves as they are now.
func headIsContained(t *testing.T, dir, note string) {
	s, err := store.OpenToRead(context.Background(), dir)
	require.NoError(t, err)
	defer func() { require.NoError(t, s.Close()) }()
	old, err := ledger.OpenHead(note, s.Public())
	require.NoError(t, err)
	require.Positive(t, old.Size)
	walk := &ledger.Walk{}
	for l, err := range s.LedgerLeaves(context.Background()) {
		require.NoError(t, err)
		walk.Add(l.Bytes)
		if walk.Size() == old.Size {
			require.Equal(t, old, walk.Head())
		}
	}
	require.GreaterOrEqual(t, walk.Size(), old.Size)
}
