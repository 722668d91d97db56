package backup

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"time"

	"stillwet/internal/files"
	"stillwet/internal/training"
)

// Every is how often the server makes a backup.
const Every = time.Hour

// Keeper makes a backup each hour into a folder and removes what need not be
// kept. Each clinic has its own files in the folder.
type Keeper struct {
	Dir    string
	Clinic string // the clinic's id, for the names
	Now    func() time.Time
	// Make makes one backup as the named file.
	Make func(ctx context.Context, out string) error
	// Failed hears of a try that failed.
	Failed func(error)

	mu    sync.Mutex
	state State
}

// State is how the backups stand.
type State struct {
	Last training.Instant // of the last good one, "" for none
	Err  string           // why the last try failed, "" when it did not
}

// State is how the backups stand.
func (k *Keeper) State() State {
	k.mu.Lock()
	defer k.mu.Unlock()
	return k.state
}

const madeLayout = "20060102T150405Z"

func (k *Keeper) prefix() string { return "stillwet-" + k.Clinic[:min(len(k.Clinic), 8)] + "-" }

func (k *Keeper) file(at time.Time) string {
	return filepath.Join(k.Dir, k.prefix()+at.UTC().Format(madeLayout)+".tar")
}

// Start reads what is there and removes what a backup that was cut short left.
func (k *Keeper) Start() error {
	entries, err := os.ReadDir(k.Dir)
	for _, e := range entries {
		if strings.HasPrefix(e.Name(), "."+k.prefix()) && strings.HasSuffix(e.Name(), stageEnd) {
			err = errors.Join(err, files.Gone(filepath.Join(k.Dir, e.Name())))
		}
	}
	made, reading := k.made()
	if err = errors.Join(err, reading); err != nil {
		return fmt.Errorf("look through the folder of backups: %w", err)
	}
	if len(made) > 0 {
		k.mu.Lock()
		k.state.Last = training.InstantOf(slices.MaxFunc(made, time.Time.Compare))
		k.mu.Unlock()
	}
	return nil
}

// made are the moments of this clinic's backups in the folder.
func (k *Keeper) made() (list []time.Time, err error) {
	entries, err := os.ReadDir(k.Dir)
	for _, e := range entries {
		text, ours := strings.CutPrefix(e.Name(), k.prefix())
		text, isTar := strings.CutSuffix(text, ".tar")
		at, bad := time.Parse(madeLayout, text)
		if ours && isTar && bad == nil {
			list = append(list, at)
		}
	}
	return list, err
}

// Run makes a backup as soon as the last is an hour old, until the context ends.
func (k *Keeper) Run(ctx context.Context) {
	for {
		wait := k.wait()
		select {
		case <-ctx.Done():
			return
		case <-time.After(wait):
		}
		k.once(ctx)
	}
}

// wait is how long until the next: a try that failed is made again after an
// hour, and a clock that was set back does not put it off.
func (k *Keeper) wait() time.Duration {
	s := k.State()
	if s.Err != "" {
		return Every
	}
	since := k.Now().Sub(s.Last.Time())
	return min(max(0, Every-since), Every)
}

// once makes one backup and removes what need not be kept.
func (k *Keeper) once(ctx context.Context) {
	at := k.Now()
	err := k.Make(ctx, k.file(at))
	if err != nil && ctx.Err() != nil {
		return // the server stops, which is no fault
	}
	k.note(at, err)
	if err == nil {
		if err := k.thin(); err != nil {
			k.Failed(fmt.Errorf("remove old backups: %w", err))
		}
	}
}

func (k *Keeper) note(at time.Time, err error) {
	k.mu.Lock()
	defer k.mu.Unlock()
	if err == nil {
		k.state = State{Last: training.InstantOf(at)}
		return
	}
	k.state.Err = err.Error()
	k.Failed(fmt.Errorf("the backup failed and is tried again in an hour: %w", err))
}

func (k *Keeper) thin() error {
	made, err := k.made()
	for _, at := range Spare(made) {
		err = errors.Join(err, os.Remove(k.file(at)))
	}
	return err
}
