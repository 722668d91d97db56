package rules_test

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
	"stillwet/internal/assess"
	"stillwet/internal/assess/rules"
	"stillwet/internal/procedure"
	"stillwet/scenarios"
)

// The generator below makes right work at random. It knows the order of the trade,
// written by hand (CDC, Checklist: Dialysis Station Routine Disinfection, as
// summarised in the guidance, F1 to F10; protective equipment on and off: F43, F45;
// spills: F37, F46; what leaves a station: F22 to F24; the rest common practice),
// and what a label asks for. It knows nothing of the rules.

// rounds is how often a generated check is made: $ROUNDS times each, or the number
// for every change.
func rounds(t testing.TB, usual, each int) int {
	t.Helper()
	text := os.Getenv("ROUNDS")
	if text == "" {
		return usual
	}
	n, err := strconv.Atoi(text)
	require.NoError(t, err, "ROUNDS")
	return n * each
}

// legal makes one legal sequence.
type legal struct {
	*rand.Rand
	p    *procedure.Procedure
	used map[string]int // how often each liberty was taken, over all sequences

	clinic bool // keeps the order that the clinic declares
	clock  bool
	watch  bool // noted by somebody who watches: "still wet" and "all dry"

	lines   []string
	done    map[string]bool // acts that were done
	now     action.Millis
	wet     map[string]*film
	wetting bool // in the middle of wiping
	product string
	bloody  bool // the product has to suit blood
	wipes   int
	face    string // that the wipe in hand is for

	gloves bool
	mask   bool
	leak   bool   // blood got into the machine
	gone   bool   // the patient
	seen   bool   // seen to be gone
	room   bool   // an isolation room: nobody walks out in its gown
	from   string // where watching begins
}

// film is the disinfectant on a surface.
type film struct {
	since, need, dries action.Millis
	soon               bool // it dries before its time, unless somebody wipes again
	told               bool // seen wet after its time
}

// either takes a liberty or not, and counts it.
func (l *legal) either(name string, oneIn int) bool {
	yes := l.IntN(oneIn) == 0
	if yes {
		l.used[name]++
	}
	return yes
}

func pick[T any](r *rand.Rand, of ...T) T { return of[r.IntN(len(of))] }

// The world: time goes by, and what is wet dries.

func (l *legal) say(text string) {
	if l.clock {
		text = l.now.String() + " " + text
	}
	l.lines = append(l.lines, text)
}

// seconds is how long an act takes.
func (l *legal) seconds(act string) action.Millis {
	words := strings.Fields(act)
	ms := action.Millis(1500 + l.IntN(6000))
	if last := words[len(words)-1]; words[len(words)-2] == "hands" {
		told, _ := action.ParseSeconds(last)
		ms += told
	}
	return ms
}

// do is an act of somebody, with what it takes and what it does to the world.
func (l *legal) do(acts ...string) {
	for _, act := range acts {
		if l.clock {
			l.until(l.now + l.seconds(act))
		}
		l.say(act)
		l.done[act] = true
		if surface, ok := strings.CutPrefix(strings.TrimPrefix(act, "helper "), "wipe "); ok && !strings.HasPrefix(surface, "dry ") {
			l.wets(surface)
		}
	}
}

// happens is an event.
func (l *legal) happens(events ...string) {
	for _, e := range events {
		if surface, ok := strings.CutPrefix(e, "blood on "); ok {
			delete(l.wet, surface)
		}
		l.say(e)
	}
}

func (l *legal) label() action.Millis {
	return action.Millis(l.p.Products[l.p.ProductIndex(l.product)].LabelS) * 1000
}

// wets starts a spell or goes on with one, which then needs the longer label.
func (l *legal) wets(surface string) {
	if !l.clock {
		return
	}
	f := l.wet[surface]
	if f == nil {
		f = &film{since: l.now}
		l.wet[surface] = f
	}
	if l.label() > f.need {
		f.need, f.told = l.label(), false
	}
	f.soon = false
	f.dries = l.now + action.Millis(60_000+l.IntN(30_000))
	if left := f.since + f.need; f.dries < left && l.wetting && l.IntN(4) == 0 && !(l.clinic && strings.HasPrefix(surface, "bucket")) {
		f.soon = true
		return
	}
	f.dries = l.late(f)
}

// late is when a surface dries that is left alone: to the millisecond at its time,
// or some time after.
func (l *legal) late(f *film) action.Millis {
	if !l.watch && l.either("dry to the millisecond", 8) {
		return max(f.since+f.need, l.now+1)
	}
	return max(f.since+f.need, l.now) + action.Millis(6000+l.IntN(200_000))
}

// until lets time go by, and notes what a run or a watcher notes.
func (l *legal) until(t action.Millis) {
	l.kind(t)
	for {
		surface, at, text := l.next()
		if surface == "" || at > t {
			break
		}
		l.now = max(l.now, at)
		l.say(text + surface)
		if f := l.wet[surface]; text == "dry " {
			delete(l.wet, surface)
		} else {
			f.told = true
		}
	}
	l.now = max(l.now, t)
}

// next is what is noted next of what is wet.
func (l *legal) next() (surface string, at action.Millis, text string) {
	for _, s := range slices.Sorted(maps.Keys(l.wet)) {
		f := l.wet[s]
		when, what := f.dries, "dry "
		if l.watch {
			when, what = f.since+f.need+2000, "still wet "
		}
		if l.watch && (f.told || when < l.now) {
			continue // a watcher says "all dry" at the end
		}
		if surface == "" || when < at {
			surface, at, text = s, when, what
		}
	}
	return surface, at, text
}

// wipeAgain wipes what would dry before its time while an act goes on.
func (l *legal) wipeAgain(took action.Millis) {
	for _, s := range slices.Sorted(maps.Keys(l.wet)) {
		f := l.wet[s]
		if f == nil || !f.soon || l.now+2*reWipe >= f.dries || l.now+took+4*reWipe < f.dries {
			continue
		}
		l.used["re-wiped in time"]++
		l.until(l.now + reWipe)
		l.say(l.takes("again " + s))
		l.until(l.now + reWipe)
		l.say("wipe " + s)
		f.soon, f.dries = false, l.late(f)
	}
}

// kind lets nothing dry before its time that could not be wiped again.
func (l *legal) kind(t action.Millis) {
	for _, f := range l.wet {
		if f.soon && f.dries <= t {
			f.soon, f.dries = false, l.late(f)
		}
	}
}

// reWipe is how long taking a wipe takes, and wiping again.
const reWipe action.Millis = 5000

// wait lets everything have its time and dry.
func (l *legal) wait() {
	if !l.clock {
		l.say("wait")
		return
	}
	for range l.wet {
		l.wipeAgain(90_000)
	}
	for _, f := range l.wet {
		l.until(max(l.now, f.since+f.need+2000))
	}
	for len(l.wet) > 0 && !l.watch {
		_, at, _ := l.next()
		l.until(at)
	}
	if l.watch {
		l.until(l.now + 240_000)
		l.say("all dry")
		clear(l.wet)
	}
}

// Hands, gloves and wipes.

func (l *legal) hands() {
	l.rub()
	if l.either("an extra hand rub", 4) {
		l.rub()
	}
}

func (l *legal) rub() {
	how := pick(l.Rand, "rub hands 20s", "wash hands 40s", "rub hands 31.5s", "wash hands 15s")
	if l.watch && l.either("nobody stopped the time", 3) {
		how = pick(l.Rand, "rub hands", "wash hands")
	}
	l.do(how)
}

func (l *legal) on() {
	l.hands()
	l.face = ""
	if l.wetting && l.either("a wipe taken with clean bare hands", 3) {
		l.do(l.takes(unused))
	}
	l.do("put on gloves")
	l.gloves = true
}

// off takes the gloves off; the hands come next.
func (l *legal) off() {
	l.do("take off gloves")
	if l.either("gloves thrown away", 5) {
		l.do("discard gloves in waste-bin")
	}
	l.gloves, l.face = false, ""
}

func (l *legal) change() {
	l.off()
	if l.either("a look between gloves and hands", 6) {
		l.do("look at station")
	}
	l.on()
}

// takes is the line for a fresh wipe, which is for a face from now on.
func (l *legal) takes(face string) string {
	l.wipes++
	l.face = face
	return fmt.Sprintf("take wipe w%d of %s", l.wipes, l.product)
}

// unused is what a wipe is for that was not used yet.
const unused = "unused"

// take takes a fresh wipe for a face, and lets the old one go.
func (l *legal) take(face string) {
	if l.face != "" && l.either("the old wipe thrown away", 3) {
		l.do(pick(l.Rand, "drop wipe", "discard wipe in waste-bin", "discard wipe in leakproof-container"))
	}
	l.do(l.takes(face))
}

// wipe wipes a surface of a face, with a fresh wipe where the one in hand was used
// elsewhere.
func (l *legal) wipe(face, surface string) {
	l.wipeAgain(30_000)
	switch {
	case l.face == unused:
		l.face = face
	case l.face != face, l.either("two wipes a face", 6):
		l.take(face)
	}
	if l.either("lifted to wipe under it", 8) {
		l.do("touch " + surface)
	}
	l.do("wipe " + surface)
	if l.either("wiped twice", 8) {
		l.do("wipe " + surface)
	}
}

// Tasks.

// task is a piece of work after others.
type task struct {
	name  string
	after string // names, parted by spaces
	do    func()
}

// acts is a task of plain acts.
func (l *legal) acts(name, after string, acts ...string) task {
	return task{name, after, func() { l.do(acts...) }}
}

// run does tasks in a random order that keeps what stands in after, with whatever
// happens in a unit in between.
func (l *legal) run(tasks ...task) {
	done := map[string]bool{}
	for len(done) < len(tasks) {
		t := tasks[l.IntN(len(tasks))]
		ready := !done[t.name]
		for _, a := range strings.Fields(t.after) {
			ready = ready && done[a]
		}
		if ready {
			done[t.name] = true
			t.do()
			l.interlude()
		}
	}
}

// interlude is what happens in a unit besides the work.
func (l *legal) interlude() {
	switch {
	case l.either("a second look", 20):
		l.do(pick(l.Rand, "look at station", "look at front", "look at chair"))
	case l.either("a pause for safety", 40):
		l.happens("alarm", "pause", "resume")
	case l.gone && l.either("back for her coat", 30):
		l.happens("patient comes back", "patient leaves")
		if l.seen {
			l.do("check patient gone")
		}
	case l.either("a helper's own hands", 40):
		l.do("helper rub hands", "helper put on gloves")
	case !l.gloves && l.either("a rub in between", 10):
		l.rub()
	case !l.gloves && l.either("the phone in between", 30):
		l.do(pick(l.Rand, "touch phone", "touch pen", "touch pocket", "touch cart"))
		l.hands()
	case l.watch && l.either("a tap taken back", 10):
		l.happens(pick(l.Rand, "touch chair", "wipe front", "take off gloves", "declare ready"))
		l.happens(fmt.Sprintf("undone %d", len(l.lines)))
	case l.watch && l.either("prompted", 60):
		l.happens("prompted")
	case l.either("runs to help", 40):
		l.help()
	}
}

// help leaves the work for an alarm somewhere else. Gloves come off on the way, or
// there was no time and they come off afterwards.
func (l *legal) help() {
	l.happens("alarm")
	if l.either("pauses to help", 2) {
		l.happens("pause")
	}
	gloves := l.gloves
	if gloves && l.either("gloves off at the door", 2) {
		l.do("take off gloves")
		l.gloves = false
	}
	l.do(pick(l.Rand, "leave station", "go to neighbour"))
	l.do("come back")
	l.happens("resume")
	switch {
	case l.gloves:
		l.change()
	case gloves:
		l.on()
	default:
		l.hands()
	}
}

// outside does something outside the station and comes back; an isolation room is
// not left in its gown.
func (l *legal) outside(acts ...string) {
	if l.room || !l.either("carried outside", 3) {
		l.do(acts...)
		return
	}
	l.do("leave station")
	l.do(acts...)
	l.do("come back")
}

// The turnover.

// turnover is a whole one, in the clinic's order or in that of the published
// checklist.
func (l *legal) turnover() {
	l.bloody = l.either("blood on the machine", 3)
	l.product = "station-wipe"
	if l.bloody || l.either("a stronger product", 4) {
		l.product = "blood-wipe"
	}
	if l.bloody {
		l.happens("blood on front")
	}
	switch {
	case l.clinic:
		l.check()
		l.goes()
		l.staging()
		l.cover()
		l.tearDown(false)
		l.change()
	case l.either("tear-down with the patient seated", 2):
		if l.either("dressed before the patient is checked", 3) {
			l.cover()
			l.do("check patient stable")
		} else {
			l.check()
			l.cover()
		}
		l.tearDown(true)
		l.off()
		l.hands()
		l.goes()
		l.on()
	default:
		l.check()
		l.goes()
		if l.either("supplies before tear-down", 3) {
			l.staging()
		}
		l.cover()
		l.tearDown(false)
		l.off()
		if l.hands(); !l.done["wipe staging"] && l.either("supplies after tear-down", 2) {
			l.staging()
		}
		l.on()
	}
	if l.leak = l.either("a blood leak", 20); l.leak {
		l.happens(pick(l.Rand, "blood leak", "protector wet"))
		l.run(l.acts("tag", "", "tag machine out of use"), l.acts("report", "", "report machine"))
	}
	l.partTwo()
	l.wetting = false
	l.finish()
}

// check is the check of a patient whose hands-on care starts with clean hands.
func (l *legal) check() {
	l.hands()
	l.do("check patient stable")
	l.begins(action.FromInChair)
}

// begins is where watching may begin: what came before was not noted, and what can
// be seen is.
func (l *legal) begins(stage string) {
	if l.from != stage {
		return
	}
	l.used["watched from "+stage]++
	l.lines = nil
	l.happens("watching from " + stage)
	if l.bloody {
		l.happens("blood on front")
	}
}

// goes is the leaving of the patient; hands that helped her are cleaned before
// anything else.
func (l *legal) goes() {
	if l.gone {
		return // in the middle of tear-down
	}
	how := 4
	if l.either("the patient cannot leave yet", 10) {
		l.happens("patient cannot leave")
		l.interlude()
		how-- // then looking is not enough
	}
	l.leftBeside()
	switch l.IntN(how) {
	case 0:
		l.do("help patient out")
	case 1:
		l.used["a helper helps her out"]++
		l.do("helper help patient out")
	case 2:
		l.used["she leaves alone"]++
		l.happens("patient leaves")
	default:
		l.used["only seen gone"]++
	}
	l.do("check patient gone")
	l.gone, l.seen = true, true
	if !l.done["take off lines"] {
		l.begins(action.FromGone)
	}
	l.interlude()
}

// leftBeside lets dry what was wiped beside the patient: when she has gone it does not
// count.
func (l *legal) leftBeside() {
	if len(l.wet) > 0 {
		l.wait()
	}
}

// staging wipes the surface for supplies and has them brought.
func (l *legal) staging() {
	l.on()
	l.take("staging")
	l.do("wipe staging")
	l.lie("staging")
	if l.either("supplies fetched by a helper", 3) {
		l.do("helper bring supplies to staging")
		l.off()
		l.hands()
		return
	}
	l.do("bring supplies to staging")
	l.off()
	l.hands()
}

// lie waits until a surface has had its time.
func (l *legal) lie(surface string) {
	if !l.clock {
		l.say("wait")
		return
	}
	f := l.wet[surface]
	l.until(f.since + f.need + 2000)
}

// cover is what is worn for work that spatters; gloves go on last, over clean hands.
func (l *legal) cover() {
	l.hands()
	l.mask = l.either("a mask", 2)
	on := []task{l.acts("gown", "", "put on gown"), l.acts("eyes", "gown", "put on eye-protection")}
	if l.mask {
		on[1].after = "mask"
		on = append(on, l.acts("mask", "gown", "put on mask"))
	}
	l.run(on...)
	l.on()
}

func (l *legal) tearDown(seated bool) {
	if seated && l.either("disconnected, needles out", 2) {
		l.do("disconnect patient", "take out needles")
		l.run(l.acts("sharps", "", "put needles in sharps"))
	}
	circuit := []task{
		l.acts("lines", "", "take off lines"), l.acts("dialyzer", "", "take off dialyzer"),
		{"lines-away", "lines", func() { l.outside("discard lines in leakproof-container") }},
		{"dialyzer-away", "dialyzer", func() { l.outside("discard dialyzer in leakproof-container") }},
	}
	if !seated && l.from == action.FromLinesOff {
		l.run(circuit...)
		l.begins(action.FromLinesOff)
		circuit = []task{l.acts("lines", ""), l.acts("dialyzer", "")}
	}
	tasks := append(circuit,
		l.acts("waste", "", pick(l.Rand, "discard disposables in waste-bin", "discard disposables in leakproof-container", "helper discard disposables in waste-bin")),
		l.acts("opened", "", "discard opened-supplies in waste-bin"), l.acts("unopened", "", "discard unopened-supplies in waste-bin"),
		l.acts("reusables", "", "set reusables at soiled-tray"), l.acts("look", "", "look at station"))
	if seated && l.either("a helper sees her out in the middle", 4) {
		tasks = append(tasks, task{"out", "", func() {
			l.leftBeside()
			l.do("helper help patient out", "helper check patient gone")
			l.gone = true
		}})
	}
	tasks = append(tasks, l.single()...)
	if l.either("bucket emptied in part one", 2) {
		tasks = append(tasks, l.acts("bucket-off", "", "take off bucket"), task{"bucket-empty", "bucket-off", l.empty})
	}
	if l.bloody {
		tasks = append(tasks, task{"blood", "look", func() { l.clean("front") }})
	}
	if seated && !l.bloody && l.either("spot disinfection at once", 4) {
		tasks = append(tasks, task{"spot", "look", l.spot})
	}
	l.run(append(tasks, l.closingTasks()...)...)
}

// single are things that are there only now and then, each with the place where it
// goes.
func (l *legal) single() (tasks []task) {
	for _, x := range [][2]string{{"tape", "waste-bin"}, {"cloth-cuff", "waste-bin"}, {"transducer-protectors", "leakproof-container"},
		{"saline-bag", "waste-bin"}, {"syringes", "sharps-box"}} {
		if l.p.ItemIndex(x[0]) >= 0 && l.either("things for one patient", 4) {
			tasks = append(tasks, l.acts(x[0], "", "discard "+x[0]+" in "+x[1]))
		}
	}
	if l.p.ItemIndex("reused-dialyzer") >= 0 && l.from != action.FromLinesOff && l.either("a dialyzer to be reprocessed", 4) {
		tasks = append(tasks, l.acts("reused", "", "take off reused-dialyzer", "cap reused-dialyzer", "set reused-dialyzer at transport-container"))
	}
	if l.room && l.either("things of the room", 3) {
		tasks = append(tasks, l.acts("kit", "", "disinfect isolation-kit", "set isolation-kit at isolation-shelf"))
	}
	return tasks
}

func (l *legal) empty() { l.outside(pick(l.Rand, "empty bucket in drain", "empty bucket in toilet")) }

// clean takes blood off with a wipe that then goes to the waste.
func (l *legal) clean(surface string) {
	l.do(l.takes("blood"), "clean "+surface, "discard wipe in leakproof-container")
	l.face = ""
}

// spot is blood beside the patient that cannot wait (F46): cleaned and disinfected at
// once, and the surface is wiped again when she has left.
func (l *legal) spot() {
	was := l.product
	l.product = "blood-wipe"
	at := pick(l.Rand, "chair", "side-table")
	l.happens("blood on " + at)
	l.clean(at)
	l.change()
	l.do(l.takes("spot"), "wipe "+at)
	l.product, l.face = was, ""
	l.change()
}

// closingTasks are those of the end of the day that belong to the tear-down.
func (l *legal) closingTasks() (tasks []task) {
	if len(l.p.Closing) == 0 {
		return nil
	}
	tasks = append(tasks, task{"waste-out", "waste opened unopened", func() { l.outside("discard waste-bag in waste-room") }})
	if l.either("a full sharps box", 2) {
		tasks = append(tasks, task{"sharps-out", "", func() { l.outside("discard full-sharps-box in waste-room") }})
	}
	if l.either("internal disinfection at tear-down", 2) {
		tasks = append(tasks, l.acts("internal", "lines dialyzer", "start internal disinfection"))
	}
	return tasks
}

// partTwo is the wiping, with the bucket first, among the rest, or last.
func (l *legal) partTwo() {
	if !l.done["take off bucket"] {
		l.do("take off bucket")
		l.empty()
		if l.either("gloves changed after emptying", 2) {
			l.change()
		}
	}
	l.wetting = true
	bucket := task{"bucket", "", l.bucket}
	switch n := l.IntN(3); {
	case l.clinic, n == 0:
		bucket.do()
		l.change()
		l.run(l.surfaces()...)
	case n == 1:
		l.change()
		l.used["bucket among the rest"]++
		l.run(append(l.surfaces(), bucket)...)
	default:
		l.change()
		l.used["bucket last"]++
		l.run(l.surfaces()...)
		bucket.do()
	}
}

func (l *legal) bucket() {
	for _, s := range l.shuffled("bucket-inside", "bucket-sides", "bucket-outside") {
		l.wipe("bucket", s)
	}
	l.do("set bucket at drying-place")
}

func (l *legal) shuffled(surfaces ...string) []string {
	l.Shuffle(len(surfaces), func(i, j int) { surfaces[i], surfaces[j] = surfaces[j], surfaces[i] })
	return surfaces
}

// wiping is the wiping of a face: from the top down for a clinic that asks for it.
func (l *legal) wiping(face, after string, surfaces ...string) task {
	return task{face, after, func() {
		if !l.clinic {
			surfaces = l.shuffled(surfaces...)
		}
		for _, s := range surfaces {
			l.wipe(face, s)
		}
	}}
}

func (l *legal) surfaces() []task {
	front := ""
	if l.clinic {
		front = "top"
	}
	return []task{
		l.wiping("top", "", "top"),
		l.wiping("front", front, "screen", "buttons", "keyboard", "front", "latches"),
		l.wiping("left", "", "left"),
		l.wiping("right", "", "right"),
		l.wiping("pole", "", "pole", "cuff", "attachments"),
		l.wiping("chair", "", "chair"),
		l.wiping("table", "", "side-table", "call-light"),
		l.counter(),
	}
}

// counter is wiped by whoever is free.
func (l *legal) counter() task {
	if !l.either("a helper wipes something", 5) {
		return l.wiping("counter", "", "counter")
	}
	l.wipes++
	return l.acts("counter", "", fmt.Sprintf("helper take wipe w%d of %s", l.wipes, l.product), "helper wipe counter")
}

// finish is everything from the last wipe to ready.
func (l *legal) finish() {
	l.otherProduct()
	l.wait()
	if l.either("finished surfaces touched with working gloves", 4) {
		l.do("touch screen", "touch chair")
	}
	if l.either("a finished surface wiped once more", 6) {
		l.do(l.takes("more"), "wipe "+pick(l.Rand, "screen", "side-table"))
		l.wait()
	}
	if l.either("dirtied again and made good", 4) {
		l.again()
	}
	if l.either("towelled when it was dry", 6) {
		l.do("wipe dry screen")
	}
	bare := l.either("bucket put back bare-handed", 4)
	if !bare {
		l.do("put bucket back")
	}
	if (len(l.p.Closing) > 0 || l.leak) && !l.done["start internal disinfection"] {
		l.do("start internal disinfection")
	}
	reprocess := !l.room && l.either("reusables disinfected", 4)
	if reprocess {
		l.do("disinfect reusables")
	}
	l.doff()
	if reprocess {
		l.do("set reusables at clean-area")
	}
	if bare {
		l.do("put bucket back")
	}
	if len(l.p.Closing) > 0 {
		l.do("hand over station")
	}
	l.ready()
}

// again is what happens to a finished station, and is made good: the patient sits down
// once more or puts something on the table, or blood is found after all.
func (l *legal) again() {
	again := []string{"chair", "side-table", "call-light", "counter"}
	switch l.IntN(3) {
	case 0:
		l.happens("patient comes back", "patient sits", "patient leaves")
	case 1:
		again = again[1:2]
		l.happens("patient comes back", "patient touches side-table", "patient leaves")
	default:
		again = []string{"front"}
		l.product = "blood-wipe"
		l.happens("blood on front")
		l.clean("front")
		l.change()
	}
	for _, s := range again {
		l.do(l.takes(s), "wipe "+s)
	}
	l.wait()
}

// otherProduct finishes a wipe with another product while it is wet: the longer
// label counts for the whole.
func (l *legal) otherProduct() {
	if !l.either("finished with another product", 4) {
		return
	}
	was := l.product
	l.product = "blood-wipe"
	s := pick(l.Rand, "front", "left", "chair", "counter")
	l.wetting = true
	l.do(l.takes("other " + s))
	l.do("wipe " + s)
	l.wetting = false
	l.product = was
}

// doff takes off what is worn in one of the two published orders (F45), with hand
// hygiene after each if one likes; or shield and gown stay on. A shield that comes
// off is disinfected or thrown away.
func (l *legal) doff() {
	l.off()
	if !l.room && l.either("shield and gown stay on", 5) {
		l.hands()
		return
	}
	order := []string{"take off gown", "rub hands 20s", "take off eye-protection", "take off mask"}
	if l.either("doffing order B", 2) {
		order = []string{"take off eye-protection", "take off gown", "take off mask"}
	}
	for _, a := range order {
		if a == "take off mask" && !l.mask {
			continue
		}
		l.do(a)
		if l.either("hands after each piece", 4) {
			l.rub()
		}
	}
	if l.either("gown thrown away", 4) {
		l.do("discard gown in waste-bin")
	}
	if l.either("shield thrown away", 2) {
		l.do("discard eye-protection in waste-bin")
		l.hands()
		return
	}
	l.on()
	l.do("disinfect eye-protection")
	l.off()
	l.hands()
}

func (l *legal) ready() {
	if l.leak {
		return // it is out of use
	}
	l.do("declare ready")
	if l.either("hands once more", 4) {
		l.rub()
	}
	if l.p.ItemIndex("next-set") >= 0 && l.done["wipe staging"] && l.either("the next circuit", 3) {
		l.do(pick(l.Rand, "bring next-set to staging", "helper bring next-set to staging"))
	}
	if l.either("the next patient", 4) {
		l.do("seat next patient")
	}
}

// spill is the cleaning of a spill at a free station (F37).
func (l *legal) spill() {
	l.gone, l.bloody = true, true
	l.product = pick(l.Rand, "blood-wipe", "blood-wipe", "bleach-dilution")
	spilt := l.shuffled("side-table", "chair", "front", "floor")[:1+l.IntN(2)]
	for _, s := range spilt {
		l.happens("blood on " + s)
	}
	l.do("look at station")
	l.cover()
	for _, s := range spilt {
		l.do("absorb " + s)
	}
	l.outside("discard absorbent in leakproof-container")
	for _, s := range spilt {
		l.clean(s)
	}
	l.change()
	l.wetting = true
	l.run(l.wiping("front", "", "front"), l.wiping("chair", "", "chair"), l.wiping("table", "", "side-table"), l.wiping("floor", "", "floor"))
	l.wetting = false
	l.wait()
	l.doff()
	l.ready()
}

// sequence makes the text of one log.
func sequence(p *procedure.Procedure, seed uint64, clinic bool, used map[string]int) string {
	l := &legal{Rand: rand.New(rand.NewPCG(seed, 1)), p: p, used: used, clinic: clinic, done: map[string]bool{}, wet: map[string]*film{},
		clock: seed%2 == 1, watch: seed%6 == 1, room: p.Settings.Isolation}
	witness := "order"
	switch {
	case l.watch:
		witness = "order clock"
		l.from = pick(l.Rand, action.Stages...)
		l.say("watching from connected")
	case l.clock:
		witness = "order clock drying"
	}
	if p.Begins == procedure.NobodyThere {
		l.spill()
	} else {
		l.turnover()
	}
	return fmt.Sprintf("stillwet log 2\nprocedure %s -\nwitness %s\n%s\n", p.ID, witness, strings.Join(l.lines, "\n"))
}

// legalProcedures are the built-in ones and the frozen one, of clinics that confirmed
// nothing and everything.
func legalProcedures(t *testing.T) (unconfirmed, confirmed map[string]*procedure.Procedure) {
	t.Helper()
	lib, err := scenarios.Load()
	require.NoError(t, err)
	_, frozen := builtIn(t)
	unconfirmed = map[string]*procedure.Procedure{"frozen": unconfirmedOf(t, frozen)}
	confirmed = map[string]*procedure.Procedure{"frozen": frozen}
	by := lib.Confirmed("A. Educator", "2026-09-01")
	for _, id := range []string{"between-patients", "end-of-day", "after-visible-blood", "isolation-station"} {
		var ok bool
		unconfirmed[id], ok = lib.Procedure(id)
		require.True(t, ok, id)
		confirmed[id], ok = by.Procedure(id)
		require.True(t, ok, id)
	}
	return unconfirmed, confirmed
}

// unconfirmedOf is the procedure of a clinic in which nobody has yet confirmed what
// rests on custom alone.
func unconfirmedOf(t *testing.T, p *procedure.Procedure) *procedure.Procedure {
	t.Helper()
	d := p.Definition
	d.Order, d.MarkSheet.Marks = slices.Clone(d.Order), slices.Clone(d.MarkSheet.Marks)
	for i := range d.Order {
		d.Order[i].Confirmed = procedure.Confirmed{}
	}
	for i := range d.MarkSheet.Marks {
		d.MarkSheet.Marks[i].Confirmed = procedure.Confirmed{}
	}
	loose, faults := procedure.New(d, rules.Names())
	require.Empty(t, faults)
	return loose
}

// Right work is never a breach, and leaves nothing open that matters: in any order
// of the trade where the clinic has confirmed nothing, in the clinic's own where it
// has confirmed everything, and then nothing is even advised.
func TestLegalWorkIsNeverABreach(t *testing.T) {
	unconfirmed, confirmed := legalProcedures(t)
	for name, loose := range unconfirmed {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			used := map[string]int{}
			runs := rounds(t, 2000, 50)
			for seed := range uint64(runs) {
				clinic := seed%3 == 0
				p := loose
				if clinic {
					p = confirmed[name]
				}
				judgeLegal(t, p, sequence(p, seed, clinic, used), seed, clinic)
			}
			t.Logf("%d runs, %d liberties", runs, len(used))
			if runs >= 2000 {
				few := slices.MinFunc(slices.Sorted(maps.Keys(used)), func(a, b string) int { return used[a] - used[b] })
				require.Greater(t, used[few], 10, few)
				require.GreaterOrEqual(t, len(used), map[bool]int{true: 30, false: 60}[loose.Begins == procedure.NobodyThere], "%v", used)
			}
		})
	}
}

func judgeLegal(t *testing.T, p *procedure.Procedure, text string, seed uint64, clinic bool) {
	t.Helper()
	log, err := action.Parse("legal", text, p.Words)
	require.NoError(t, err, "seed %d", seed)
	result, err := rules.Assess(p, log, "legal")
	require.NoError(t, err, "seed %d", seed)
	for i := range result.Findings {
		f := &result.Findings[i]
		require.True(t, f.Advice() && !clinic, "seed %d, line %d: %s: %s\n%s", seed, f.Line, f.Rule, f.Message, text)
	}
	require.Empty(t, result.Open(p), "seed %d\n%s", seed, text)
	require.Equal(t, assess.Pass, result.Marks.Result, "seed %d\n%s", seed, text)
	require.Equal(t, 1.0, result.Marks.Score, "seed %d\n%s", seed, text)
}

// What is right wherever it comes: looking, waiting, pausing for an alarm, what a
// helper does for herself, a patient who is back for her coat once she has gone, and
// hand hygiene whenever no gloves are on ("extra hand hygiene never a fault": F45).
func TestHarmlessActsAreNeverABreach(t *testing.T) {
	const gone, bare = "check patient gone", "take off gloves"
	lib, p := builtIn(t)
	for _, id := range []string{"ordinary-turnover", "blood-on-the-machine"} {
		s, ok := lib.Scenario(id)
		require.True(t, ok)
		head, lines := parts(t, s.Model)
		for at := range len(lines) + 1 {
			harmless := [][]string{
				{"look at station"}, {"look at chair"}, {"wait"}, {"alarm", "pause", "resume"}, {"prompted"},
				{"helper rub hands"}, {"helper put on gloves"}, {"helper look at station"},
			}
			if slices.Contains(lines[:at], gone) {
				harmless = append(harmless, []string{"patient comes back", "patient leaves"}, []string{gone})
			}
			on, off := lastOf(lines[:at], "put on gloves"), lastOf(lines[:at], bare)
			if on <= off {
				harmless = append(harmless, []string{"rub hands 30s"}, []string{"wash hands 40s", "rub hands 20s"})
			}
			for _, acts := range harmless {
				told := missed(t, p, head, slices.Insert(slices.Clone(lines), at, acts...))
				require.Empty(t, told, "%s: %v as line %d", id, acts, at)
			}
		}
	}
}

// lastOf is the last place of a line, -1 for none.
func lastOf(lines []string, text string) int {
	for i := len(lines) - 1; i >= 0; i-- {
		if lines[i] == text {
			return i
		}
	}
	return -1
}
