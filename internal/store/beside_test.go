package store

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/ledger"
	"stillwet/internal/training"
)

// A command that adds records beside a server waits for it and it for the command: one
// ledger comes of both, whose head the server writes down.
func TestACommandWritesBesideAServer(t *testing.T) {
	ctx, dir := context.Background(), t.TempDir()
	_, err := OpenBeside(ctx, dir)
	require.ErrorContains(t, err, "there is no data file")
	entries, err := os.ReadDir(dir)
	require.NoError(t, err)
	require.Empty(t, entries, "nothing is begun by it")

	server, err := OpenWith(ctx, dir, Options{Heads: dir, NetworkDisk: true})
	require.NoError(t, err)
	command, err := OpenBeside(ctx, dir)
	require.NoError(t, err)
	require.True(t, command.Beside())
	var both sync.WaitGroup
	for name, s := range map[string]*Store{"server": server, "command": command} {
		both.Go(func() {
			for i := range 40 {
				err := s.Write(ctx, func(u training.Unit) error {
					p := training.Person{ID: fmt.Sprintf("%s-%d", name, i), Name: name, Role: training.Trainee}
					if err := u.AddPerson(ctx, p, at); err != nil {
						return err
					}
					_, err := u.AppendLeaf(ctx, []byte(p.ID), of(i))
					return err
				})
				if err != nil {
					t.Errorf("%s: %v", name, err)
				}
			}
		})
	}
	both.Wait()
	require.NoError(t, command.Close())
	people, err := server.People(ctx)
	require.NoError(t, err)
	require.Len(t, people, 80)
	walk := &ledger.Walk{}
	for l, err := range server.LedgerLeaves(ctx) {
		require.NoError(t, err)
		walk.Add(l.Bytes)
	}
	require.EqualValues(t, 80, walk.Size())
	head, err := server.Ledger(ctx)
	require.NoError(t, err)
	signed, err := ledger.OpenHead(head.Note, server.Public())
	require.NoError(t, err)
	require.Equal(t, walk.Head(), signed)
	require.NoError(t, server.Close())

	again, err := OpenWith(ctx, dir, Options{Heads: dir, NetworkDisk: true})
	require.NoError(t, err, "the file of heads and the ledger agree")
	require.NoError(t, again.Close())
	kept, err := os.ReadFile(filepath.Join(dir, HeadFile))
	require.NoError(t, err)
	require.Contains(t, string(kept), head.Note, "the last head stands in it, whoever signed it")

	alone, err := OpenBeside(ctx, dir)
	require.NoError(t, err)
	require.False(t, alone.Beside())
	require.NoError(t, alone.Close())
}
