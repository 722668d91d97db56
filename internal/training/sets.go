package training

import (
	"context"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"stillwet/internal/procedure"
)

// SetVersion is a version of the clinic's set: all its procedures, scenarios, products,
// programme and course as they were, which never changes, and what became of it.
type SetVersion struct {
	Number  int
	Hash    string // of all its files
	BasedOn int    // 0 of the first
	Origin  SetOrigin
	Why     string
	Edits   string // what was done to the version it is based on, as JSON
	Events  []SetEvent
}

// SetOrigin is where a version came from.
type SetOrigin string

// The origins.
const (
	StartingPoint SetOrigin = "starting point" // the built-in set, which nobody has confirmed
	EditedSet     SetOrigin = "edited"
	ImportedSet   SetOrigin = "imported"
)

// SetEventKind is what happened to a version.
type SetEventKind string

// The kinds. The last two say by how many people versions are approved from then on.
const (
	SetStarted    SetEventKind = "starting point"
	SetProposed   SetEventKind = "proposed"
	SetApproved   SetEventKind = "approved"
	SetWithdrawn  SetEventKind = "withdrawn"
	TwoApprove    SetEventKind = "two approve"
	OnlyOneNeeded SetEventKind = "one approves"
)

// SetEvent is one thing that happened to a version, and by whom.
type SetEvent struct {
	Version, Seq int
	Event        SetEventKind
	At           Instant
	ByID, ByName string // as they stood; "" of the program itself
	Why          string
	Approval     Approval // of what was approved
	From         Day      // in force from
	Leaf         int64
}

// SetDraft is the set that is being worked on. Its revision only grows, also over drafts
// that are no more; what is saved names the one it was made of.
type SetDraft struct {
	Open           bool // false: there was one, and it was proposed or discarded
	Base, Revision int
	Origin         SetOrigin
	Edits          string // what was done to its base, as JSON
	UpdatedAt      Instant
	ByID, ByName   string
	Files          map[string][]byte
}

// SetFile is a file of a version. One that several versions have is kept once, by its hash.
type SetFile struct {
	Name, Hash string
	Bytes      []byte
}

// setFiles are the files of a new version.
func setFiles(files map[string][]byte) (all []SetFile) {
	for _, name := range slices.Sorted(maps.Keys(files)) {
		all = append(all, SetFile{name, procedure.Digest(files[name]), files[name]})
	}
	return all
}

// Made is when and by whom a version was made; nobody made the starting point.
func (v SetVersion) Made() SetEvent {
	if len(v.Events) == 0 {
		return SetEvent{}
	}
	return v.Events[0]
}

// State is how far a version has come.
func (v SetVersion) State() SetEventKind { return v.last().Event }

// last is the newest event that moved the version on.
func (v SetVersion) last() SetEvent {
	for _, e := range slices.Backward(v.Events) {
		if e.Event != TwoApprove && e.Event != OnlyOneNeeded {
			return e
		}
	}
	return SetEvent{}
}

// Approved is the approval of a version that is approved.
func (v SetVersion) Approved() (SetEvent, bool) { return v.last(), v.State() == SetApproved }

// Stands reports whether it is or will be in force: approved, or the starting point.
func (v SetVersion) Stands() bool { return v.State() == SetApproved || v.State() == SetStarted }

// InForceFrom is the first day of an approved version, "" of any other. The starting
// point holds from the beginning.
func (v SetVersion) InForceFrom() Day { return v.last().From }

// SetInForce is the version in force on a day: the newest one that stands and whose day
// has come. Zero when there is none.
func SetInForce(versions []SetVersion, day Day) (in SetVersion) {
	for _, v := range versions {
		if v.Stands() && v.InForceFrom() <= day {
			in = v
		}
	}
	return in
}

// SetInForceAt is the version that was in force at a moment: one that was approved later
// on that day was not yet. Before the first it is the first.
func SetInForceAt(versions []SetVersion, at Instant, zone *time.Location) (in SetVersion) {
	for _, v := range versions {
		e := v.last()
		if v.State() == SetStarted || v.State() == SetApproved && e.At <= at && e.From <= at.Day(zone) {
			in = v
		}
	}
	return in
}

// newestStanding is the version that a draft builds on.
func newestStanding(versions []SetVersion) (newest SetVersion) {
	for _, v := range versions {
		if v.Stands() {
			newest = v
		}
	}
	return newest
}

// proposal is the version that waits to be approved.
func proposal(versions []SetVersion) (SetVersion, bool) {
	at := slices.IndexFunc(versions, func(v SetVersion) bool { return v.State() == SetProposed })
	if at < 0 {
		return SetVersion{}, false
	}
	return versions[at], true
}

// twoApprove reports whether the clinic asks for a second person.
func twoApprove(versions []SetVersion) bool {
	last := SetEvent{Leaf: -1}
	for _, v := range versions {
		for _, e := range v.Events {
			if (e.Event == TwoApprove || e.Event == OnlyOneNeeded) && e.Leaf > last.Leaf {
				last = e
			}
		}
	}
	return last.Event == TwoApprove
}

// SetHash is the hash of a set: over the names of its files and the hashes of their bytes.
func SetHash(files map[string][]byte) string {
	hashes := make(map[string]string, len(files))
	for name, text := range files {
		hashes[name] = procedure.Digest(text)
	}
	return hashOfNames(hashes)
}

func hashOfNames(hashes map[string]string) string {
	var all strings.Builder
	for _, name := range slices.Sorted(maps.Keys(hashes)) {
		all.WriteString(name + "\x00" + hashes[name] + "\n")
	}
	return procedure.Digest([]byte(all.String()))
}

// Limits of a set, which hold before anything is read of it.
const (
	maxSetFiles = 400
	maxSetFile  = 1 << 20
	maxSetBytes = 8 << 20
	maxSetEdits = 1 << 20
	maxFileName = 120
)

// checkSet refuses what is too much to be a set.
func checkSet(files map[string][]byte, edits string) error {
	bytes := 0
	for name, text := range files {
		if name == "" || len(name) > maxFileName || !utf8.ValidString(name) || strings.ContainsAny(name, "/\\\x00") || strings.HasPrefix(name, ".") {
			return refuse(ErrInvalid, "A set has files with plain names; %q is none.", clip(name))
		}
		if len(text) > maxSetFile {
			return refuse(ErrInvalid, "%s is larger than a file of a set may be (1 MB).", name)
		}
		bytes += len(text)
	}
	switch {
	case len(files) == 0:
		return refuse(ErrInvalid, "There are no files in this set.")
	case len(files) > maxSetFiles:
		return refuse(ErrInvalid, "There are %d files in this set; %d are the most.", len(files), maxSetFiles)
	case bytes > maxSetBytes:
		return refuse(ErrInvalid, "This set is larger than a set may be (8 MB).")
	case len(edits) > maxSetEdits:
		return refuse(ErrInvalid, "There are more changes in this draft than can be kept. Propose it, and go on in the next one.")
	}
	return nil
}

var errNoSets = errors.New("this clinic's procedures do not lie in its data file")

// loadSet proves a set. What is wrong with it is told to whoever made it.
func (s *Service) loadSet(files map[string][]byte) (Library, error) {
	if s.LoadSet == nil {
		return nil, errNoSets
	}
	lib, err := s.LoadSet(files)
	if err != nil {
		return nil, &Refusal{ErrInvalid, "This set cannot be used yet:\n" + err.Error()}
	}
	return lib, nil
}

// Sets is what pages of the set show.
type Sets struct {
	Versions   []SetVersion // oldest first, without files
	InForce    int          // number
	Base       int          // number of the one that a draft builds on
	Proposed   int          // the one that waits to be approved; 0 for none
	TwoApprove bool         // a second person is asked for
	Draft      SetDraft     // without files; to educators only
}

// Sets are the versions of the clinic's set, for everybody who is signed in; the draft is
// the educators'.
func (s *Service) Sets(ctx context.Context, actor Actor) (all Sets, err error) {
	if err = need(actor, everybody...); err != nil {
		return all, err
	}
	if all.Versions, err = s.Records.SetVersions(ctx); err != nil {
		return all, err
	}
	all.InForce, all.Base = SetInForce(all.Versions, s.Today()).Number, newestStanding(all.Versions).Number
	waiting, _ := proposal(all.Versions)
	all.Proposed, all.TwoApprove = waiting.Number, twoApprove(all.Versions)
	if actor.Person.Has(Educator) {
		all.Draft, err = draftOrNone(ctx, s.Records)
		all.Draft.Files = nil
	}
	return all, err
}

// VersionInForce is the version that holds now; the zero one where the set lies in no data
// file.
func (s *Service) VersionInForce(ctx context.Context, actor Actor) (SetVersion, error) {
	if err := need(actor, everybody...); err != nil {
		return SetVersion{}, err
	}
	versions, err := s.Records.SetVersions(ctx)
	return SetInForce(versions, s.Today()), err
}

// SetVersionAt is the number of the version that was in force at a moment; 0 where the set
// lies in no data file.
func (s *Service) SetVersionAt(ctx context.Context, actor Actor, at Instant) (int, error) {
	if err := need(actor, everybody...); err != nil {
		return 0, err
	}
	versions, err := s.Records.SetVersions(ctx)
	return SetInForceAt(versions, at, s.Zone()).Number, err
}

// SetDraft is the draft with its files; one that is not open has none.
func (s *Service) SetDraft(ctx context.Context, actor Actor) (SetDraft, error) {
	if err := need(actor, Educator); err != nil {
		return SetDraft{}, err
	}
	return draftOrNone(ctx, s.Records)
}

// draftOrNone is the draft; before the first it is a closed one of revision 0.
func draftOrNone(ctx context.Context, r SetReader) (SetDraft, error) {
	d, err := r.SetDraft(ctx)
	if errors.Is(err, ErrNotFound) {
		return SetDraft{}, nil
	}
	return d, err
}

// SetFiles are the files of a version, to be exported. They hold the answers of tests, so
// that new hires do not get them.
func (s *Service) SetFiles(ctx context.Context, actor Actor, version int) (map[string][]byte, error) {
	if err := need(actor, Preceptor, Educator); err != nil {
		return nil, err
	}
	return s.versionFiles(ctx, version)
}

func (s *Service) versionFiles(ctx context.Context, version int) (map[string][]byte, error) {
	files, err := s.Records.SetFiles(ctx, version)
	return files, said(err, ErrNotFound, "There is no version %d of the set.", version)
}

// SetLibrary is a version as it is read on a page: one that holds or will for everybody who
// is signed in, any other for preceptors and educators, for it takes its time to be read.
func (s *Service) SetLibrary(ctx context.Context, actor Actor, version int) (Library, error) {
	if err := need(actor, everybody...); err != nil {
		return nil, err
	}
	versions, err := s.Records.SetVersions(ctx)
	if err != nil {
		return nil, err
	}
	v, err := versionOf(versions, version)
	if err != nil {
		return nil, err
	}
	if shelf, ok := s.Library.(*Shelf); ok && !actor.Person.HasAny(Preceptor, Educator) && shelf.loaded(v.Hash) == nil {
		return nil, refuse(ErrNotFound, "Version %d does not hold, and will not.", version)
	}
	return s.libraryOf(ctx, v)
}

// ExportSet is a version for whoever has the data folder: the one in force with 0.
func (s *Service) ExportSet(ctx context.Context, version int) (SetVersion, map[string][]byte, error) {
	versions, err := s.Records.SetVersions(ctx)
	if err != nil {
		return SetVersion{}, nil, err
	}
	if version == 0 {
		version = SetInForce(versions, s.Today()).Number
	}
	v, err := versionOf(versions, version)
	if err != nil {
		return v, nil, err
	}
	files, err := s.versionFiles(ctx, version)
	return v, files, err
}

func versionOf(versions []SetVersion, number int) (SetVersion, error) {
	at := slices.IndexFunc(versions, func(v SetVersion) bool { return v.Number == number })
	if at < 0 {
		return SetVersion{}, refuse(ErrNotFound, "There is no version %d of the set.", number)
	}
	return versions[at], nil
}

// recordOf is the record of a version's leaves.
func recordOf(v SetVersion) string { return fmt.Sprint(v.Number) }
