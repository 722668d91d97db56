package procedure

import (
	"bytes"
	"encoding/json"
	"fmt"

	"stillwet/internal/action"
)

// MaxText is the largest text that is read.
const MaxText = 1 << 20

// Stored reads a definition as it is kept. The hash is that of the text as
// given, also when this program would write it otherwise. It was checked when it
// came into force; here only what the program could stumble over is, so that a
// record can be read when a rule is gone or a check has become stricter.
func Stored(text []byte) (*Procedure, []Fault) {
	if len(text) > MaxText {
		return nil, []Fault{{"", fmt.Sprintf("the stored procedure is larger than %d bytes", MaxText)}}
	}
	if !json.Valid(text) {
		return nil, []Fault{{"", "the stored procedure is no JSON, or more than one thing"}}
	}
	var d Definition
	dec := json.NewDecoder(bytes.NewReader(text))
	dec.DisallowUnknownFields() // a newer program's field must not be dropped in silence
	if err := dec.Decode(&d); err != nil {
		return nil, []Fault{{"", "the stored procedure cannot be read: " + err.Error()}}
	}
	return build(d, bytes.Clone(text), (*checker).structure)
}

// Acts are the acts of a step. They are kept as the lines of a log, so that the
// text does not depend on how this program numbers its verbs.
type Acts []action.Act

// MarshalJSON writes the lines.
func (a Acts) MarshalJSON() ([]byte, error) {
	lines := make([]string, len(a))
	for i := range a {
		lines[i] = a[i].Text()
	}
	return json.Marshal(lines)
}

// UnmarshalJSON reads lines, or the objects of version 1.
func (a *Acts) UnmarshalJSON(text []byte) error {
	var lines []string
	if err := json.Unmarshal(text, &lines); err != nil {
		return a.version1(text)
	}
	*a = make(Acts, len(lines))
	for i, line := range lines {
		var err error
		if (*a)[i], err = action.ParseAct(line, nil); err != nil {
			return err
		}
	}
	return nil
}
