package station_test

import (
	"fmt"
	"maps"
	"math/rand/v2"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/action"
	"stillwet/internal/procedure"
	"stillwet/internal/station"
)

// A second, slow implementation of how contamination travels: every thing has a set of
// what is on it, and touching unites sets. It follows the rulings on gloves (fresh,
// working, used, soiled), on the person in the chair, and on what may not drop out of
// the state, and shares no code with the machine.

// set is what is on a thing.
type set map[string]bool

func (s set) add(other set) {
	maps.Copy(s, other)
}

// reference is the station as sets.
type reference struct {
	p        *procedure.Procedure
	on       map[string]set  // by surface, item, "gloves" and "hands"
	wiped    map[string]bool // surfaces with disinfectant on them that nothing has dirtied since
	spoilt   map[string]bool // surfaces that were dirtied after they had been wiped
	blood    map[string]bool
	wet      map[string]bool
	gloves   bool
	rubbed   bool // in gloves
	visible  bool // hands
	told     bool // this pair went from dirty to clean work
	bare     bool // bare hands handled used things or disinfectant, which is told once
	away     bool
	leftIn   bool // gloves
	there    bool // the patient
	seated   bool
	wipeSoil bool // the wipe in hand took up blood
	wipe     bool
	face     string // on which the wipe was first used
	pending  *undo
}

// undo is a touch that turns out to have been part of wiping.
type undo struct {
	surface                 string
	gloves, hands, surfaces set
	wiped, spoilt           bool
}

const (
	ofGloves = "gloves"
	ofHands  = "hands"
)

func newReference(p *procedure.Procedure) *reference {
	r := &reference{p: p, on: map[string]set{ofGloves: {}, ofHands: {"before": true}}, wiped: map[string]bool{}, spoilt: map[string]bool{},
		blood: map[string]bool{}, wet: map[string]bool{}, there: true, seated: true}
	for _, s := range p.Surfaces {
		r.on[s.ID] = set{"treatment": true}
	}
	for _, i := range p.Items {
		r.on[i.ID] = set{}
		if r.usedKind(i.ID) {
			r.on[i.ID]["treatment"] = true
		}
	}
	return r
}

func (r *reference) kind(item string) procedure.ItemKind { return r.p.Items[r.p.ItemIndex(item)].Kind }

// usedKind reports whether a treatment has used a thing.
func (r *reference) usedKind(item string) bool {
	switch r.kind(item) {
	case procedure.Supplies, procedure.NextSet, procedure.BucketItem:
		return false // the bucket is its surfaces
	}
	return true
}

// bucket are the surfaces of the bucket.
func (r *reference) bucket() (ids []string) {
	for _, s := range r.p.Surfaces {
		if s.Role == procedure.BucketSurface {
			ids = append(ids, s.ID)
		}
	}
	return ids
}

// parts are the things that a hand meets when it takes an item.
func (r *reference) parts(item string) []string {
	if r.kind(item) == procedure.BucketItem {
		return r.bucket()
	}
	return []string{item}
}

// hand is what touches things now.
func (r *reference) hand() string {
	if r.gloves {
		return ofGloves
	}
	return ofHands
}

// dirty puts something on a surface or an item.
func (r *reference) dirty(thing string, with set) {
	if len(with) == 0 {
		return
	}
	r.on[thing].add(with)
	if r.wiped[thing] {
		r.wiped[thing], r.spoilt[thing] = false, true
	}
}

// whole reports whether nothing is on any of the parts. The bucket is a used thing until
// all of it is wiped: which part a hand holds until then nobody can tell.
func (r *reference) whole(parts []string) bool {
	return !slices.ContainsFunc(parts, func(part string) bool { return len(r.on[part]) > 0 })
}

// ofWork reports whether there is more on the gloves than what came from the patient or
// from the bucket: gloves with only that on them dirty surfaces, and no clean thing.
func (r *reference) ofWork() bool {
	for from := range r.on[ofGloves] {
		if from != "patient" && from != "bucket" {
			return true
		}
	}
	return false
}

// tell notes when a pair of gloves goes from dirty to clean work: that is told once,
// and what these gloves do to clean things afterwards is not followed.
func (r *reference) tell(a *action.Act) {
	clean := false
	switch a.Verb {
	case action.Wipe:
		clean = !r.blood[a.Object] && (!slices.Contains(r.bucket(), a.Object) || r.ofWork())
	case action.Bring:
		clean = len(r.on[a.Object]) == 0
	}
	r.told = r.told || clean && r.gloves && len(r.on[ofGloves]) > 0
}

// loose reports whether a thing is an item that bare hands may take: clean supplies and
// what is like them.
func (r *reference) loose(thing string) bool { return r.p.ItemIndex(thing) >= 0 }

// meet lets a hand touch things: each takes what was on the other.
func (r *reference) meet(things ...string) {
	hand := maps.Clone(r.on[r.hand()])
	switch {
	case len(things) > 1 && (!r.whole(things) || !r.gloves && r.bare), !r.gloves && r.loose(things[0]):
		hand = nil
	case r.gloves && (len(things) > 1 || r.loose(things[0])) && (r.told || !r.ofWork()):
		hand = nil
	}
	for _, t := range things {
		had := maps.Clone(r.on[t])
		if len(things) > 1 && len(had) > 0 {
			had = set{"bucket": true}
		}
		r.dirty(t, hand)
		r.on[r.hand()].add(had)
		r.bare = r.bare || !r.gloves && len(had) > 0
	}
}

// do is one act or event.
func (r *reference) do(a *action.Act) {
	if a.Verb.Event() {
		r.event(a)
		return
	}
	if a.Helper {
		return // only helpers with things of their own are tried
	}
	r.settle(a)
	r.worn(a)
	r.tell(a)
	switch a.Verb {
	case action.RubHands, action.WashHands, action.PutOn, action.TakeOff:
		r.ofHands(a)
	case action.Wipe, action.Clean, action.TakeWipe, action.DropWipe:
		r.wiping(a)
	case action.Touch:
		r.touch(a)
	case action.Wait: // what was wiped has had its time, also when it is wiped once more
		for s, wiped := range r.wiped {
			r.wet[s] = r.wet[s] && !wiped
		}
	case action.LookAt:
		r.atStation()
	case action.LeaveStation:
		r.away, r.leftIn = true, r.gloves
	case action.ComeBack:
		r.comeBack()
		if !r.gloves {
			r.on[ofHands]["outside"] = true
		}
	case action.CheckStable, action.HelpOut:
		r.patient(a)
	case action.Disinfect:
		if r.on[a.Object] = (set{}); !r.gloves {
			r.on[ofHands]["used thing"], r.bare = true, true
		}
	default:
		r.item(a)
	}
}

// settle takes a touch back that was part of wiping, or lets it stand.
func (r *reference) settle(a *action.Act) {
	u := r.pending
	if u == nil {
		return
	}
	switch a.Verb {
	case action.LookAt, action.Wait, action.LeaveStation, action.ComeBack, action.CheckGone, action.TakeWipe, action.DropWipe:
		return
	case action.Touch: // of the same surface: still one handling
		if a.Object == u.surface {
			return
		}
	case action.Wipe:
		if a.Object == u.surface {
			r.on[ofGloves], r.on[ofHands], r.on[u.surface] = u.gloves, u.hands, u.surfaces
			if r.visible {
				r.on[ofHands]["soil"] = true
			}
			r.wiped[u.surface], r.spoilt[u.surface] = u.wiped, u.spoilt
		}
	}
	r.pending = nil
}

// worn dirties gloves that do something outside; carrying a used thing straight to drain
// or waste, or to what is set apart, is right.
func (r *reference) worn(a *action.Act) {
	switch a.Verb {
	case action.LookAt, action.Wait, action.LeaveStation, action.ComeBack, action.CheckGone, action.TakeOff:
		return
	case action.Empty, action.Discard, action.SetAt:
		r.leftIn = r.leftIn && (r.whole(r.parts(a.Object)) || r.p.SurfaceIndex(a.Place) >= 0)
	}
	if r.away && r.leftIn && r.gloves {
		r.on[ofGloves]["outside"] = true
	}
}

func (r *reference) ofHands(a *action.Act) {
	switch {
	case a.Verb == action.PutOn:
		if r.gloves && !r.rubbed {
			return
		}
		if r.gloves { // they had come off before hands were rubbed
			r.on[ofHands], r.visible, r.wipe = set{}, false, false
		}
		r.gloves, r.rubbed, r.leftIn, r.told, r.bare, r.on[ofGloves] = true, false, false, false, false, set{}
	case a.Verb == action.TakeOff && a.Object == action.Gloves:
		if r.gloves {
			r.gloves, r.rubbed = false, false
			r.on[ofHands].add(r.on[ofGloves])
			r.on[ofHands]["gloves"] = true
			r.on[ofGloves] = set{}
			r.wipe = false // let go with the gloves
		}
	case a.Verb == action.TakeOff:
		r.item(a)
	case r.gloves:
		r.rubbed = true
	case a.Verb == action.RubHands && r.visible: // not enough
	default:
		r.on[ofHands], r.visible = set{}, false
	}
}

func (r *reference) wiping(a *action.Act) {
	switch a.Verb {
	case action.TakeWipe:
		r.wipe, r.wipeSoil, r.face = true, false, ""
		return
	case action.DropWipe:
		r.wipe, r.wipeSoil = false, false
		return
	}
	r.atStation()
	r.bare = r.bare || !r.gloves
	if !r.wipe {
		r.wipe, r.wipeSoil, r.face = true, false, ""
	}
	face := r.p.Surfaces[r.p.SurfaceIndex(a.Object)].Face
	if r.face == "" {
		r.face = face
	}
	if a.Verb == action.Clean { // no disinfectant is between
		r.on[r.hand()].add(r.on[a.Object])
	}
	if !r.gloves {
		r.on[ofHands]["disinfectant"] = true
	}
	switch {
	case a.Verb == action.Clean:
		r.blood[a.Object], r.wipeSoil = false, r.wipeSoil || !r.wiped[a.Object]
	case r.blood[a.Object]:
	case r.wipeSoil:
		r.dirty(a.Object, set{"blood": true})
	default:
		r.wet[a.Object] = r.wet[a.Object] || !r.wiped[a.Object] || r.face != face // another face's wipe: anew
		r.on[a.Object], r.wiped[a.Object], r.spoilt[a.Object] = set{}, true, false
	}
}

func (r *reference) touch(a *action.Act) {
	if a.Object == action.Cart || a.Object == action.CleanStock {
		return // they are clean
	}
	if slices.Contains(action.Outside, a.Object) {
		if !r.gloves || len(r.on[ofGloves]) == 0 { // to used gloves it adds nothing
			r.on[r.hand()]["outside"] = true
		}
		return
	}
	if r.p.SurfaceIndex(a.Object) < 0 {
		r.meet(r.parts(a.Object)...)
		return
	}
	r.atStation()
	if r.pending == nil {
		r.pending = &undo{a.Object, maps.Clone(r.on[ofGloves]), maps.Clone(r.on[ofHands]), maps.Clone(r.on[a.Object]), r.wiped[a.Object], r.spoilt[a.Object]}
	}
	r.meet(a.Object)
	if r.wet[a.Object] && !r.gloves {
		r.on[ofHands]["disinfectant"], r.bare = true, true
	}
}

// item is an act on an item: the hand meets it, and it meets what it is put on.
func (r *reference) item(a *action.Act) {
	if a.Object == "" || r.p.ItemIndex(a.Object) < 0 {
		return
	}
	if a.Verb == action.PutBack || a.Verb == action.Bring || a.Verb == action.TakeOff || r.p.SurfaceIndex(a.Place) >= 0 {
		r.atStation()
	}
	parts := r.parts(a.Object)
	r.meet(parts...)
	if a.Verb == action.Discard {
		r.on[a.Object]["waste"] = true
	}
	r.lay(a, parts)
}

// lay puts an item down.
func (r *reference) lay(a *action.Act, parts []string) {
	switch k := r.p.PlaceIndex(a.Place); {
	case a.Place == "":
	case r.p.SurfaceIndex(a.Place) >= 0:
		on, whole := maps.Clone(r.on[a.Place]), r.whole(parts)
		if whole && r.gloves && r.ofWork() {
			r.dirty(a.Place, r.on[ofGloves])
		}
		for _, part := range parts {
			if r.dirty(a.Place, r.on[part]); whole {
				r.dirty(part, on)
			}
		}
	case r.p.Places[k].Kind == procedure.SetApart && r.whole(parts):
		for _, part := range parts {
			r.dirty(part, set{"used things": true})
		}
	}
}

func (r *reference) patient(a *action.Act) {
	r.atStation()
	if a.Verb == action.HelpOut {
		if !r.there {
			return
		}
		r.there, r.seated = false, false
	}
	r.on[r.hand()]["patient"] = true
}

func (r *reference) atStation() {
	if r.away {
		r.comeBack()
	}
}

func (r *reference) comeBack() {
	if r.away && r.leftIn && r.gloves {
		r.on[ofGloves]["outside"] = true
	}
	r.away = false
}

func (r *reference) event(a *action.Act) {
	switch a.Verb {
	case action.PatientLeaves:
		r.there, r.seated = false, false
	case action.PatientBack:
		r.there = true
	case action.PatientSits:
		r.there, r.seated = true, true
		for _, s := range r.p.Surfaces {
			if s.ChairSide {
				r.dirty(s.ID, set{"person": true})
			}
		}
	case action.PatientTouches:
		r.dirty(a.Object, set{"person": true})
	case action.BloodOn:
		r.blood[a.Object] = true
		r.dirty(a.Object, set{"blood": true})
	case action.HandsSoiled:
		r.visible, r.on[ofHands]["soil"] = true, true
	}
}

// contaminating are the lines that random logs are made of.
var contaminating = []string{
	"check patient stable", "help patient out", "rub hands 20s", "wash hands 40s", "put on gloves", "put on gloves", "take off gloves",
	"take wipe w of station-wipe", "drop wipe", "wipe {surface}", "wipe {surface}", "wipe {surface}", "clean {surface}", "look at station",
	"discard {used} in waste-bin", "discard {used} in leakproof-container", "set reusables at soiled-tray", "set reusables at {flat}",
	"take off lines", "take off bucket", "set bucket at drying-place", "set bucket at soiled-tray", "set bucket at {flat}", "put bucket back",
	"empty bucket in drain", "bring supplies to {flat}", "bring next-set to {flat}", "disinfect reusables", "touch {surface}", "touch {surface}",
	"touch {item}", "touch phone", "touch cart", "leave station", "come back", "wait", "patient leaves", "patient comes back", "patient sits",
	"patient touches {surface}", "blood on {surface}", "hands soiled", "helper rub hands", "helper put on gloves",
}

// few things, so that acts meet often.
var fewSurfaces = []string{"screen", "left", "chair", "staging", "bucket-inside", "bucket-sides", "bucket-outside"}

func contaminatingLog(r *rand.Rand) (lines []string) {
	pick := func(list ...string) string { return list[r.IntN(len(list))] }
	for range 5 + r.IntN(60) {
		lines = append(lines, strings.NewReplacer("{surface}", pick(fewSurfaces...), "{flat}", pick("staging", "chair", "screen"), "{item}", pick("lines", "supplies", "reusables", "bucket"),
			"{used}", pick("lines", "disposables", "reusables")).Replace(pick(contaminating...)))
	}
	return lines
}

// differs tells the first difference of machine and reference, "" for none.
func differs(t *testing.T, p *procedure.Procedure, lines []string) string {
	t.Helper()
	log, err := action.Parse("r", "stillwet log 2\nprocedure between-patients -\nwitness order\n"+strings.Join(lines, "\n")+"\n", p.Words)
	require.NoError(t, err)
	acts, err := station.Bind(p, log)
	require.NoError(t, err)
	m, s, r := station.MachineFor(p, log, nil), station.Start(p), newReference(p)
	for i := range acts {
		m.Apply(&s, &acts[i])
		r.do(acts[i].Act)
		for _, x := range r.compare(m, &s) {
			return fmt.Sprintf("after %d %q: %s", i+1, lines[i], x)
		}
	}
	return ""
}

// compare lists what is not the same.
func (r *reference) compare(m *station.Machine, s *station.State) (not []string) {
	say := func(what string, machine, reference bool) {
		if machine != reference {
			not = append(not, fmt.Sprintf("%s: machine %t, reference %t", what, machine, reference))
		}
	}
	say("gloves on", s.Gloves != station.NoGloves, r.gloves)
	say("gloves dirty", s.Gloves.Dirty(), len(r.on[ofGloves]) > 0)
	say("hands clean", s.Hands == station.HandsClean, len(r.on[ofHands]) == 0)
	for i := range r.p.Surfaces {
		x, id := &s.Surfaces[i], r.p.Surfaces[i].ID
		say(id+" wiped", x.Clean == station.Wiped, r.wiped[id])
		say(id+" spoilt", x.Spoilt != station.NotSpoilt, r.spoilt[id])
	}
	for i := range r.p.Items {
		id, dirty := r.p.Items[i].ID, 0
		for _, part := range r.parts(id) {
			dirty += len(r.on[part])
		}
		say(id+" dirty", m.DirtyItem(s, i) == station.Yes, dirty > 0)
	}
	return not
}

// shortest leaves out what a difference does not need.
func shortest(t *testing.T, p *procedure.Procedure, lines []string) []string {
	for i := 0; i < len(lines); {
		if less := slices.Delete(slices.Clone(lines), i, i+1); differs(t, p, less) != "" {
			lines, i = less, 0
		} else {
			i++
		}
	}
	return lines
}

func TestContaminationAsSetsSeeIt(t *testing.T) {
	p := builtIn(t)
	logs := 2000
	if text := os.Getenv("ROUNDS"); text != "" {
		n, err := strconv.Atoi(text)
		require.NoError(t, err, "ROUNDS")
		logs = n * 100
	}
	for seed := range uint64(logs) {
		lines := contaminatingLog(rand.New(rand.NewPCG(seed, 17)))
		if differs(t, p, lines) != "" {
			lines = shortest(t, p, lines)
			require.Fail(t, "machine and reference differ", "seed %d, %s\n%s", seed, differs(t, p, lines), strings.Join(lines, "\n"))
		}
	}
}
