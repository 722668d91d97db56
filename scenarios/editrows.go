package scenarios

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"go.yaml.in/yaml/v3"

	"stillwet/internal/action"
	"stillwet/internal/procedure"
)

// show switches what is at the station on or off, for one procedure or for all that have
// it; a scenario is offered or hidden.
func (e *editor) show(on bool) {
	switch e.List {
	case "scenarios":
		e.showScenario(on)
		return
	case "variants":
		e.showVariant(on)
		return
	}
	found := e.rows(e.List, e.Row)
	if len(found) == 0 || e.Row == "" {
		e.unknownRow()
		return
	}
	for _, at := range found {
		if e.Procedure != "" && at.file != e.Procedure+procedureSuffix {
			e.showHere(at, on)
			continue
		}
		e.showEverywhere(at, on)
	}
	switch {
	case e.List == "surfaces" && on:
		for _, at := range found {
			e.wipedBySomeStep(at)
		}
	case e.List == "items" && on:
		for _, at := range found {
			e.handledBySomeStep(at)
		}
	case !on:
		e.forget()
	}
}

func (e *editor) showScenario(on bool) {
	t := e.tree(e.Row + ".yaml")
	if t == nil || !isScenario(e.Row+".yaml") {
		e.fault("", "there is no scenario %q", e.Row)
		return
	}
	hidden := ""
	if !on {
		hidden = "true"
	}
	t.set(t.root, "hidden", hidden, plainly)
}

// showHere has one procedure have a row of a part, or do without it.
func (e *editor) showHere(at spot, on bool) {
	t, without := e.tree(e.Procedure+procedureSuffix), "without."+e.List
	off, _ := walk(at.node, "off")
	switch {
	case on:
		t.unname(without, e.Row)
		if off.Value == "true" {
			t.name("on", e.Row)
		}
	case off.Value == "true":
		t.unname("on", e.Row)
	default:
		t.name(without, e.Row)
	}
}

// showEverywhere has every procedure have a row, but those that do without what stands
// beside it; or none.
func (e *editor) showEverywhere(at spot, on bool) {
	was, _ := walk(at.node, "off")
	off := ""
	if !on {
		off = "true"
	}
	at.tree.set(at.node, "off", off, plainly)
	for _, file := range e.procedureFiles() {
		t := e.tree(file)
		if !slices.Contains(t.names("parts"), strings.TrimSuffix(at.file, partSuffix)) && file != at.file {
			continue
		}
		had := slices.Contains(t.names("on"), e.Row)
		t.unname("on", e.Row)
		if on && was.Value == "true" && !had && e.List == "surfaces" {
			e.withoutToo(t, at)
		}
	}
}

// withoutToo leaves a surface out of a procedure that leaves out the one beside it.
func (e *editor) withoutToo(t *tree, at spot) {
	beside := e.beside(at.list, at.node)
	if beside != nil && slices.Contains(t.names("without.surfaces"), keyOf("surfaces", beside)) {
		t.name("without.surfaces", keyOf("surfaces", at.node))
	}
}

// beside is the surface of a list that a row stands by: the nearest that is not off, of its
// face, else its thing, else its role.
func (e *editor) beside(list, row *yaml.Node) *yaml.Node {
	value := func(n *yaml.Node, field string) string {
		v, _ := walk(n, field)
		return v.Value
	}
	thing := func(n *yaml.Node) string { return cmp.Or(value(n, "thing"), value(n, "face")) }
	at := slices.Index(list.Content, row)
	if at < 0 {
		at = len(list.Content)
	}
	for _, same := range []func(n *yaml.Node) bool{
		func(n *yaml.Node) bool { return value(n, "face") == value(row, "face") },
		func(n *yaml.Node) bool { return thing(n) == thing(row) },
		func(n *yaml.Node) bool { return value(n, "role") == value(row, "role") },
	} {
		for _, i := range nearest(at, len(list.Content)) {
			if n := list.Content[i]; same(n) && value(n, "off") != "true" {
				return n
			}
		}
	}
	return nil
}

// forget takes what is off out of the steps that do something else as well, and out of
// the places where things may go.
func (e *editor) forget() {
	for _, at := range e.rows("steps", "") {
		e.forgetIn(at)
	}
	for _, at := range e.rows("items", "") {
		e.forgetPlace(at)
	}
}

// forgetPlace takes a place out of those where a thing may go. One that may go nowhere else
// is for somebody to say.
func (e *editor) forgetPlace(at spot) {
	goes, _ := walk(at.node, "goes")
	left := slices.DeleteFunc(slices.Clone(goes.Content), func(n *yaml.Node) bool { return n.Value == e.Row })
	if len(left) == len(goes.Content) || !e.atAStation(at) {
		return
	}
	if len(left) == 0 {
		title, _ := walk(at.node, "title")
		e.faults = append(e.faults, FieldFault{List: "items", Row: keyOf("items", at.node),
			Text: fmt.Sprintf("%s may go only to %s: say first where else it may go, or that your stations do not have it", quote(title.Value), e.calledInRow())})
		return
	}
	if e.Procedure == "" {
		goes.Content, at.tree.dirty = left, true
	}
}

// calledInRow is what people call the row of an edit, within a sentence.
func (e *editor) calledInRow() string {
	title, _ := walk(e.rows(e.List, e.Row)[0].node, "title")
	return procedure.The(title.Value)
}

// atAStation reports whether a procedure that is meant has a thing.
func (e *editor) atAStation(at spot) bool {
	id := keyOf("items", at.node)
	off, _ := walk(at.node, "off")
	return slices.ContainsFunc(e.ofTheirOwn(), func(file string) bool {
		t := e.tree(file)
		has := file == at.file || slices.Contains(t.names("parts"), strings.TrimSuffix(at.file, partSuffix))
		return has && (off.Value != "true" || slices.Contains(t.names("on"), id)) && !slices.Contains(t.names("without.items"), id)
	})
}

func (e *editor) forgetIn(at spot) {
	acts, _ := walk(at.node, "acts")
	left := slices.DeleteFunc(slices.Clone(acts.Content), func(n *yaml.Node) bool {
		a, err := action.ParseAct(n.Value, nil)
		return err == nil && (a.Object == e.Row || a.Place == e.Row || a.Of == e.Row)
	})
	if len(left) == 0 || len(left) == len(acts.Content) {
		return // the whole step goes with it, or none of it
	}
	label := e.labelOf(left)
	if e.Procedure != "" && at.file != e.Procedure+procedureSuffix {
		e.changeStep(at, left, label)
		return
	}
	acts.Content, at.tree.dirty = left, true
	if label != "" {
		at.tree.set(at.node, "label", label, text)
	}
}

// partSteps takes a surface out of the steps that wipe it together with another side, and
// gives it one of its own: no wipe goes from side to side.
func (e *editor) partSteps(found []spot) {
	side := func(surface string) string {
		for _, at := range e.rows("surfaces", surface) {
			face, _ := walk(at.node, "face")
			return face.Value
		}
		return ""
	}
	for _, at := range e.stepsWiping(e.Row) {
		acts, _ := walk(at.node, "acts")
		if slices.ContainsFunc(acts.Content, func(n *yaml.Node) bool {
			a, err := action.ParseAct(n.Value, nil)
			return err == nil && a.Verb == action.Wipe && side(a.Object) != side(e.Row)
		}) {
			e.forgetIn(at)
		}
	}
	for _, at := range found {
		e.wipedBySomeStep(at)
	}
}

// changeStep has one procedure have a step of a part with fewer acts.
func (e *editor) changeStep(at spot, acts []*yaml.Node, label string) {
	t := e.tree(e.Procedure + procedureSuffix)
	steps := t.list(t.mapping(t.root, "change"), "steps")
	id := keyOf("steps", at.node)
	row := flowRow("id", id)
	if there := e.in(e.Procedure+procedureSuffix, "change.steps", "steps", id); len(there) > 0 {
		row = there[0].node
	} else {
		t.insert(steps, nil, row)
	}
	assign(row, "acts", &yaml.Node{Kind: yaml.SequenceNode, Tag: "!!seq", Style: yaml.FlowStyle, Content: acts}, 0)
	if label != "" {
		t.set(row, "label", label, text)
	}
	t.dirty = true
}

// labelOf names a step that only wipes by what it wipes, "" for another.
func (e *editor) labelOf(acts []*yaml.Node) string {
	var titles []string
	for _, n := range acts {
		a, err := action.ParseAct(n.Value, nil)
		if err != nil || a.Verb != action.Wipe {
			return ""
		}
		title := a.Object
		for _, at := range e.rows("surfaces", a.Object) {
			t, _ := walk(at.node, "title")
			title = procedure.Within(t.Value)
		}
		titles = append(titles, title)
	}
	last := len(titles) - 1
	if last == 0 {
		return "Wipe " + procedure.The(titles[0])
	}
	return "Wipe " + strings.Join(titles[:last], ", ") + " and " + titles[last]
}

// rename has the steps that wipe a surface, and the marks that say its title, follow a new one.
func (e *editor) rename(was, is string) {
	for _, at := range e.stepsWiping(e.Row) {
		acts, _ := walk(at.node, "acts")
		if label := e.labelOf(acts.Content); label != "" {
			at.tree.set(at.node, "label", label, text)
		}
	}
	for _, at := range e.rows("marks", "") {
		of, _ := walk(at.node, "surface")
		title, _ := walk(at.node, "title")
		if rest, ok := strings.CutPrefix(title.Value, was); ok && of.Value == e.Row {
			at.tree.set(at.node, "title", is+rest, text)
		}
	}
}

// newSurface puts a surface beside what is like it, and a step that wipes it.
func (e *editor) newSurface() {
	row := flowRow("id", e.Row)
	t := &tree{}
	for _, field := range []string{"title", "face", "thing", "role", "high_touch", "chair_side", "must_see", "row", "area_dm2", "wipe_s", "dries_s", "basis"} {
		t.set(row, field, cmp.Or(e.Fields[field], map[string]string{"role": "station", "basis": string(procedure.ClinicToConfirm)}[field]), fieldsOf["surfaces"][field])
	}
	if e.Fields["name"] != "" {
		e.fault("name", "the picture does not show this surface")
	}
	at, beside := e.hostOf(row)
	if beside == nil {
		e.fault("face", "no procedure has a surface beside which this one could stand")
		return
	}
	own, isOwn := e.ofItsOwn(beside)
	if isOwn {
		at = own
	}
	at.node = row
	at.tree.insert(at.list, beside, row)
	e.wipedBySomeStep(at)
	if isOwn {
		return
	}
	e.leaveOutOfOthers("surfaces", at.file, keyOf("surfaces", beside))
}

// hostOf is the list for a new surface with the row behind which it stands: where its face
// is, else its thing, else its area's steps, else its role.
func (e *editor) hostOf(row *yaml.Node) (at spot, beside *yaml.Node) {
	value := func(n *yaml.Node, field string) string {
		v, _ := walk(n, field)
		return v.Value
	}
	thing := func(n *yaml.Node) string { return cmp.Or(value(n, "thing"), value(n, "face")) }
	rows := e.rows("surfaces", "")
	for _, like := range []func(s spot) bool{
		func(s spot) bool { return value(s.node, "face") == value(row, "face") },
		func(s spot) bool { return thing(s.node) == thing(row) },
		func(s spot) bool {
			return e.Fields["area"] != "" && e.hasArea(s.file, e.Fields["area"]) && value(s.node, "role") == value(row, "role")
		},
		func(s spot) bool { return value(s.node, "role") == value(row, "role") },
	} {
		for _, s := range slices.Backward(rows) {
			if like(s) && value(s.node, "off") != "true" {
				return s, s.node
			}
		}
	}
	return spot{}, nil
}

// hasArea reports whether a file has steps of an area.
func (e *editor) hasArea(file, area string) bool {
	return slices.ContainsFunc(e.in(file, pathIn(file, "steps"), "steps", ""), func(s spot) bool {
		v, _ := walk(s.node, "area")
		return v.Value == area
	})
}

// wipedBySomeStep gives a surface the step that wipes it, where there is none, behind the
// one that wipes what stands before it.
func (e *editor) wipedBySomeStep(at spot) {
	id := keyOf("surfaces", at.node)
	if len(e.stepsWiping(id)) > 0 {
		return
	}
	title, _ := walk(at.node, "title")
	area, host, behind := e.Fields["area"], at, (*yaml.Node)(nil)
	host.list = nil
	if beside := e.beside(at.list, at.node); beside != nil {
		for _, s := range e.stepsWiping(keyOf("surfaces", beside)) {
			v, _ := walk(s.node, "area")
			area, host, behind = cmp.Or(area, v.Value), s, s.node
		}
	}
	if host.list == nil {
		head, last := host.tree.root, "steps"
		host.list = host.tree.list(head, last)
	}
	row := flowRow("id", "wipe-"+id, "label", "Wipe "+procedure.The(title.Value), "area", area)
	row.Content = append(row.Content, scalar("acts", text), actList("wipe "+id), scalar("seconds", text), scalar("0", plainly))
	host.tree.insert(host.list, behind, row)
}

func actList(acts ...string) *yaml.Node {
	list := &yaml.Node{Kind: yaml.SequenceNode, Tag: "!!seq", Style: yaml.FlowStyle}
	for _, a := range acts {
		list.Content = append(list.Content, scalar(a, text))
	}
	return list
}

func (e *editor) stepsWiping(surface string) []spot {
	return e.stepsDoing(func(a *action.Act) bool { return a.Verb == action.Wipe && a.Object == surface })
}

func (e *editor) stepsDoing(is func(a *action.Act) bool) (found []spot) {
	for _, s := range e.rows("steps", "") {
		acts, _ := walk(s.node, "acts")
		if slices.ContainsFunc(acts.Content, func(n *yaml.Node) bool {
			a, err := action.ParseAct(n.Value, nil)
			return err == nil && is(&a)
		}) {
			found = append(found, s)
		}
	}
	return found
}

// newPair puts a pair where both of its steps stand, else into every procedure that has them.
func (e *editor) newPair() {
	earlier, later, ok := strings.Cut(e.Row, " ")
	if !ok {
		e.fault("", "a pair is named by its steps: EARLIER LATER")
		return
	}
	holds := func(file, step string) bool { return len(e.in(file, pathIn(file, "steps"), "steps", step)) > 0 }
	var into []string
	for _, file := range e.holders() {
		if holds(file, earlier) && holds(file, later) && e.Procedure == "" {
			into = append(into, file)
		}
	}
	if len(into) == 0 {
		into = e.having(earlier, later)
	}
	for _, step := range []string{earlier, later} {
		if len(e.rows("steps", step)) == 0 {
			into = nil
			e.fault(map[string]string{earlier: "earlier", later: "later"}[step], "unknown step %q; nearest: %s", step, action.Nearest(step, e.keys("steps")))
		}
	}
	for _, file := range into {
		e.newRow(file, e.tree(file).list(e.tree(file).root, "order"), flowRow("earlier", earlier, "later", later))
	}
}

// having are the files of the procedures that are meant and have both steps.
func (e *editor) having(steps ...string) (files []string) {
	meant, among := e.Procedure, e.procedures()
	if meant == "" {
		among = e.ofTheirOwn()
	}
	for _, file := range among {
		e.Procedure = strings.TrimSuffix(file, procedureSuffix)
		if !slices.ContainsFunc(steps, func(s string) bool {
			return len(e.rows("steps", s)) == 0 || slices.Contains(e.tree(file).names("without.steps"), s)
		}) {
			files = append(files, file)
		}
	}
	e.Procedure = meant
	return files
}

// newClosing puts what the end of the work asks for into the procedures that are meant.
func (e *editor) newClosing() {
	into := e.having(e.Row)
	if len(into) == 0 {
		e.fault("", "unknown step %q; nearest: %s", e.Row, action.Nearest(e.Row, e.keys("steps")))
	}
	for _, file := range into {
		e.newRow(file, e.tree(file).list(e.tree(file).root, "closing"), flowRow("step", e.Row))
	}
}

func (e *editor) newRow(file string, list, row *yaml.Node) {
	t := e.tree(file)
	t.set(row, "why", e.Fields["why"], text)
	t.set(row, "basis", cmp.Or(e.Fields["basis"], string(procedure.ClinicToConfirm)), text)
	if critical := e.Fields["critical"]; critical != "" && critical != "false" {
		t.set(row, "critical", critical, plainly)
	}
	t.insert(list, nil, row)
}
