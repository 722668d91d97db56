package ledger

import (
	"encoding/base64"
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"

	"golang.org/x/mod/sumdb/note"
)

// Key signs heads.
type Key struct {
	secret, public string
	signer         note.Signer
	verifier       note.Verifier
}

// Origin is the first line of every head of a clinic and the name of its key.
func Origin(clinicID string) string { return "stillwet/" + clinicID }

// NewKey makes an Ed25519 key for a clinic.
func NewKey(random io.Reader, clinicID string) (*Key, error) {
	secret, public, err := note.GenerateKey(random, Origin(clinicID))
	if err != nil {
		return nil, fmt.Errorf("ledger: make key: %w", err)
	}
	return ParseKey(secret + "\n" + public + "\n")
}

// ParseKey reads the text of a key file: the signer key, then the verifier key.
func ParseKey(text string) (*Key, error) {
	lines := strings.Split(strings.TrimSuffix(text, "\n"), "\n")
	if len(lines) != 2 {
		return nil, errors.New("ledger: a key file has two lines: the signer key and the verifier key")
	}
	signer, err := note.NewSigner(lines[0])
	if err != nil {
		return nil, errors.New("ledger: the first line of the key file is no signer key")
	}
	verifier, err := note.NewVerifier(lines[1])
	if err != nil {
		return nil, fmt.Errorf("ledger: the second line of the key file is no verifier key: %w", err)
	}
	if signer.Name() != verifier.Name() || signer.KeyHash() != verifier.KeyHash() {
		return nil, errors.New("ledger: the two lines of the key file do not belong together")
	}
	return &Key{lines[0], lines[1], signer, verifier}, nil
}

// File is the text of the key file. It is secret.
func (k *Key) File() string { return k.secret + "\n" + k.public + "\n" }

// Public is the verifier key, which may be shown to everyone.
func (k *Key) Public() string { return k.public }

// Origin is the first line of the heads the key signs.
func (k *Key) Origin() string { return k.signer.Name() }

// Sign writes the signed note of a head.
func (k *Key) Sign(h Head) (string, error) {
	signed, err := note.Sign(&note.Note{Text: h.text(k.Origin())}, k.signer)
	if err != nil {
		return "", fmt.Errorf("ledger: sign head: %w", err)
	}
	return string(signed), nil
}

func (h Head) text(origin string) string {
	return fmt.Sprintf("%s\n%d\n%s\n", origin, h.Size, base64.StdEncoding.EncodeToString(h.Root[:]))
}

// OpenHead reads a signed head and checks its signature with a verifier key.
func OpenHead(signed, public string) (Head, error) {
	v, err := note.NewVerifier(public)
	if err != nil {
		return Head{}, fmt.Errorf("ledger: verifier key: %w", err)
	}
	n, err := note.Open([]byte(signed), note.VerifierList(v))
	if err != nil {
		return Head{}, fmt.Errorf("ledger: the head's signature is not good: %w", err)
	}
	return parseHead(n.Text, v.Name())
}

func parseHead(text, origin string) (Head, error) {
	lines := strings.Split(text, "\n")
	if len(lines) != 4 || lines[3] != "" || lines[0] != origin {
		return Head{}, fmt.Errorf("ledger: a head has three lines, the first of them %q", origin)
	}
	size, err := strconv.ParseInt(lines[1], 10, 64)
	if err != nil || size < 0 || strconv.FormatInt(size, 10) != lines[1] {
		return Head{}, fmt.Errorf("ledger: %q is no size of a tree", lines[1])
	}
	// The decoder passes over carriage returns; a head is written in one way only.
	root, err := base64.StdEncoding.Strict().DecodeString(lines[2])
	if err != nil || len(root) != len(Hash{}) || base64.StdEncoding.EncodeToString(root) != lines[2] {
		return Head{}, fmt.Errorf("ledger: %q is no root of a tree", lines[2])
	}
	return Head{size, Hash(root)}, nil
}

// ReadHead reads a signed head of a clinic without checking its signature: for one that
// stands in a chain whose newest head was checked.
func ReadHead(signed, public string) (Head, error) {
	v, err := note.NewVerifier(public)
	if err != nil {
		return Head{}, fmt.Errorf("ledger: verifier key: %w", err)
	}
	text, signature, _ := strings.Cut(signed, "\n\n")
	code, ok := strings.CutPrefix(signature, "— "+v.Name()+" ")
	if _, err := base64.StdEncoding.Strict().DecodeString(strings.TrimSuffix(code, "\n")); !ok || err != nil || !strings.HasSuffix(code, "\n") {
		return Head{}, errors.New("ledger: the head is not a signed note of this clinic")
	}
	return parseHead(text+"\n", v.Name())
}

// SizeOf is the size that a head says, without a look at anything else of it; -1 when
// it says none.
func SizeOf(note string) int64 {
	_, rest, _ := strings.Cut(note, "\n")
	text, _, _ := strings.Cut(rest, "\n")
	size, err := strconv.ParseInt(text, 10, 64)
	if err != nil || size < 0 {
		return -1
	}
	return size
}
