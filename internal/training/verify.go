package training

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"iter"
	"maps"
	"runtime"
	"slices"
	"strings"
	"sync"
	"time"

	"stillwet/internal/action"
	"stillwet/internal/ledger"
)

// VerifyOptions is what a check is measured by besides the file itself.
type VerifyOptions struct {
	Heads    []GivenHead // signed heads that were kept elsewhere: the ledger must extend each
	Key      string      // the verifier key that the clinic is known by; "" takes the file's
	AllHeads bool        // check the signature of every head stored, not of the newest only
	Progress func(done int64)
}

// GivenHead is a signed head that was kept elsewhere, and where.
type GivenHead struct{ From, Note string }

// verifyTime bounds a check: a ledger of many millions takes minutes.
const verifyTime = 24 * time.Hour

// Verify recomputes everything signed from the stored bytes: the tree from its leaves,
// each leaf from the rows that people see, and each row from its leaf. Faults are in
// the report; the error means that it could not be checked. It judges nothing.
func (s *Service) Verify(ctx context.Context) (VerifyReport, error) {
	return s.VerifyWith(ctx, VerifyOptions{})
}

// VerifyWith is Verify measured by heads and a key from elsewhere.
func (s *Service) VerifyWith(ctx context.Context, o VerifyOptions) (VerifyReport, error) {
	ctx, stop := context.WithTimeout(ctx, verifyTime)
	defer stop()
	v := &verifier{options: o, replay: newReplay(), waiting: map[LeafKind][]StoredLeaf{}, room: make(chan struct{}, runtime.NumCPU())}
	var sound, strays []VerifyFault
	var wrong error
	var beside sync.WaitGroup
	beside.Go(func() { sound, strays, wrong = s.wholeFile(ctx) })
	err := s.Records.Snapshot(ctx, func(r Reader) error {
		v.r = r
		err := v.all(ctx)
		v.gather()
		beside.Wait()
		v.faults = append(sound, v.faults...)
		if err = errors.Join(err, wrong, v.nameStrays(ctx, strays)); err == nil {
			v.faults = append(v.faults, strays...)
		}
		return err
	})
	if err != nil && ctx.Err() == nil && len(v.faults) > 0 {
		v.fault("data file", "reading", "It could not be read to its end, so there may be more: %v.", err)
		err = nil
	}
	v.report.Faults = v.faults
	return v.report, err
}

// told is what was found wrong.
type told struct{ faults []VerifyFault }

func (t *told) fault(record, field, format string, args ...any) {
	t.faults = append(t.faults, VerifyFault{record, field, fmt.Sprintf(format, args...)})
}

type verifier struct {
	told
	r       Reader
	options VerifyOptions
	report  VerifyReport
	key     string
	names   map[string]string // of people, by id
	replay  *replay
	waiting map[LeafKind][]StoredLeaf // read, and to be compared with rows

	room    chan struct{} // for comparisons beside the reading
	results []chan []VerifyFault
}

// beside compares what was read while the next is being read. What is told keeps its
// order.
func (v *verifier) beside(compare func(*told)) {
	out := make(chan []VerifyFault, 1)
	v.results = append(v.results, out)
	v.room <- struct{}{}
	go func() {
		var t told
		compare(&t)
		out <- t.faults
		<-v.room
	}()
	if len(v.results) >= 4*cap(v.room) {
		v.gather()
	}
}

// gather waits for all comparisons.
func (v *verifier) gather() {
	for _, r := range v.results {
		v.faults = append(v.faults, <-r...)
	}
	v.results = nil
}

func (v *verifier) all(ctx context.Context) error {
	people, err := v.r.People(ctx)
	if err != nil {
		return err
	}
	v.names = make(map[string]string, len(people))
	for _, p := range people {
		v.names[p.ID] = p.Name
	}
	if err := v.keys(ctx); err != nil {
		return err
	}
	if err := v.tree(ctx); err != nil {
		return err
	}
	if err := v.standing(ctx, people); err != nil {
		return err
	}
	return v.definitions(ctx, v.r)
}

// wholeFile is what SQLite finds wrong with the file, and rows that no leaf stands
// behind: questions over everything, which are answered beside the walk.
func (s *Service) wholeFile(ctx context.Context) (sound, strays []VerifyFault, err error) {
	err = s.Records.Snapshot(ctx, func(r Reader) error {
		if sound, err = r.Soundness(ctx); err != nil {
			return err
		}
		strays, err = r.Strays(ctx)
		return err
	})
	return sound, strays, err
}

// nameStrays adds people and day to the records that strays name by their ids.
func (v *verifier) nameStrays(ctx context.Context, strays []VerifyFault) error {
	for i := range strays {
		kind, id, _ := strings.Cut(strays[i].Record, " ")
		var of LeafAbout
		switch kind {
		case "attempt":
			found, err := v.r.WholeAttempts(ctx, []string{id})
			if err != nil {
				return err
			}
			for _, a := range found {
				of = LeafAbout{At: a.FinishedAt, People: []Named{{Name: v.names[a.PersonID]}}}
			}
		case "demonstration":
			found, err := v.r.WholeDemonstrations(ctx, []string{id})
			if err != nil {
				return err
			}
			for _, d := range found {
				of = LeafAbout{At: d.StartedAt, People: []Named{{Name: v.names[d.TraineeID]}, {Name: v.names[d.PreceptorID]}}}
			}
		case "sign-off":
			o, err := v.r.SignOff(ctx, id)
			if err != nil && !errors.Is(err, ErrNotFound) {
				return err
			}
			of = LeafAbout{At: o.SignedAt, People: []Named{{Name: v.names[o.PersonID]}, {Name: o.SignerName}}}
		default:
			continue
		}
		of.Kind, of.Record = LeafKind(kind), id
		strays[i].Record = titleOf(of)
	}
	return nil
}

// keys finds by which key heads are checked.
func (v *verifier) keys(ctx context.Context) error {
	key, inFile, err := v.r.LedgerKey(ctx)
	if err != nil {
		return err
	}
	v.key = key
	if v.options.Key != "" {
		v.key = v.options.Key
	}
	for _, other := range []string{key, inFile} {
		if other != "" && other != v.key {
			v.fault("ledger", "key", "The ledger is of the key %s; it was to be checked by %s. The key, or the whole file, was replaced.", other, v.key)
			break
		}
	}
	v.report.Head.Key = v.key
	latest, err := v.r.Ledger(ctx)
	if err == nil && inFile == "" && latest.Size > 0 {
		v.fault("ledger", "key", "The data file does not name the key of its ledger any more.")
	}
	return nil // a head that cannot be trusted is told where it stands
}

// tree walks the leaves, hashes them anew and compares each stored hash and head on the
// way, and hands each leaf on to be compared with its rows.
func (v *verifier) tree(ctx context.Context) error {
	nodes, stopNodes := iter.Pull2(v.r.LedgerNodes(ctx))
	defer stopNodes()
	heads, stopHeads := iter.Pull2(v.r.LedgerHeads(ctx))
	defer stopHeads()
	walk := &ledger.Walk{}
	stored := &storedTree{v: v, nodes: nodes, heads: heads}
	given := v.given()
	for l, err := range v.r.LedgerLeaves(ctx) {
		if err != nil {
			return err
		}
		if l.Leaf != walk.Size() {
			v.fault("ledger", "leaves", "Leaf %d stands where leaf %d should: leaves were removed.", l.Leaf, walk.Size())
		}
		first := ledger.StoredAt(walk.Size())
		if err := stored.compare(l.Leaf, first, walk.Add(l.Bytes)); err != nil {
			return err
		}
		if err := stored.headAt(walk); err != nil {
			return err
		}
		given = v.meets(given, walk)
		if err := v.take(ctx, l); err != nil {
			return err
		}
		if v.options.Progress != nil && walk.Size()%progressEvery == 0 {
			v.options.Progress(walk.Size())
		}
	}
	for _, g := range given {
		v.fault("ledger", "head given", "%s was signed for %d records, and the ledger has %d: the newest %d were cut off, or an older file was put in its place.",
			g.from, g.head.Size, walk.Size(), g.head.Size-walk.Size())
	}
	v.report.Leaves = walk.Size()
	return errors.Join(stored.end(walk), v.flush(ctx, 1))
}

const progressEvery = 10_000

// storedTree is the stored hashes and heads as they are read beside the leaves.
type storedTree struct {
	v     *verifier
	nodes func() (StoredNode, error, bool)
	heads func() (StoredHead, error, bool)
	ahead *StoredHead // read, and larger than what was walked
	last  StoredHead
	node  *StoredNode // read, and of a later leaf
}

// compare reads the hashes that belong to a leaf and compares them with its own.
func (t *storedTree) compare(leaf, first int64, hashes []ledger.Hash) error {
	for i, h := range hashes {
		at := first + int64(i)
		n, err := t.nodeAt(at)
		if err != nil {
			return err
		}
		if n == nil || n.Hash != h {
			t.v.fault("ledger", fmt.Sprintf("hash %d", at), "The stored hash %d, which came with leaf %d, does not follow from the leaves.", at, leaf)
		}
	}
	return nil
}

// nodeAt is the stored hash of an index, nil when it is not there.
func (t *storedTree) nodeAt(index int64) (*StoredNode, error) {
	for t.node == nil || t.node.Index < index {
		n, err, ok := t.nodes()
		if err != nil || !ok {
			return nil, err
		}
		t.node = &n
	}
	if t.node.Index != index {
		return nil, nil
	}
	n := t.node
	t.node = nil
	return n, nil
}

// headAt compares the heads that were signed for as many leaves as were walked.
func (t *storedTree) headAt(w *ledger.Walk) error {
	for {
		if t.ahead == nil {
			h, err, ok := t.heads()
			if err != nil || !ok {
				return err
			}
			t.ahead = &h
		}
		if t.ahead.Size > w.Size() {
			return nil
		}
		t.last, t.ahead = *t.ahead, nil
		t.v.storedHead(t.last, w, t.v.options.AllHeads)
	}
}

// end checks what is left when the leaves are at their end.
func (t *storedTree) end(w *ledger.Walk) error {
	head := w.Head()
	v := t.v
	v.report.Head.Size = head.Size
	if t.ahead != nil {
		v.fault("ledger", fmt.Sprintf("head of %d leaves", t.ahead.Size), "There is a head signed for %d leaves, and only %d are there: the newest were cut off.", t.ahead.Size, head.Size)
	}
	if n, err, ok := t.nodes(); err != nil {
		return err
	} else if ok || t.node != nil {
		v.fault("ledger", fmt.Sprintf("hash %d", n.Index), "There are more stored hashes than the leaves make.")
	}
	if head.Size == 0 {
		return nil
	}
	v.report.Head.Root, v.report.Head.Note = head.Root.String(), t.last.Note
	if t.last.Size != head.Size {
		v.fault("ledger", "head", "The newest head is signed for %d leaves, and there are %d.", t.last.Size, head.Size)
		return nil
	}
	if !v.options.AllHeads {
		v.storedHead(t.last, w, true)
	}
	return nil
}

// storedHead compares a stored head with the leaves, and its signature too when asked.
func (v *verifier) storedHead(h StoredHead, w *ledger.Walk, signature bool) {
	field := fmt.Sprintf("head of %d leaves", h.Size)
	open := ledger.ReadHead
	if signature {
		open = ledger.OpenHead
	}
	is, err := open(h.Note, v.key)
	switch {
	case err != nil:
		v.fault("ledger", field, "The head stored for %d leaves cannot be trusted: %v.", h.Size, err)
	case is.Size != h.Size || h.Size != w.Size():
		v.fault("ledger", field, "The head stored for %d leaves is signed for %d.", h.Size, is.Size)
	case is != w.Head() && !slices.ContainsFunc(v.faults, func(f VerifyFault) bool { return f.Field == field }):
		v.fault("ledger", field, "The head of %d leaves was signed with root %s; the leaves stored have root %s.", h.Size, is.Root, w.Head().Root)
	}
}

type givenHead struct {
	from string
	head ledger.Head
}

// given are the heads from elsewhere by their size. One that cannot be trusted is a fault.
func (v *verifier) given() (all []givenHead) {
	for _, g := range v.options.Heads {
		h, err := ledger.OpenHead(g.Note, v.key)
		if err != nil {
			v.fault("ledger", "head given", "The head in %s cannot be trusted: %v. It is of another clinic or key, or was altered.", g.From, err)
			continue
		}
		if h.Size > 0 {
			all = append(all, givenHead{g.From, h})
		}
	}
	slices.SortStableFunc(all, func(a, b givenHead) int { return int(a.head.Size - b.head.Size) })
	return all
}

// meets takes out the heads of as many leaves as were walked.
func (v *verifier) meets(given []givenHead, w *ledger.Walk) []givenHead {
	for len(given) > 0 && given[0].head.Size == w.Size() {
		if given[0].head.Root != w.Head().Root {
			v.fault("ledger", "head given", "%s was signed for %d records with root %s; the first %d records here have root %s: they were written anew.",
				given[0].from, w.Size(), given[0].head.Root, w.Size(), w.Head().Root)
		}
		given = given[1:]
	}
	return given
}

// compareBatch is how many leaves of a kind are compared with their rows at once.
const compareBatch = 128

// take hands a leaf on to what it is of.
func (v *verifier) take(ctx context.Context, l StoredLeaf) error {
	switch l.Kind {
	case "":
		v.orphan(l)
		return nil
	case SignatureLeaf, SignOffLeaf, AttemptLeaf, DemonstrationLeaf:
		v.waiting[l.Kind] = append(v.waiting[l.Kind], l)
	default: // these change one another's people and accounts, so they keep their order
		v.waiting[replayedLeaf] = append(v.waiting[replayedLeaf], l)
	}
	return v.flush(ctx, compareBatch)
}

// replayedLeaf stands for every kind of which rows keep only the outcome.
const replayedLeaf LeafKind = "replayed"

// orphan is a leaf that nothing says the record of.
func (v *verifier) orphan(l StoredLeaf) {
	is, err := readLeaf(l.Bytes)
	if err != nil {
		v.fault("ledger", fmt.Sprintf("leaf %d", l.Leaf), "Leaf %d cannot be read: %v.", l.Leaf, err)
		return
	}
	v.fault(titleOf(is.about()), "record", "Leaf %d is of it, and it is not among the records any more.", l.Leaf)
}

// flush compares what waits, of each kind that has so many.
func (v *verifier) flush(ctx context.Context, least int) error {
	for _, kind := range []LeafKind{SignatureLeaf, SignOffLeaf, AttemptLeaf, DemonstrationLeaf, replayedLeaf} {
		leaves := v.waiting[kind]
		if len(leaves) < least {
			continue
		}
		v.waiting[kind] = nil
		if err := v.compareKind(ctx, kind, leaves); err != nil {
			return err
		}
	}
	return nil
}

func (v *verifier) compareKind(ctx context.Context, kind LeafKind, leaves []StoredLeaf) error {
	people, err := v.r.NamedAt(ctx, leafNumbers(leaves))
	if err != nil {
		return err
	}
	for i := range leaves {
		leaves[i].People = people[leaves[i].Leaf]
	}
	switch kind {
	case SignatureLeaf:
		return v.signatures(ctx, leaves)
	case SignOffLeaf:
		return v.signOffs(ctx, leaves)
	case AttemptLeaf:
		return v.attempts(ctx, leaves)
	case DemonstrationLeaf:
		return v.demonstrations(ctx, leaves)
	}
	for _, l := range leaves {
		v.replayed(l)
	}
	return nil
}

func leafNumbers(leaves []StoredLeaf) []int64 {
	out := make([]int64, len(leaves))
	for i, l := range leaves {
		out[i] = l.Leaf
	}
	return out
}

func recordIDs(leaves []StoredLeaf) []string {
	out := make([]string, len(leaves))
	for i, l := range leaves {
		out[i] = l.Record
	}
	return out
}

func (v *verifier) wholeDemonstrations(ctx context.Context, ids []string) (map[string]WholeDemonstration, error) {
	all, err := v.r.WholeDemonstrations(ctx, ids)
	of := make(map[string]WholeDemonstration, len(all))
	for _, d := range all {
		of[d.ID] = d
	}
	return of, err
}

func (v *verifier) wholeAttempts(ctx context.Context, ids []string) (map[string]WholeAttempt, error) {
	all, err := v.r.WholeAttempts(ctx, ids)
	of := make(map[string]WholeAttempt, len(all))
	for _, a := range all {
		of[a.ID] = a
	}
	return of, err
}

func (v *verifier) signatures(ctx context.Context, leaves []StoredLeaf) error {
	rows, err := v.r.SignaturesAt(ctx, leafNumbers(leaves))
	if err != nil {
		return err
	}
	of := map[int64]Signature{}
	ids := recordIDs(leaves)
	for _, n := range rows {
		of[n.Leaf] = n
		ids = append(ids, n.Record)
	}
	whole, err := v.wholeDemonstrations(ctx, ids)
	if err != nil {
		return err
	}
	v.beside(func(t *told) {
		for _, l := range leaves {
			n, ok := of[l.Leaf]
			if !ok {
				t.gone(l)
				continue
			}
			d := whole[n.Record]
			f, err := signatureFields(d.Demonstration, d.Lines, n)
			t.compare(l, n.Record, n.SignedAt, f, err)
		}
	})
	return nil
}

func (v *verifier) demonstrations(ctx context.Context, leaves []StoredLeaf) error {
	whole, err := v.wholeDemonstrations(ctx, recordIDs(leaves))
	if err != nil {
		return err
	}
	v.beside(func(t *told) {
		for _, l := range leaves {
			d, ok := whole[l.Record]
			if !ok {
				t.gone(l)
				continue
			}
			f, err := demonstrationFields(d.Demonstration, d.Lines)
			t.compare(l, d.ID, d.EndedAt, f, err)
			t.lines(l, d)
		}
	})
	return nil
}

func (v *verifier) attempts(ctx context.Context, leaves []StoredLeaf) error {
	whole, err := v.wholeAttempts(ctx, recordIDs(leaves))
	if err != nil {
		return err
	}
	v.beside(func(t *told) {
		for _, l := range leaves {
			a, ok := whole[l.Record]
			if !ok {
				t.gone(l)
				continue
			}
			t.compare(l, a.ID, a.FinishedAt, finishedFields(a), nil)
		}
	})
	return nil
}

func (v *verifier) signOffs(ctx context.Context, leaves []StoredLeaf) error {
	rows, err := v.r.SignOffsAt(ctx, leafNumbers(leaves))
	if err != nil {
		return err
	}
	of := map[int64]SignOff{}
	var watched, practised []string
	for _, o := range rows {
		of[o.Leaf] = o
		watched, practised = append(watched, o.Demonstrations...), append(practised, o.Attempts...)
	}
	demonstrations, err := v.wholeDemonstrations(ctx, watched)
	if err != nil {
		return err
	}
	attempts, err := v.wholeAttempts(ctx, practised)
	if err != nil {
		return err
	}
	v.beside(func(t *told) {
		for _, l := range leaves {
			o, ok := of[l.Leaf]
			if !ok {
				t.gone(l)
				continue
			}
			f, err := evidenceFields(o, demonstrations, attempts)
			if err != nil {
				t.fault(titleOf(l.LeafAbout), "evidence", "Its evidence cannot be read: %v.", err)
				continue
			}
			t.compare(l, o.ID, o.SignedAt, f, nil)
		}
	})
	return nil
}

// evidenceFields is what a sign-off signs, of evidence that was read before.
func evidenceFields(o SignOff, demonstrations map[string]WholeDemonstration, attempts map[string]WholeAttempt) (ledger.Fields, error) {
	var watched []Demonstration
	var practised []WholeAttempt
	for _, id := range o.Demonstrations {
		d, ok := demonstrations[id]
		if !ok {
			return nil, fmt.Errorf("demonstration %s: %w", id, ErrNotFound)
		}
		watched = append(watched, d.Demonstration)
	}
	for _, id := range o.Attempts {
		a, ok := attempts[id]
		if !ok {
			return nil, fmt.Errorf("attempt %s: %w", id, ErrNotFound)
		}
		practised = append(practised, a)
	}
	return signOffFields(o, watched, practised), nil
}

// gone is a leaf whose record is not there.
func (t *told) gone(l StoredLeaf) {
	t.fault(titleOf(l.LeafAbout), "record", "Leaf %d is of it, and it is not among the records any more.", l.Leaf)
}

// title names a record with its people and day, so that a person knows which is meant.
func titleOf(a LeafAbout) string {
	text := string(a.Kind) + " " + a.Record
	var who []string
	for _, n := range a.People {
		if n.Part != PartBy && n.Part != PartResetBy {
			who = append(who, n.Name)
		}
	}
	if len(who) > 0 {
		text += " (" + strings.Join(who, " and ")
		if len(a.At) >= 10 {
			text += ", " + string(a.At[:10])
		}
		text += ")"
	}
	return text
}

// compare makes the leaf again from the rows and names what differs.
func (t *told) compare(l StoredLeaf, id string, at Instant, rows ledger.Fields, err error) {
	if id != l.Record {
		t.fault(titleOf(l.LeafAbout), "record", "Leaf %d is said to be of %s, and the row that names this leaf is of %s.", l.Leaf, l.Record, id)
	}
	if err == nil {
		var again []byte
		about := l.LeafAbout
		if again, err = about.text(rows); err == nil && bytes.Equal(again, l.Bytes) && at == l.At {
			return
		} else if err == nil {
			t.differing(l, at, again)
			return
		}
	}
	t.fault(titleOf(l.LeafAbout), "record", "It cannot be written as a leaf: %v.", err)
}

func (t *told) differing(l StoredLeaf, at Instant, again []byte) {
	record := titleOf(l.LeafAbout)
	if at != l.At {
		t.fault(record, "at", "Its leaf is said to be of %s, and the record is of %s.", l.At, at)
	}
	was, err := decode(l.Bytes)
	if err != nil {
		t.fault(record, "leaf", "Leaf %d cannot be read: %v.", l.Leaf, err)
		return
	}
	is, err := decode(again)
	if err != nil {
		t.fault(record, "record", "%v.", err)
		return
	}
	before := len(t.faults)
	t.differ(record, "", was, is)
	if len(t.faults) == before && at == l.At {
		t.fault(record, "leaf", "Leaf %d is not written as it was signed.", l.Leaf)
	}
}

// lines compares the recorded lines with the judged log.
func (t *told) lines(l StoredLeaf, d WholeDemonstration) {
	record := titleOf(l.LeafAbout)
	log, err := action.Parse("log", d.Log, nil)
	if err != nil {
		t.fault(record, "log", "The log cannot be read: %v.", err)
		return
	}
	if len(d.Lines) != len(log.Acts) {
		t.fault(record, "lines", "%d lines were recorded and the judged log has %d.", len(d.Lines), len(log.Acts))
		return
	}
	for i, o := range d.Lines {
		if a := log.Acts[i]; a.Text() != o.Text || int64(a.At) != o.AtMs {
			t.fault(record, fmt.Sprintf("line %d", o.Seq), "Line %d says %q at %d ms, the judged log says %q at %d ms.", o.Seq, o.Text, o.AtMs, a.Text(), a.At)
		}
	}
}

func decode(text []byte) (any, error) {
	d := json.NewDecoder(bytes.NewReader(text))
	d.UseNumber()
	var x any
	if err := d.Decode(&x); err != nil {
		return nil, err
	}
	return x, nil
}

// differ names each field whose value differs between what was signed and what
// the rows say now.
func (t *told) differ(record, path string, was, is any) {
	a, okA := was.(map[string]any)
	b, okB := is.(map[string]any)
	if okA && okB {
		keys := maps.Clone(a)
		maps.Copy(keys, b)
		for _, k := range slices.Sorted(maps.Keys(keys)) {
			t.differ(record, strings.TrimPrefix(path+"."+k, "."), a[k], b[k])
		}
		return
	}
	x, okX := was.([]any)
	y, okY := is.([]any)
	if okX && okY && len(x) == len(y) {
		for i := range x {
			t.differ(record, fmt.Sprintf("%s[%d]", path, i), x[i], y[i])
		}
		return
	}
	if fmt.Sprint(was) != fmt.Sprint(is) {
		t.fault(record, path, "%s was signed as %s and is now %s.", path, clip(fmt.Sprint(was)), clip(fmt.Sprint(is)))
	}
}
