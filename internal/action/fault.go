package action

import (
	"errors"
	"fmt"
	"slices"
)

// maxFaults is how many faults of one text are told; the rest are counted.
const maxFaults = 100

// Fault is one error of a source text with its place.
type Fault struct {
	File string
	Line int
	Text string
}

func (f *Fault) Error() string { return fmt.Sprintf("%s:%d: %s", f.File, f.Line, f.Text) }

// faults are those of one text, in the order of its lines.
type faults struct {
	file    string
	lineNo  int // of the line that is being read
	kept    []error
	dropped int
	from    int // the line of the first that was dropped
}

// fault notes a fault of the present line. Its message is not even made when it
// is one too many: a text of nothing but faults costs no more than another.
func (f *faults) fault(format string, args ...any) {
	if len(f.kept) < maxFaults {
		f.kept = append(f.kept, &Fault{f.file, f.lineNo, fmt.Sprintf(format, args...)})
		return
	}
	if f.dropped == 0 {
		f.from = f.lineNo
	}
	f.dropped++
}

// note is fault for an error that may be nil.
func (f *faults) note(err error) {
	if err != nil {
		f.fault("%v", err)
	}
}

func (f *faults) count() int { return len(f.kept) + f.dropped }

// err is nil without a fault.
func (f *faults) err() error {
	if f.dropped == 0 {
		return errors.Join(f.kept...)
	}
	more := &Fault{f.file, f.from, fmt.Sprintf("and %d more from this line on", f.dropped)}
	return errors.Join(append(slices.Clip(f.kept), more)...)
}
