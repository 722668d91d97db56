package training

import (
	"errors"
	"fmt"
)

// Refusal is an error with a sentence for the person who asked. errors.Is finds
// its kind, one of the Err values; Sentence holds nothing but the sentence.
type Refusal struct {
	Kind     error
	Sentence string
}

func (r *Refusal) Error() string { return r.Sentence }

func (r *Refusal) Unwrap() error { return r.Kind }

func refuse(kind error, format string, args ...any) error {
	return &Refusal{kind, fmt.Sprintf(format, args...)}
}

// said gives a store's bare "absent" or "there already" a sentence; other
// errors stay as they are.
func said(err, kind error, format string, args ...any) error {
	var r *Refusal
	if errors.Is(err, kind) && !errors.As(err, &r) {
		return refuse(kind, format, args...)
	}
	return err
}

// sentenceOf is what a refusal says, "" of other errors.
func sentenceOf(err error) string {
	var r *Refusal
	if errors.As(err, &r) {
		return r.Sentence
	}
	return ""
}
