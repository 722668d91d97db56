package main

import (
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"time"

	"stillwet/internal/files"
)

// settingsFile keeps in the data folder what is printed on records, so that an
// export does not depend on who typed which flag.
const settingsFile = "clinic.json"

type settings struct {
	Clinic string `json:"clinic"`
	Zone   string `json:"zone"`
}

// settings are the flags, then the folder's own, then defaults.
func (f *folderFlags) settings() (settings, error) {
	kept, err := readSettings(filepath.Join(f.Data, settingsFile))
	if err != nil {
		return kept, err
	}
	return settings{
		Clinic: cmp.Or(f.Clinic, kept.Clinic, "Our clinic"),
		Zone:   cmp.Or(f.Zone, kept.Zone, machineZone()),
	}, nil
}

// keep writes the settings in force into the folder, for commands without flags,
// unless they stand there already.
func (f *folderFlags) keep() error {
	set, err := f.settings()
	if err != nil {
		return err
	}
	return keepSettings(f.Data, set)
}

// keepZone keeps a zone that was said in the browser; nil where a flag says it at each start.
func (f *folderFlags) keepZone() func(string) error {
	if f.Zone != "" {
		return nil
	}
	return func(name string) error {
		set, err := f.settings()
		if err != nil {
			return err
		}
		set.Zone = name
		return keepSettings(f.Data, set)
	}
}

func keepSettings(dir string, set settings) error {
	path := filepath.Join(dir, settingsFile)
	if kept, err := readSettings(path); err != nil || kept == set {
		return err
	}
	text, err := json.MarshalIndent(set, "", "  ")
	if err != nil {
		return err
	}
	return files.Disk{}.Whole(path, func(f *files.File) error {
		_, err := f.Write(append(text, '\n'))
		return err
	})
}

// mostSettingsBytes is far more than the settings are.
const mostSettingsBytes = 64 << 10

func readSettings(path string) (set settings, err error) {
	f, err := os.Open(path)
	if errors.Is(err, os.ErrNotExist) {
		return set, nil
	}
	if err != nil {
		return set, err
	}
	text, err := io.ReadAll(io.LimitReader(f, mostSettingsBytes))
	if err = errors.Join(err, f.Close()); err == nil {
		err = json.Unmarshal(text, &set)
	}
	if err != nil {
		return set, fmt.Errorf("%s: %w", path, err)
	}
	return set, nil
}

// machineZone is the name of this machine's time zone: records name their zone,
// and "Local" would mean something else on another machine.
func machineZone() string {
	link, _ := os.Readlink("/etc/localtime") // no link: fall through
	_, name, _ := strings.Cut(link, "zoneinfo/")
	for _, zone := range []string{os.Getenv("TZ"), name} {
		if zone == "" {
			continue
		}
		if _, err := time.LoadLocation(zone); err == nil {
			return zone
		}
	}
	return "UTC"
}
