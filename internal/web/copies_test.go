package web

import (
	"log/slog"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillwet/exports"
	"stillwet/internal/training"
)

// The educator's first page says how backups stand, in red when one is missing.
func TestTheEducatorSeesTheLastBackup(t *testing.T) {
	c := staffed(t)
	var backups, heads Kept
	app, err := New(Config{
		Service: c.Service, Library: c.Library, Log: slog.New(slog.DiscardHandler), WriteAnnual: exports.Annual,
		Backups: func() Kept { return backups }, Heads: func() Kept { return heads },
	})
	require.NoError(t, err)
	require.NotContains(t, c.educator.get("/people").body, "Last backup", "nothing is said where nothing is made")
	c.app = app
	now := c.Service.Now()
	const alarm = "Tell whoever runs this server"
	for name, x := range map[string]struct {
		backups, heads Kept
		says, silent   string
	}{
		"fresh":  {Kept{Last: now.Add(-25 * time.Hour)}, Kept{}, "Last backup: 1 Mar 2026", alarm},
		"old":    {Kept{Last: now.Add(-27 * time.Hour)}, Kept{}, alarm, "The last try failed"},
		"none":   {Kept{}, Kept{}, alarm, "The last try failed"},
		"failed": {Kept{now, "no space <left>"}, Kept{}, "The last try failed: no space &lt;left&gt;.", "signed head"},
		"heads":  {Kept{Last: now}, Kept{training.Instant(""), "share gone"}, "The last try failed: share gone.", "no space"},
		"both":   {Kept{Last: now}, Kept{Last: now}, "Last backup: 2 Mar 2026", alarm},
	} {
		backups, heads = x.backups, x.heads
		body := c.educator.get("/people").body
		require.Contains(t, body, x.says, name)
		require.NotContains(t, body, x.silent, name)
	}
	require.NotContains(t, c.preceptor.get("/people").body, "Last backup", "it is the educator's to see to")
}
