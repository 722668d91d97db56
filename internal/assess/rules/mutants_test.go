package rules_test

import (
	"cmp"
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/action"
	"stillwet/internal/assess"
	"stillwet/internal/assess/rules"
	"stillwet/internal/procedure"
	"stillwet/internal/simulate"
	"stillwet/scenarios"
)

// model is a right log that is broken in one place at a time.
type model struct {
	name    string
	p       *procedure.Procedure
	witness action.Witness
	drying  bool
	acts    []entry
	read    map[string]action.Act // lines that were read before
	gaps    int
	score   float64
}

// entry is an act of a model: events of the wet clock are left out, they follow from
// the acts.
type entry struct {
	at   action.Millis
	text string
}

// mutant is a log with one fault.
type mutant struct {
	kind, text string
	acts       []entry
}

func readModel(t *testing.T, name, text string, p *procedure.Procedure) *model {
	t.Helper()
	log, err := action.Parse(name, text, p.Words)
	require.NoError(t, err)
	_, lines := parts(t, text)
	m := &model{name: name, p: p, witness: log.Witness, drying: log.Witness.Has(action.Drying), read: map[string]action.Act{}}
	for _, line := range lines {
		e := entry{action.Untimed, line}
		if m.drying {
			at, rest, _ := strings.Cut(line, " ")
			var ok bool
			e.at, ok = action.ParseTime(at)
			require.True(t, ok, line)
			e.text = rest
		}
		if !strings.HasPrefix(e.text, "dry ") {
			m.acts = append(m.acts, e)
		}
	}
	result := m.judge(t, m.acts)
	require.Empty(t, result.Findings, name)
	require.Equal(t, assess.Pass, result.Marks.Result, name)
	m.gaps, m.score = len(result.NotAssessed), result.Marks.Score
	return m
}

// world puts in when what was wiped dries, as long as the products' rows say.
func (m *model) world(acts []entry) []entry {
	if !m.drying {
		return acts
	}
	var out []entry
	product, dries := 0, map[string]action.Millis{}
	until := func(t action.Millis) {
		for _, s := range slices.SortedFunc(maps.Keys(dries), func(a, b string) int { return cmp.Or(cmp.Compare(dries[a], dries[b]), strings.Compare(a, b)) }) {
			if dries[s] <= t {
				out = append(out, entry{dries[s], "dry " + s})
				delete(dries, s)
			}
		}
	}
	for _, e := range acts {
		until(e.at)
		out = append(out, e)
		if _, of, ok := strings.Cut(e.text, " of "); ok && m.p.ProductIndex(of) >= 0 {
			product = m.p.ProductIndex(of)
		}
		if s, ok := strings.CutPrefix(e.text, "wipe "); ok {
			dries[s] = e.at + action.Millis(m.p.DriesS(m.p.SurfaceIndex(s), product))*1000
		}
	}
	return out
}

func (m *model) judge(t *testing.T, acts []entry) *assess.Result {
	t.Helper()
	log := &action.Log{Procedure: m.p.ID, Hash: "-", Witness: m.witness}
	for _, e := range m.world(acts) {
		a, known := m.read[e.text]
		if !known {
			var err error
			a, err = action.ParseAct(e.text, m.p.Words)
			require.NoError(t, err)
			m.read[e.text] = a
		}
		a.At = e.at
		log.Add(a)
	}
	result, err := rules.Assess(m.p, log, m.name)
	require.NoError(t, err)
	return result
}

// detected reports whether a result differs from the model's by a breach, by
// something left open or by its score.
func (m *model) detected(r *assess.Result) bool {
	breach := func(f assess.Finding) bool { return !f.Advice() }
	return slices.ContainsFunc(r.Findings, breach) || len(r.NotAssessed) > m.gaps || r.Marks.Score < m.score || r.Marks.Result != assess.Pass
}

// event reports whether an entry is blood that shows, which no mutant takes away.
func (e entry) event() bool { return strings.HasPrefix(e.text, "blood ") }

func (m *model) mutants() (all []mutant) {
	for i, e := range m.acts {
		if e.event() {
			continue
		}
		all = append(all, m.drop(i), m.swap(i))
		all = append(all, m.moves(i)...)
		all = append(all, m.places(i)...)
		all = append(all, m.changed(i)...)
		all = append(all, m.inserted(i)...)
	}
	return slices.DeleteFunc(all, func(x mutant) bool { return x.kind == "" })
}

// after is where something is, in words: after which act.
func (m *model) after(i int) string {
	if i == 0 {
		return "at first"
	}
	return "after “" + plain(m.acts[i-1].text) + "”"
}

// plain is an act without the name of its wipe, its product and its seconds.
func plain(text string) string {
	words := strings.Fields(text)
	switch {
	case strings.HasPrefix(text, "take wipe "):
		return "take wipe"
	case len(words) == 3 && words[1] == "hands":
		return words[0] + " hands"
	}
	return text
}

func (m *model) drop(i int) mutant {
	acts := slices.Delete(slices.Clone(m.acts), i, i+1)
	return mutant{"drop", fmt.Sprintf("drop “%s” %s", plain(m.acts[i].text), m.after(i)), acts}
}

func (m *model) swap(i int) mutant {
	if i+1 == len(m.acts) || m.acts[i+1].event() {
		return mutant{}
	}
	acts := slices.Clone(m.acts)
	acts[i].text, acts[i+1].text = acts[i+1].text, acts[i].text
	if acts[i].text == acts[i+1].text {
		return mutant{}
	}
	return mutant{"swap", fmt.Sprintf("swap “%s” and “%s”", plain(m.acts[i].text), plain(m.acts[i+1].text)), acts}
}

// moves puts an act first, last, and some places up and down.
func (m *model) moves(i int) (all []mutant) {
	for _, to := range []int{0, i - 7, i + 7, len(m.acts) - 1} {
		if to < 0 || to >= len(m.acts) || to >= i-1 && to <= i+1 || m.acts[0].event() && to == 0 {
			continue
		}
		rest := slices.Delete(slices.Clone(m.acts), i, i+1)
		e := m.acts[i]
		e.at = rest[min(to, len(rest)-1)].at
		acts := slices.Insert(rest, to, e)
		before := "at first"
		if to > 0 {
			before = "after “" + plain(acts[to-1].text) + "”"
		}
		all = append(all, mutant{"move", fmt.Sprintf("move “%s” from %s to %s", plain(e.text), m.after(i), before), acts})
	}
	return all
}

// places puts the thing of an act into each other place.
func (m *model) places(i int) (all []mutant) {
	for _, sep := range []string{" in ", " at ", " to "} {
		act, was, ok := strings.Cut(m.acts[i].text, sep)
		if !ok || !slices.ContainsFunc(m.p.Places, func(x procedure.Place) bool { return x.ID == was }) {
			continue
		}
		for _, place := range m.p.Places {
			if place.ID != was {
				all = append(all, m.to(i, "place", act+sep+place.ID))
			}
		}
	}
	return all
}

// to is the act i with another text.
func (m *model) to(i int, kind, text string) mutant {
	acts := slices.Clone(m.acts)
	acts[i].text = text
	instead := plain(m.acts[i].text)
	if _, product, ok := strings.Cut(m.acts[i].text, " of "); ok && kind == "product" {
		_, other, _ := strings.Cut(text, " of ")
		text, instead = other, product
	}
	return mutant{kind, fmt.Sprintf("%s: “%s” instead of “%s” %s", kind, text, instead, m.after(i)), acts}
}

// changed shortens hand hygiene and takes each other product.
func (m *model) changed(i int) (all []mutant) {
	text := m.acts[i].text
	if hands, ok := strings.CutSuffix(text, " 20s"); ok {
		all = append(all, m.to(i, "short", hands+" 5s"))
	}
	if wipe, was, ok := strings.Cut(text, " of "); ok && m.p.ProductIndex(was) >= 0 {
		for _, x := range m.p.Products {
			if x.ID != was {
				all = append(all, m.to(i, "product", wipe+" of "+x.ID))
			}
		}
	}
	return all
}

// inserted puts something in before an act.
func (m *model) inserted(i int) (all []mutant) {
	for kind, texts := range map[string][]string{"touch": {"touch phone", "touch front"}, "sits": {"patient sits"}} {
		acts := slices.Clone(m.acts)
		for j, text := range texts {
			acts = slices.Insert(acts, i+j, entry{m.acts[i].at, text})
		}
		all = append(all, mutant{kind, fmt.Sprintf("insert “%s” %s", strings.Join(texts, ", "), m.after(i)), acts})
	}
	return all
}

func models(t *testing.T) (all []*model) {
	t.Helper()
	lib, err := scenarios.Load()
	require.NoError(t, err)
	frozen, _ := builtIn(t)
	for from, l := range map[string]*scenarios.Library{"": lib.Confirmed("A. Educator", "2026-09-01"), "frozen ": frozen} {
		for _, s := range l.Scenarios() {
			p, ok := l.Procedure(s.Procedure)
			require.True(t, ok)
			if s.Kind == simulate.FindWrong { // it has the model of another
				continue
			}
			all = append(all, readModel(t, from+s.ID, s.Model, p))
		}
	}
	return all
}

// floors are the shares that must be found at least, by kind, with what the rest is.
// Every single survivor stands in testdata/checks/survivors with its reason.
var floors = map[string]struct {
	share float64
	rest  string
}{
	"drop":    {0.78, "a wipe that was taken and not noted, and advice on one wipe for two faces"},
	"swap":    {0.30, "much of the work has no order of its own: used things, surfaces of one face, looking"},
	"move":    {0.70, "likewise, and wipes taken sooner or later"},
	"place":   {0.93, "a second right place"},
	"short":   {1, "every rub counts"},
	"product": {0.30, "most surfaces may be wiped with each product in date"},
	"touch":   {0.95, "gloves that go on to used things"},
	"sits":    {0.93, "the patient who sits there already"},
}

// Every fault in a model is found, or it is known why not.
func TestEveryFaultIsFoundOrKnown(t *testing.T) {
	known, left := survivors(t), map[string]bool{}
	total, found := map[string]int{}, map[string]int{}
	for _, m := range models(t) {
		for _, x := range m.mutants() {
			total[x.kind]++
			result := m.judge(t, x.acts)
			if m.detected(result) {
				found[x.kind]++
				continue
			}
			text := x.text + advised(result)
			if known[text] == "" && !left[text] {
				t.Errorf("a survivor without a reason: %s\n\tin %s", text, m.name)
			}
			left[text] = true
		}
	}
	for text, file := range known {
		if !left[text] {
			t.Errorf("no survivor any more, take it out of %s: %s", file, text)
		}
	}
	for kind, floor := range floors {
		share := float64(found[kind]) / float64(total[kind])
		t.Logf("%-8s %4d of %4d found, %3.0f%%; the rest: %s", kind, found[kind], total[kind], 100*share, floor.rest)
		require.GreaterOrEqual(t, share, floor.share, kind)
	}
	require.Len(t, total, len(floors))
}

// advised says what a survivor is told as advice.
func advised(r *assess.Result) string {
	var names []string
	for _, f := range r.Findings {
		names = append(names, f.Rule)
	}
	slices.Sort(names)
	if names = slices.Compact(names); len(names) > 0 {
		return " (advice: " + strings.Join(names, ", ") + ")"
	}
	return ""
}

// survivors are the known ones with the file that says why. Each file is a reason in
// words, in lines that begin with #, and the mutants that it is of.
func survivors(t *testing.T) map[string]string {
	t.Helper()
	files, err := filepath.Glob(checks + "survivors/*.txt")
	require.NoError(t, err)
	known := map[string]string{}
	for _, file := range files {
		text, err := os.ReadFile(file)
		require.NoError(t, err)
		reason, name := false, filepath.Base(file)
		for line := range strings.Lines(string(text)) {
			line = strings.TrimSpace(line)
			switch {
			case strings.HasPrefix(line, "# "):
				reason = true
			case line == "":
			default:
				require.True(t, reason, "%s gives no reason", name)
				require.Empty(t, known[line], "%s: twice: %s", name, line)
				known[line] = name
			}
		}
	}
	return known
}
