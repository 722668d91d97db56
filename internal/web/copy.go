package web

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"stillwet/internal/training"
)

// copyIn is the file that a recorder gives when it cannot send: acts without names.
type copyIn struct {
	Format     string `json:"format"`
	Device     string `json:"device"`
	Recordings []struct {
		Demonstration string  `json:"demonstration"`
		Acts          []actIn `json:"acts"`
	} `json:"recordings"`
}

const (
	copyFormat      = "stillwet-acts-1"
	copyRecordings  = 50
	copyFaultsShown = 20
	batchSize       = 200
)

// readCopy reads the file, or says what is wrong with it.
func readCopy(data []byte) (in copyIn, err error) {
	d := json.NewDecoder(bytes.NewReader(data))
	d.DisallowUnknownFields()
	if err := d.Decode(&in); err != nil {
		return in, fmt.Errorf("it is no saved copy of acts, or was changed: %s", strings.TrimSuffix(unreadable(err), "."))
	}
	if _, err := d.Token(); err != io.EOF {
		return in, errors.New("it holds more than one thing")
	}
	switch {
	case in.Format != copyFormat:
		return in, fmt.Errorf("its form %.40q is not known here; it should be %q", in.Format, copyFormat)
	case len(in.Recordings) == 0 || len(in.Recordings) > copyRecordings:
		return in, fmt.Errorf("it holds %d recordings; 1 to %d can be brought in", len(in.Recordings), copyRecordings)
	}
	return in, nil
}

// bringCopy takes what a browser could not send, each act once.
func bringCopy(v *visit) error {
	if _, err := v.form(); err != nil {
		return err
	}
	data, err := v.upload("acts", aCopy)
	if err != nil {
		return err
	}
	if len(data) == 0 {
		return v.showWatch(422, "", "Choose the file first: one that “Save a copy” gave.")
	}
	in, err := readCopy(data)
	if err != nil {
		return v.showWatch(422, "", "Nothing was brought in. The file could not be read: "+err.Error()+".")
	}
	count, faults, err := v.takeCopy(in)
	if err != nil {
		return err
	}
	said := fmt.Sprintf("Of the copy %d acts were stored, %d were there before, %d came after the close.", count[training.KeptStored], count[training.KeptSame], count[training.KeptLate])
	if len(faults) > 0 {
		return v.showWatch(422, "", said+"\nNot taken:\n"+strings.Join(faults[:min(len(faults), copyFaultsShown)], "\n"))
	}
	return v.showWatch(200, said, "")
}

// takeCopy stores the acts, and says of each that was not taken where it stands.
func (v *visit) takeCopy(in copyIn) (map[training.KeptAs]int, []string, error) {
	count, faults := map[training.KeptAs]int{}, []string{}
	for i, r := range in.Recordings {
		n := 0
		for some := range slices.Chunk(r.Acts, batchSize) {
			kept, _, err := v.Service.Batch(v.ctx, v.actor, r.Demonstration, in.Device, batchIn{Acts: some}.acts())
			if errors.Is(err, training.ErrNotFound) || errors.Is(err, training.ErrForbidden) || errors.Is(err, training.ErrInvalid) {
				_, why := explain(err)
				faults = append(faults, fmt.Sprintf("Recording %d: %s", i+1, why))
				break
			}
			if err != nil {
				return count, faults, err
			}
			for _, k := range kept {
				n++
				count[k.As]++
				if k.As == training.KeptRefused {
					faults = append(faults, fmt.Sprintf("Recording %d, act %d: %s", i+1, n, k.Why))
				}
			}
		}
	}
	return count, faults, nil
}
