package scenarios

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"go.yaml.in/yaml/v3"

	"stillwet/internal/action"
	"stillwet/internal/procedure"
)

// deed is what a turnover does with a thing of some kind, as a step of its own. In label and
// act %s stands for the thing, and in an act with two the second for the place.
type deed struct {
	verb             action.Verb
	step, label, act string
	seconds          int
	seldom           bool
	into             []procedure.PlaceKind // where it goes, the likeliest first
	instead          *deed                 // when it may go to none of these
}

var (
	wasteFirst = []procedure.PlaceKind{procedure.Waste, procedure.LeakProof, procedure.Sharps}
	aside      = deed{verb: action.SetAt, step: "set-apart-", label: "Set %s apart", act: "set %s at %s", seconds: 6, into: []procedure.PlaceKind{procedure.SetApart, procedure.CleanArea}}
	throwAway  = deed{verb: action.Discard, step: "discard-", label: "Throw away %s", act: "discard %s in %s", seconds: 6, into: wasteFirst, instead: &aside}
	off        = deed{verb: action.TakeOff, step: "take-off-", label: "Take off %s", act: "take off %s", seconds: 10}
	bring      = deed{verb: action.Bring, step: "bring-", label: "Bring %s", act: "bring %s to %s", seconds: 15}
)

// deeds of each kind, in the order in which they are done. The bucket has its own.
var deedsOf = map[procedure.ItemKind][]deed{
	procedure.SingleUse:     {throwAway},
	procedure.SinglePatient: {throwAway},
	procedure.Reusable:      {aside, {verb: action.Disinfect, step: "disinfect-", label: "Disinfect %s", act: "disinfect %s", seconds: 20, seldom: true}},
	procedure.Circuit:       {off, {verb: action.Discard, step: "discard-", label: "Throw away %s", act: "discard %s in %s", seconds: 8, into: []procedure.PlaceKind{procedure.LeakProof}, instead: &throwAway}},
	procedure.Reprocess: {off, {verb: action.CapItem, step: "cap-", label: "Cap %s", act: "cap %s", seconds: 6},
		{verb: action.SetAt, step: "put-away-", label: "Put away %s", act: "set %s at %s", seconds: 6, into: []procedure.PlaceKind{procedure.LeakProof}}},
	procedure.Sharp:     {{verb: action.PutInSharps, step: "put-in-sharps-", label: "Put %s in the sharps box", act: "put %s in sharps", seconds: 4}},
	procedure.Container: {{verb: action.Discard, step: "take-away-", label: "Take %s away", act: "discard %s in %s", seconds: 40, into: wasteFirst}},
	procedure.Supplies:  {bring},
	procedure.NextSet:   {bring},
}

// goesOut reports whether things of a kind are out of the way before the first wipe.
func goesOut(kind procedure.ItemKind) bool {
	return deedsOf[kind] != nil && kind != procedure.Container && kind != procedure.Supplies && kind != procedure.NextSet
}

// newItem puts a thing behind the last that is like it, with the steps of a turnover that it
// needs. What somebody has done with that one in a story is done with this one too.
func (e *editor) newItem() {
	row, t := flowRow("id", e.Row), &tree{}
	for _, field := range []string{"title", "kind", "goes", "when_named", "isolation", "basis"} {
		value := cmp.Or(e.Fields[field], map[string]string{"basis": string(procedure.ClinicToConfirm)}[field])
		if kind := fieldsOf["items"][field]; kind != plainly || value != "false" {
			t.set(row, field, value, kind)
		}
	}
	beside, ok := e.likeItem(row)
	if !ok {
		e.fault("", "no procedure has a thing beside which this one could lie")
		return
	}
	at := beside
	at.node = row
	at.tree.insert(at.list, beside.node, row)
	e.leaveOutOfOthers("items", at.file, keyOf("items", beside.node))
	made := e.handledBySomeStep(at)
	if valueOf(row, "when_named") != "true" && goesOut(procedure.ItemKind(valueOf(row, "kind"))) {
		e.inStories(made)
	}
}

func valueOf(n *yaml.Node, field string) string {
	v, _ := walk(n, field)
	return v.Value
}

// likeItem is the thing behind which a new one stands: the last of its kind that is there,
// before one that is there only when it is named, where most procedures have it; else the
// last of all.
func (e *editor) likeItem(row *yaml.Node) (last spot, ok bool) {
	same := func(n *yaml.Node) bool { return valueOf(n, "kind") == valueOf(row, "kind") }
	for _, like := range []func(n *yaml.Node) bool{
		func(n *yaml.Node) bool { return same(n) && valueOf(n, "when_named") != "true" },
		same,
		func(n *yaml.Node) bool { return true },
	} {
		for _, s := range e.rows("items", "") {
			if like(s.node) && valueOf(s.node, "off") != "true" && (!ok || e.reach(s.file) > e.reach(last.file) || s.list == last.list) {
				last, ok = s, true
			}
		}
		if ok {
			break
		}
	}
	return last, ok
}

// reach is how many procedures have the rows of a file.
func (e *editor) reach(file string) (n int) {
	for _, name := range e.procedureFiles() {
		if name == file || slices.Contains(e.tree(name).names("parts"), strings.TrimSuffix(file, partSuffix)) {
			n++
		}
	}
	return n
}

// movesOf are the steps that do something with a thing, in their order.
func (e *editor) movesOf(item string) []spot {
	return e.stepsDoing(func(a *action.Act) bool { return a.Object == item })
}

// handledBySomeStep gives a thing the steps that a turnover needs with it, where there are
// none, beside those of what lies by it. It gives the ids of those that it made.
func (e *editor) handledBySomeStep(at spot) (made []string) {
	id, kind := keyOf("items", at.node), procedure.ItemKind(valueOf(at.node, "kind"))
	goes, _ := walk(at.node, "goes")
	host := e.hostOfSteps(at)
	for _, d := range deedsOf[kind] {
		d, place := e.placed(d, goes)
		if strings.Count(d.act, "%s") > 1 && place == "" || e.isDone(&d, id, goes) {
			continue
		}
		act := fmt.Sprintf(d.act, id)
		if place != "" {
			act = fmt.Sprintf(d.act, id, place)
		}
		label := fmt.Sprintf(d.label, procedure.The(cmp.Or(valueOf(at.node, "title"), id)))
		if there := e.stepCalled(label); there != nil { // it did the same to another place
			acts, _ := walk(there.node, "acts")
			*acts, there.tree.dirty = *actList(act), true
			continue
		}
		row := flowRow("id", e.freeStep(d.step+id), "label", label, "area", host.area)
		row.Content = append(row.Content, scalar("acts", text), actList(act), scalar("seconds", text), scalar(strconv.Itoa(d.seconds), plainly))
		if d.seldom || valueOf(at.node, "when_named") == "true" {
			row.Content = append(row.Content, scalar("seldom", text), scalar("true", plainly))
		}
		host.tree.insert(host.list, host.node, row)
		host.node = row
		made = append(made, keyOf("steps", row))
	}
	return made
}

// hostOfSteps is where the steps of a thing go: behind those of the things of its kind in its
// file, else at the end of that file's steps, or of the first that there are.
func (e *editor) hostOfSteps(at spot) (host struct {
	spot
	area string
}) {
	for _, beside := range append(e.sameKind(at), at) {
		for _, s := range e.movesOf(keyOf("items", beside.node)) {
			if s.file == at.file && (valueOf(s.node, "seldom") != "true" || host.node == nil) {
				host.spot, host.area = s, valueOf(s.node, "area")
			}
		}
	}
	if host.node != nil {
		return host
	}
	host.spot = spot{file: at.file, tree: at.tree}
	host.list = at.tree.list(at.tree.root, pathIn(at.file, "steps"))
	for _, s := range e.rows("steps", "") {
		if host.area == "" || s.file == at.file {
			host.area = valueOf(s.node, "area")
		}
	}
	return host
}

func (e *editor) sameKind(at spot) []spot {
	return slices.DeleteFunc(e.rows("items", ""), func(s spot) bool {
		return s.node == at.node || valueOf(s.node, "kind") != valueOf(at.node, "kind")
	})
}

// placed is a deed with the place to which it goes, of those where the thing may.
func (e *editor) placed(d deed, goes *yaml.Node) (deed, string) {
	if strings.Count(d.act, "%s") < 2 || len(goes.Content) == 0 {
		return d, ""
	}
	for _, kind := range d.into {
		for _, n := range goes.Content {
			if e.placeKind(n.Value) == kind {
				return d, n.Value
			}
		}
	}
	if d.instead != nil {
		return e.placed(*d.instead, goes)
	}
	return d, goes.Content[0].Value
}

func (e *editor) placeKind(place string) procedure.PlaceKind {
	for _, s := range e.rows("places", place) {
		return procedure.PlaceKind(valueOf(s.node, "kind"))
	}
	return ""
}

// isDone reports whether some step does a deed with a thing, to where it may go.
func (e *editor) isDone(d *deed, item string, goes *yaml.Node) bool {
	return len(e.stepsDoing(func(a *action.Act) bool {
		return a.Verb == d.verb && a.Object == item && (a.Place == "" || slices.ContainsFunc(goes.Content, func(n *yaml.Node) bool { return n.Value == a.Place }))
	})) > 0
}

func (e *editor) stepCalled(label string) *spot {
	for _, s := range e.rows("steps", "") {
		if valueOf(s.node, "label") == label {
			return &s
		}
	}
	return nil
}

// freeStep is an id that no step of any procedure has.
func (e *editor) freeStep(base string) string {
	meant := e.Procedure
	e.Procedure = ""
	defer func() { e.Procedure = meant }()
	id := base
	for n := 2; len(e.rows("steps", id)) > 0; n++ {
		id = base + "-" + strconv.Itoa(n)
	}
	return id
}

// inStories has the scenarios treat a new thing as they do others: where used things are put
// away before the work begins so is this one, and where the steps are named that put others
// away, so are those of this one.
func (e *editor) inStories(made []string) {
	for _, file := range e.set.names {
		t := e.tree(file)
		if t == nil || !isScenario(file) {
			continue
		}
		list := "steps"
		if e.doneBefore(t) {
			list = "without"
		} else if !slices.ContainsFunc(t.names("steps"), e.putsAway) {
			continue
		}
		for _, id := range made {
			t.name(list, id)
		}
	}
}

// putsAway reports whether a step puts away a thing that goes out.
func (e *editor) putsAway(step string) bool {
	return slices.ContainsFunc(e.stepsDoing(e.out), func(s spot) bool { return keyOf("steps", s.node) == step })
}

// out reports whether an act puts away a thing that goes out.
func (e *editor) out(a *action.Act) bool {
	return moves(a, a.Object) && slices.ContainsFunc(e.rows("items", a.Object), func(s spot) bool {
		return goesOut(procedure.ItemKind(valueOf(s.node, "kind"))) && valueOf(s.node, "when_named") != "true"
	})
}

// doneBefore puts into the beginning of a story what is done with a new thing, behind the
// last that was put away there, if any was.
func (e *editor) doneBefore(t *tree) bool {
	start, _ := walk(t.root, "start")
	for i, n := range slices.Backward(start.Content) {
		a, err := action.ParseAct(n.Value, nil)
		if err != nil || !e.out(&a) {
			continue
		}
		who := ""
		if strings.HasPrefix(n.Value, "helper ") {
			who = "helper "
		}
		start.Content, t.dirty = slices.Insert(start.Content, i+1, e.usualActs(who)...), true
		return true
	}
	return false
}

// usualActs are what the usual steps do with the thing of the edit.
func (e *editor) usualActs(who string) (acts []*yaml.Node) {
	for _, s := range e.movesOf(e.Row) {
		if valueOf(s.node, "seldom") == "true" {
			continue
		}
		list, _ := walk(s.node, "acts")
		for _, act := range list.Content {
			acts = append(acts, scalar(who+act.Value, text))
		}
	}
	return acts
}

// moved has what put a thing where it may not go any more put it where it may, as long as it
// is still done the same way: in steps whose words do not name the place, and in what
// happens before the work of a story.
func (e *editor) moved(at spot, was []string) {
	goes, _ := walk(at.node, "goes")
	d, place := e.placed(throwAway, goes)
	if is := deedsOf[procedure.ItemKind(valueOf(at.node, "kind"))]; len(is) > 0 && is[0].verb == action.Bring {
		e.brought(goes, was)
		return
	}
	if place == "" || d.verb != action.Discard {
		return
	}
	turn := func(t *tree, acts *yaml.Node, says string) {
		for _, n := range acts.Content {
			if old := e.thrownInto(n); old != place && slices.Contains(was, old) && !slices.Contains(wordsOf(goes), old) && !stands(says, []string{e.placeTitle(old)}) {
				n.Value, t.dirty = strings.TrimSuffix(n.Value, old)+place, true
			}
		}
	}
	for _, s := range e.movesOf(e.Row) {
		acts, _ := walk(s.node, "acts")
		turn(s.tree, acts, valueOf(s.node, "label"))
	}
	for _, file := range e.set.names {
		if t := e.tree(file); t != nil && isScenario(file) {
			start, _ := walk(t.root, "start")
			turn(t, start, "")
		}
	}
}

// brought has what somebody brought to where it may not lie any more be brought to where it
// may: in steps, whose words lose the place, and in what happens in a story.
func (e *editor) brought(goes *yaml.Node, was []string) {
	if len(goes.Content) == 0 {
		return
	}
	turn := func(t *tree, acts *yaml.Node) (from string) {
		for _, n := range acts.Content {
			a, err := action.ParseAct(n.Value, nil)
			if err == nil && a.Verb == action.Bring && a.Object == e.Row && slices.Contains(was, a.Place) && !slices.Contains(wordsOf(goes), a.Place) {
				n.Value, t.dirty, from = strings.TrimSuffix(n.Value, a.Place)+goes.Content[0].Value, true, a.Place
			}
		}
		return from
	}
	for _, s := range e.movesOf(e.Row) {
		acts, _ := walk(s.node, "acts")
		if from := turn(s.tree, acts); from != "" {
			s.tree.set(s.node, "label", withoutPlace(valueOf(s.node, "label"), e.called(from)), text)
		}
	}
	for _, file := range e.set.names {
		if t := e.tree(file); t != nil && isScenario(file) {
			start, _ := walk(t.root, "start")
			turn(t, start)
		}
	}
}

// called is the title of a place or a surface.
func (e *editor) called(id string) string {
	for _, s := range e.rows("surfaces", id) {
		return valueOf(s.node, "title")
	}
	return e.placeTitle(id)
}

// withoutPlace is a label without the place that it ends with: titles are longer than what
// labels say of them, so that the first word is enough.
func withoutPlace(label, place string) string {
	first, _, _ := strings.Cut(procedure.Within(place), " ")
	for _, to := range []string{" on the ", " to the ", " in the ", " at the "} {
		if before, after, ok := strings.Cut(label, to); ok && first != "" && strings.HasPrefix(after, first) {
			return before
		}
	}
	return label
}

// thrownInto is the place for waste into which an act throws the thing of the edit, "" for
// any other act.
func (e *editor) thrownInto(n *yaml.Node) string {
	a, err := action.ParseAct(n.Value, nil)
	if err != nil || a.Verb != action.Discard || a.Object != e.Row || !e.placeKind(a.Place).ForWaste() {
		return ""
	}
	return a.Place
}

func (e *editor) placeTitle(place string) string {
	for _, s := range e.rows("places", place) {
		return valueOf(s.node, "title")
	}
	return place
}

// renameItem has the words of the steps that do something with a thing alone follow its name,
// where they say it.
func (e *editor) renameItem(was, is string) {
	for _, at := range e.movesOf(e.Row) {
		acts, _ := walk(at.node, "acts")
		alone := !slices.ContainsFunc(acts.Content, func(n *yaml.Node) bool {
			a, err := action.ParseAct(n.Value, nil)
			return err != nil || a.Object != e.Row
		})
		before, after, says := strings.Cut(" "+valueOf(at.node, "label")+" ", " "+procedure.Within(was)+" ")
		if alone && says {
			at.tree.set(at.node, "label", strings.TrimSpace(before+" "+procedure.Within(is)+" "+after), text)
		}
	}
}

// newPlace puts a place behind the last of its kind, else behind the last.
func (e *editor) newPlace() {
	row, t := flowRow("id", e.Row), &tree{}
	for _, field := range []string{"title", "kind", "basis"} {
		t.set(row, field, cmp.Or(e.Fields[field], map[string]string{"basis": string(procedure.ClinicToConfirm)}[field]), fieldsOf["places"][field])
	}
	rows := e.rows("places", "")
	if len(rows) == 0 {
		e.fault("", "no procedure has a place beside which this one could stand")
		return
	}
	beside := rows[0]
	for _, s := range rows {
		if s.list == beside.list && valueOf(s.node, "off") != "true" && (valueOf(s.node, "kind") == valueOf(row, "kind") || valueOf(beside.node, "kind") != valueOf(row, "kind")) {
			beside = s
		}
	}
	beside.tree.insert(beside.list, beside.node, row)
	e.leaveOutOfOthers("places", beside.file, keyOf("places", beside.node))
}

// leaveOutOfOthers leaves a new row of a part out of the procedures that do without the
// one beside it, and of all but the one that is meant.
func (e *editor) leaveOutOfOthers(list, part, beside string) {
	for _, file := range e.procedureFiles() {
		t := e.tree(file)
		others := e.Procedure != "" && file != e.Procedure+procedureSuffix
		if slices.Contains(t.names("parts"), strings.TrimSuffix(part, partSuffix)) && (others || slices.Contains(t.names("without."+list), beside)) {
			t.name("without."+list, e.Row)
		}
	}
}
