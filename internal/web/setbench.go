package web

import (
	"encoding/json"
	"slices"

	"stillwet/internal/procedure"
	"stillwet/internal/training"
	"stillwet/scenarios"
	"stillwet/views"
)

// bench is the set as somebody works on it: the draft, or what holds while there is none.
type bench struct {
	sets  training.Sets
	draft training.SetDraft
	set   *scenarios.Set
	lib   *scenarios.Library // nil while the draft cannot be used
	fault error              // why
	below *scenarios.Set     // the newest version that stands, on which a draft builds
	now   *scenarios.Library // what the newest version that stands has
}

// bench reads what is being worked on, each set as how does. none is true where the set
// lies in no data file.
func (v *visit) bench(how reading) (b *bench, none bool, err error) {
	b = &bench{}
	if b.sets, err = v.Service.Sets(v.ctx, v.actor); err != nil {
		return nil, false, err
	}
	if len(b.sets.Versions) == 0 {
		return nil, true, nil
	}
	files, err := v.Service.SetFiles(v.ctx, v.actor, b.sets.Base)
	if err != nil {
		return nil, false, err
	}
	if b.set, b.now, err = read(files, how); err != nil {
		return nil, false, err
	}
	b.lib, b.below = b.now, b.set
	if b.draft = b.sets.Draft; !b.draft.Open {
		return b, false, nil
	}
	if b.draft, err = v.Service.SetDraft(v.ctx, v.actor); err != nil {
		return nil, false, err
	}
	if b.set, err = scenarios.SetOf(b.draft.Files); err != nil {
		return nil, false, err
	}
	b.lib, b.fault = how(b.set)
	return b, false, nil
}

// reading is how a set is read.
type reading func(*scenarios.Set) (*scenarios.Library, error)

// The ways: whole, or without the models, which is enough for whoever changes rows.
var (
	proved   reading = (*scenarios.Set).Load
	outlined reading = (*scenarios.Set).Outline
)

// read is a set of files with its library.
func read(files map[string][]byte, how reading) (*scenarios.Set, *scenarios.Library, error) {
	set, err := scenarios.SetOf(files)
	if err != nil {
		return nil, nil, err
	}
	lib, err := how(set)
	return set, lib, err
}

// proceduresOf are those of a library that its competencies or scenarios are of, each once.
func proceduresOf(lib *scenarios.Library) (all []*procedure.Procedure) {
	add := func(id string) {
		p, ok := lib.Procedure(id)
		if ok && !slices.Contains(all, p) {
			all = append(all, p)
		}
	}
	for _, c := range lib.Competencies() {
		add(c.Procedure)
	}
	for _, s := range lib.Scenarios() {
		add(s.Procedure)
	}
	return withVariants(lib, all)
}

// namedOf are the procedures of a library by title.
func namedOf(lib *scenarios.Library) (all []views.Named) {
	for _, p := range proceduresOf(lib) {
		all = append(all, views.Named{ID: p.ID, Title: p.Definition.Title})
	}
	return all
}

// restsNow is what cannot follow the draft and did follow what holds: told where the change
// is made, not only where the draft is proposed.
func (b *bench) restsNow() (all []views.Rest, err error) {
	if !b.draft.Open {
		return nil, nil
	}
	was, err := b.below.Load()
	if err != nil {
		return nil, err
	}
	is, err := b.set.Load()
	if err != nil {
		return nil, nil // what is wrong with it is told elsewhere
	}
	before := was.Resting()
	for _, r := range is.Resting() {
		same := func(x scenarios.Rest) bool { return x.Of == r.Of && x.ID == r.ID }
		if !r.Hidden && !slices.ContainsFunc(before, same) {
			all = append(all, r)
		}
	}
	return all, nil
}

// lastChange says of which row the draft's last change was.
func (b *bench) lastChange() string {
	var edits []scenarios.Edit
	if !b.draft.Open || json.Unmarshal([]byte(b.draft.Edits), &edits) != nil || len(edits) == 0 {
		return ""
	}
	last := edits[len(edits)-1]
	for _, lib := range []*scenarios.Library{b.lib, b.now} {
		if title, _, ok := views.FieldsOf(last.List, last.Row, proceduresOf(lib)); ok {
			return "“" + title + "”"
		}
	}
	return views.ListTitle(last.List)
}

// before is the draft without its last change, nil when its changes are not all that
// became of the version below it.
func (b *bench) before() (*scenarios.Set, []scenarios.Edit) {
	var edits []scenarios.Edit
	if b == nil || b.below == nil || !b.draft.Open || json.Unmarshal([]byte(b.draft.Edits), &edits) != nil || len(edits) == 0 {
		return nil, nil
	}
	for _, made := range []func(*scenarios.Set, []scenarios.Edit) (*scenarios.Set, error){madeAtOnce, madeOneByOne} {
		if again, err := made(b.below, edits); err == nil && again.Hash() == b.set.Hash() {
			if before, err := made(b.below, edits[:len(edits)-1]); err == nil {
				return before, edits[:len(edits)-1]
			}
		}
	}
	return nil, nil
}

// The ways to make changes anew. At once is faster, and the same but where one change made
// usual what a later one would not.
func madeAtOnce(set *scenarios.Set, edits []scenarios.Edit) (*scenarios.Set, error) {
	if len(edits) == 0 {
		return set, nil
	}
	return set.With(edits...)
}

func madeOneByOne(set *scenarios.Set, edits []scenarios.Edit) (*scenarios.Set, error) {
	var err error
	for _, e := range edits {
		if set, err = set.With(e); err != nil {
			return nil, err
		}
	}
	return set, nil
}
