package training

import (
	"context"
	"errors"
	"runtime"
	"sync"
	"time"
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
		return err
	})
	beside.Wait()
	err = errors.Join(err, wrong, nameStrays(ctx, s.Records, v.names, strays))
	v.faults = append(append(sound, v.faults...), strays...)
	if err != nil && ctx.Err() == nil && len(v.faults) > 0 {
		v.fault("data file", "reading", "It could not be read to its end, so there may be more: %v.", err)
		err = nil
	}
	v.report.Faults = v.faults
	return v.report, err
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
	if err := v.sets(ctx); err != nil {
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
