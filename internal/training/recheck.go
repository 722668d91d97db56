package training

import (
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"runtime"
	"slices"
	"sync"
	"time"

	"stillwet/internal/action"
	"stillwet/internal/assess"
	"stillwet/internal/procedure"
	"stillwet/internal/simulate"
)

// JudgedLog is a log with the result that is kept of it.
type JudgedLog struct {
	Kind          string // attempt or demonstration
	ID            string
	Procedure     string
	ProcedureHash string
	RulesVersion  int
	Signed        bool
	Log           string
	ResultJSON    []byte
	Practice      simulate.Kind // of an attempt
	Steps         []string      // of a search: the rows that were marked
}

// JudgedReader reads every judged log.
type JudgedReader interface {
	// JudgedLogs calls do with each log, one after another; an error of do ends it.
	JudgedLogs(ctx context.Context, do func(JudgedLog) error) error
}

// RecheckReport says what today's rules, or a draft procedure, would judge
// otherwise than it was judged. Nothing is changed by it.
type RecheckReport struct {
	RulesVersion int             `json:"rules_version"`
	Draft        string          `json:"draft"` // hash of the draft procedure, "" for each log's own
	Logs         int             `json:"logs"`
	Same         int             `json:"same"`
	Different    int             `json:"different"`
	Signed       int             `json:"different_signed"` // of the different: signed ones, which keep their judgement
	Groups       []RecheckGroup  `json:"groups"`
	Unjudged     []RecheckReason `json:"unjudged"`
}

// RecheckGroup is one kind of difference: the outcome, or what a rule finds.
type RecheckGroup struct {
	Kind    string   `json:"kind"` // "outcome", "found now", "found no longer", "mark"
	What    string   `json:"what"`
	Logs    int      `json:"logs"`
	Why     string   `json:"why"` // as it is said of the first
	Records []string `json:"records"`
}

// RecheckReason is why logs could not be judged again.
type RecheckReason struct {
	Reason  string   `json:"reason"`
	Logs    int      `json:"logs"`
	Records []string `json:"records"`
}

const (
	recheckTime = time.Hour
	mostRecords = 5   // named of a group
	mostGroups  = 400 // kept; a report that is longer helps nobody
	batch       = 64
)

// Recheck judges every stored log again: with today's rules under the procedure it
// was judged by, or under a draft of it. It compares outcome, marks, and what was
// found where; never wording.
func (s *Service) Recheck(ctx context.Context, draft *procedure.Procedure) (RecheckReport, error) {
	ctx, stop := context.WithTimeout(ctx, recheckTime)
	defer stop()
	r := s.rechecker()
	if draft != nil {
		r.report.Draft, r.draft = draft.Hash, draft
	}
	err := s.Records.Snapshot(ctx, func(read Reader) error { return r.all(ctx, read) })
	return r.finish(), err
}

func (s *Service) rechecker() *rechecker {
	r := &rechecker{s: s, procedures: map[string]found{}, groups: map[groupKey]*RecheckGroup{}, reasons: map[string]*RecheckReason{}}
	r.report.RulesVersion = assess.RulesVersion
	return r
}

// found is a procedure that was looked up, or why there is none.
type found struct {
	p   *procedure.Procedure
	why string
}

type groupKey struct{ kind, what string }

type rechecker struct {
	s          *Service
	draft      *procedure.Procedure // each of its logs is judged by it
	effect     *effect              // of a whole set; nil otherwise
	procedures map[string]found     // by hash; filled by the reading side only

	mu      sync.Mutex
	report  RecheckReport
	groups  map[groupKey]*RecheckGroup
	reasons map[string]*RecheckReason
}

// job is a log with the procedure to judge it by.
type job struct {
	JudgedLog
	by found
	// against is what the log is judged by as well, to be compared with; nil takes its
	// stored result.
	against *procedure.Procedure
}

// all reads on one side and judges on as many as there are processors.
func (r *rechecker) all(ctx context.Context, read Reader) error {
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	jobs := make(chan []job, 2*runtime.NumCPU())
	var workers sync.WaitGroup
	for range runtime.NumCPU() {
		workers.Go(func() {
			for list := range jobs {
				for i := range list {
					r.judge(&list[i])
				}
			}
		})
	}
	var list []job
	flush := func() error {
		if len(list) == 0 {
			return nil
		}
		select {
		case jobs <- list:
			list = nil
			return nil
		case <-ctx.Done():
			return ctx.Err()
		}
	}
	err := read.JudgedLogs(ctx, func(l JudgedLog) error {
		j := job{JudgedLog: l}
		var err error
		if r.effect != nil {
			r.effect.procedures(&j)
		} else if j.by, err = r.procedure(ctx, read, l); err != nil {
			return err
		}
		if list = append(list, j); len(list) < batch {
			return nil
		}
		return flush()
	})
	if err == nil {
		err = flush()
	}
	close(jobs)
	workers.Wait()
	return err
}

// procedure finds what a log is judged by now.
func (r *rechecker) procedure(ctx context.Context, read Reader, l JudgedLog) (found, error) {
	if r.draft != nil {
		if r.draft.ID != l.Procedure {
			return found{}, nil // of another procedure: not looked at
		}
		return found{p: r.draft}, nil
	}
	if f, ok := r.procedures[l.ProcedureHash]; ok {
		return f, nil
	}
	f := found{}
	if present, ok := r.s.Library.Procedure(l.Procedure); ok && present.Hash == l.ProcedureHash {
		f.p = present
	} else {
		var err error
		f.p, err = citedProcedure(ctx, read, l.ProcedureHash)
		switch {
		case errors.Is(err, ErrNotFound):
			f.why = "the text of its procedure was not kept"
		case err != nil:
			return f, err
		}
	}
	r.procedures[l.ProcedureHash] = f
	return f, nil
}

func (r *rechecker) judge(j *job) {
	record := j.Kind + " " + j.ID
	if j.by.p == nil {
		if j.by.why != "" {
			r.unjudged(record, j.by.why)
		}
		return
	}
	if j.against != nil && j.against.Hash == j.by.p.Hash { // nothing is otherwise for it
		r.told(j, nil)
		return
	}
	was, now, err := j.results()
	if err != nil {
		r.unjudged(record, clip(err.Error()))
		return
	}
	r.compare(j, was, now)
}

// keptResult is what is compared of a stored result.
type keptResult struct {
	Findings []struct {
		Rule    string
		Act     int
		Surface string
		Worn    string
		Message string
		Level   assess.Level
	}
	Marks struct {
		Result assess.Outcome
		Lines  []struct {
			ID     string
			Status assess.MarkStatus
		}
	}
}

func (j *job) results() (was keptResult, now *assess.Result, err error) {
	if now, err = j.judged(j.by.p); err != nil { // by the draft, or the one that the record names
		return was, nil, err
	}
	stored := j.ResultJSON
	if j.against != nil && (j.against.Hash != j.ProcedureHash || j.RulesVersion != assess.RulesVersion) {
		if stored, err = j.resultBy(j.against); err != nil {
			return was, nil, err
		}
	}
	if err = json.Unmarshal(stored, &was); err != nil {
		return was, nil, fmt.Errorf("its stored result cannot be read: %w", err)
	}
	return was, now, nil
}

func (j *job) judged(by *procedure.Procedure) (*assess.Result, error) {
	log, err := action.Parse("log", j.Log, by.Words)
	if err != nil {
		return nil, err
	}
	result, _, err := assessAs(j.Practice, by, log, "log", j.Steps)
	return result, err
}

// resultBy is what would be stored if it were judged by another procedure.
func (j *job) resultBy(by *procedure.Procedure) ([]byte, error) {
	result, err := j.judged(by)
	if err != nil {
		return nil, err
	}
	return json.Marshal(result)
}

// findingKey is what a finding is, without its words.
type findingKey struct {
	rule, target string
	act          int
}

func (r *rechecker) compare(j *job, was keptResult, now *assess.Result) {
	then, today := map[findingKey]string{}, map[findingKey]string{}
	for _, f := range was.Findings {
		then[findingKey{f.Rule, cmp.Or(f.Surface, f.Worn), f.Act}] = f.Message
	}
	for _, f := range now.Findings {
		today[findingKey{f.Rule, cmp.Or(f.Surface, f.Worn), f.Act}] = f.Message
	}
	changes := map[groupKey]string{}
	for k, why := range today {
		if _, ok := then[k]; !ok {
			changes[groupKey{"found now", k.rule}] = why
		}
	}
	for k, why := range then {
		if _, ok := today[k]; !ok {
			changes[groupKey{"found no longer", k.rule}] = why
		}
	}
	if was.Marks.Result != now.Marks.Result {
		changes[groupKey{"outcome", fmt.Sprintf("%s -> %s", was.Marks.Result, now.Marks.Result)}] = firstChange(changes)
	}
	markChanges(was, now, changes)
	r.told(j, changes)
}

// told counts a log, with what is otherwise about it.
func (r *rechecker) told(j *job, changes map[groupKey]string) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.report.Logs++
	if r.effect != nil {
		r.effect.count(j, changes)
	}
	if len(changes) == 0 {
		r.report.Same++
		return
	}
	r.report.Different++
	if j.Signed {
		r.report.Signed++
	}
	for k, why := range changes {
		r.add(k, why, j.Kind+" "+j.ID)
	}
}

// firstChange is one sentence of those that changed, always the same.
func firstChange(changes map[groupKey]string) string {
	var all []string
	for _, why := range changes {
		all = append(all, why)
	}
	if len(all) == 0 {
		return "the marks count otherwise"
	}
	return slices.Min(all)
}

func markChanges(was keptResult, now *assess.Result, changes map[groupKey]string) {
	then := map[string]assess.MarkStatus{}
	for _, l := range was.Marks.Lines {
		then[l.ID] = l.Status
	}
	for _, l := range now.Marks.Lines {
		old, ok := then[l.ID]
		switch {
		case !ok && l.Status != assess.NotApplicable:
			changes[groupKey{"mark", fmt.Sprintf("%s: new, %s", l.ID, l.Status)}] = l.Title
		case ok && old != l.Status:
			changes[groupKey{"mark", fmt.Sprintf("%s: %s -> %s", l.ID, old, l.Status)}] = l.Title
		}
	}
}

func (r *rechecker) add(k groupKey, why, record string) {
	g := r.groups[k]
	if g == nil {
		if len(r.groups) == mostGroups {
			return
		}
		g = &RecheckGroup{Kind: k.kind, What: k.what, Why: why}
		r.groups[k] = g
	}
	g.Logs++
	g.Why = min(g.Why, why) // the same, whichever log came first
	g.Records = least(g.Records, record)
}

func (r *rechecker) unjudged(record, reason string) {
	r.mu.Lock()
	defer r.mu.Unlock()
	r.report.Logs++
	x := r.reasons[reason]
	if x == nil {
		if len(r.reasons) == mostGroups {
			return
		}
		x = &RecheckReason{Reason: reason}
		r.reasons[reason] = x
	}
	x.Logs++
	x.Records = least(x.Records, record)
}

// least keeps the first few records by name, so that the report does not depend on
// who was judged first.
func least(kept []string, record string) []string {
	at, _ := slices.BinarySearch(kept, record)
	kept = slices.Insert(kept, at, record)
	return kept[:min(len(kept), mostRecords)]
}

var kindOrder = []string{"outcome", "found now", "found no longer", "mark"}

func (r *rechecker) finish() RecheckReport {
	r.report.Groups, r.report.Unjudged = []RecheckGroup{}, []RecheckReason{}
	for _, g := range r.groups {
		r.report.Groups = append(r.report.Groups, *g)
	}
	slices.SortFunc(r.report.Groups, func(a, b RecheckGroup) int {
		return cmp.Or(cmp.Compare(slices.Index(kindOrder, a.Kind), slices.Index(kindOrder, b.Kind)), cmp.Compare(b.Logs, a.Logs), cmp.Compare(a.What, b.What))
	})
	for _, x := range r.reasons {
		r.report.Unjudged = append(r.report.Unjudged, *x)
	}
	slices.SortFunc(r.report.Unjudged, func(a, b RecheckReason) int {
		return cmp.Or(cmp.Compare(b.Logs, a.Logs), cmp.Compare(a.Reason, b.Reason))
	})
	return r.report
}
