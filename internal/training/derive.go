package training

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"

	"stillwet/internal/action"
	"stillwet/internal/procedure"
)

// derive is the lines of a log: those that were there before, then what the acts stand
// for, in the order of their devices and of their times between devices. It depends on
// nothing but what it is given, so that it does not matter when and in which order the
// acts came.
func derive(p *procedure.Procedure, product string, before []Observed, acts []Watched) ([]Observed, error) {
	f := derived{p: p, product: product, of: map[string][]int{}, gone: map[int]bool{}, early: map[string][]Watched{}}
	for _, o := range before {
		f.there(o)
	}
	for _, a := range inOrder(acts) {
		if _, known := f.of[a.Key]; known {
			continue // an earlier program had written it already
		}
		if err := f.add(a); err != nil {
			return nil, err
		}
	}
	return f.lines, nil
}

// inOrder is the acts that count, each device's by their numbers and none earlier than
// the one before it; devices are merged by time.
func inOrder(acts []Watched) []Watched {
	count := slices.DeleteFunc(slices.Clone(acts), func(a Watched) bool { return a.Late || a.Refused != "" })
	slices.SortFunc(count, func(a, b Watched) int { return cmp.Or(cmp.Compare(a.Device, b.Device), cmp.Compare(a.N, b.N)) })
	for i := 1; i < len(count); i++ {
		if count[i].Device == count[i-1].Device {
			count[i].AtMs = max(count[i].AtMs, count[i-1].AtMs)
		}
	}
	slices.SortStableFunc(count, func(a, b Watched) int { return cmp.Compare(a.AtMs, b.AtMs) })
	return count
}

// derived is a log as it grows.
type derived struct {
	p       *procedure.Procedure
	product string
	lines   []Observed
	of      map[string][]int     // places of the lines of an act
	gone    map[int]bool         // lines that were taken back
	early   map[string][]Watched // by two clocks: what takes an act back that comes later
	wipes   int
}

func (f *derived) put(o Observed) {
	o.Seq = len(f.lines) + 1
	if o.Seq > 1 {
		o.AtMs = max(o.AtMs, f.lines[o.Seq-2].AtMs)
	}
	f.of[o.Key] = append(f.of[o.Key], len(f.lines))
	f.lines = append(f.lines, o)
}

// there takes a line as it was written.
func (f *derived) there(o Observed) {
	f.put(o)
	if n, err := strconv.Atoi(strings.TrimPrefix(o.Text, "undone ")); err == nil {
		f.gone[n-1] = true
	}
	if strings.HasPrefix(o.Text, "take wipe w") {
		f.wipes++
	}
}

func (f *derived) add(a Watched) error {
	if a.Undo != "" {
		f.takeBack(a)
		return nil
	}
	acts, err := actsOfTap(f.p, a.Step, a.Text)
	if err != nil {
		return err
	}
	for _, act := range acts {
		act = procedure.OnShelf(act, f.product)
		if act.Verb == action.TakeWipe {
			f.wipes++
			act.With = "w" + strconv.Itoa(f.wipes)
		}
		f.put(Observed{Key: a.Key, AtMs: a.AtMs, Text: act.Text(), Step: a.Step, SentAt: a.ReceivedAt})
	}
	for _, back := range f.early[a.Key] {
		f.takeBack(back)
	}
	delete(f.early, a.Key)
	return nil
}

// takeBack adds a line for each line of an act that stands yet. What takes back itself is
// not taken back, and what never comes takes nothing.
func (f *derived) takeBack(a Watched) {
	at, ok := f.of[a.Undo]
	if !ok {
		f.early[a.Undo] = append(f.early[a.Undo], a)
		return
	}
	for _, i := range slices.Clone(at) {
		if f.gone[i] || strings.HasPrefix(f.lines[i].Text, "undone ") {
			continue
		}
		f.gone[i] = true
		f.put(Observed{Key: a.Key, AtMs: a.AtMs, Text: fmt.Sprintf("undone %d", i+1), SentAt: a.ReceivedAt})
	}
}

// complete refuses while acts of which is known that they were made have not come: those
// up to the last that somebody names, or that came.
func complete(acts []Watched, made []LastOf) error {
	came, last := map[string]map[int]bool{}, map[string]int{}
	for _, a := range acts {
		if came[a.Device] == nil {
			came[a.Device] = map[int]bool{}
		}
		came[a.Device][a.N] = true
		last[a.Device] = max(last[a.Device], a.N)
	}
	own := ""
	for i, m := range made {
		if i == 0 {
			own = m.Device
		}
		last[m.Device] = max(last[m.Device], min(m.N, maxActs))
	}
	for _, device := range slices.Sorted(maps.Keys(last)) {
		if missing := absent(came[device], last[device]); missing != "" {
			whose := "another tablet"
			if device == own {
				whose = "this tablet"
			}
			return refuse(ErrConflict, "%s of %s. End the demonstration when all are sent.", missing, whose)
		}
	}
	return nil
}

// absent names the first numbers up to the last that have not come, "" for none.
func absent(came map[int]bool, last int) string {
	from := 1
	for from <= last && came[from] {
		from++
	}
	until := from
	for until < last && !came[until+1] {
		until++
	}
	switch {
	case from > last:
		return ""
	case from == until:
		return fmt.Sprintf("Act %d has not come yet", from)
	}
	return fmt.Sprintf("Acts %d to %d have not come yet", from, until)
}
