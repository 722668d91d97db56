package scenarios

import (
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"

	"stillwet/internal/action"
	"stillwet/internal/procedure"
	"stillwet/internal/training"
)

// Difference is what one set has otherwise than another, in words: "Product “Station
// wipe”: contact time", "1:00", "2:00". Was or Is is empty for what is new or gone.
type Difference struct {
	Kind       string // surface, item, place, product, step, pair, closing, mark, setting, scenario, competency
	ID         string
	What       string
	Field      string // which of the row's, "" for a row that is new or gone
	Was, Is    string
	Procedures []string // ids of those that differ so
}

// said is a row of a procedure or a library with what it says, in words.
type said struct {
	kind, id, name string
	brief          []string // what matters of it first, for when it is new
	fields         [][2]string
}

func (s *said) add(field, value string) { s.fields = append(s.fields, [2]string{field, value}) }

// Differences tells what a library has otherwise than another was. What several procedures
// share is told once.
func Differences(was, is *Library) (all []Difference) {
	ids := slices.Concat(slices.Collect(maps.Keys(was.procedures)), slices.Collect(maps.Keys(is.procedures)))
	slices.Sort(ids)
	for _, id := range slices.Compact(ids) {
		told := compare(sayings(was.procedures[id]), sayings(is.procedures[id]))
		if p := is.procedures[id]; p != nil && p.VariantOf != "" && was.procedures[id] == nil {
			told = variantSaid(is, p)
		}
		for _, d := range told {
			if i := slices.IndexFunc(all, d.same); i >= 0 {
				all[i].Procedures = append(all[i].Procedures, id)
				continue
			}
			d.Procedures = []string{id}
			all = append(all, d)
		}
	}
	return append(all, compare(was.sayings(), is.sayings())...)
}

func (d Difference) same(x Difference) bool {
	return d.Kind == x.Kind && d.ID == x.ID && d.What == x.What && d.Was == x.Was && d.Is == x.Is
}

const there = "there"

// asNew is what is told of a row that is new: it is all that whoever approves it reads.
func (s *said) asNew() string {
	told := slices.DeleteFunc(slices.Clone(s.brief), func(text string) bool { return text == "" })
	if len(told) == 0 {
		return "new"
	}
	return "new: " + strings.Join(told, ", ")
}

// oneMissFails is the field of what is critical.
const oneMissFails = "one miss fails the whole"

// compare gives the rows that changed and those that are new, in their order, then those
// that are gone.
func compare(was, is []said) (all []Difference) {
	find := func(rows []said, r *said) *said {
		i := slices.IndexFunc(rows, func(x said) bool { return x.kind == r.kind && x.id == r.id })
		if i < 0 {
			return nil
		}
		return &rows[i]
	}
	for i := range is {
		now := &is[i]
		old := find(was, now)
		if old == nil {
			all = append(all, Difference{Kind: now.kind, ID: now.id, What: now.name, Is: now.asNew()})
			continue
		}
		for j, field := range now.fields {
			if before := old.fields[j][1]; before != field[1] {
				all = append(all, Difference{Kind: now.kind, ID: now.id, What: now.name + ": " + field[0], Field: field[0], Was: before, Is: field[1]})
			}
		}
	}
	for i := range was {
		if find(is, &was[i]) == nil {
			all = append(all, Difference{Kind: was[i].kind, ID: was[i].id, What: was[i].name, Was: there})
		}
	}
	return all
}

// sayings are what a library says besides its procedures.
func (l *Library) sayings() (all []said) {
	for _, s := range l.scenarios {
		x := said{kind: "scenario", id: s.ID, name: "Scenario " + quote(s.Title)}
		x.add("title", s.Title)
		x.add("story", s.Story)
		x.add("product", l.titleIn(s.Procedure, s.Product))
		x.add("level", strconv.Itoa(s.Level))
		x.add("what it teaches", s.Teaches)
		all = append(all, x)
	}
	for _, c := range l.competencies {
		x := said{kind: "competency", id: c.ID, name: "Competency " + quote(c.Title)}
		x.add("title", c.Title)
		x.add("scenarios", strings.Join(l.scenarioTitles(c.Scenarios), ", "))
		x.add("demonstrations for the first sign-off", strconv.Itoa(c.Demonstrations))
		x.add("demonstrations for a later one", strconv.Itoa(c.Recheck))
		x.add("months between sign-offs", strconv.Itoa(c.IntervalMonths))
		x.add("days of notice", strconv.Itoa(c.NoticeDays))
		x.add("stations", choice(c.EachVariant, "shown at each variant", "one variant covers all"))
		all = append(all, x)
	}
	return all
}

// sayings are what a procedure says, nothing for none.
func sayings(p *procedure.Procedure) (all []said) {
	if p == nil {
		return nil
	}
	return slices.Concat(settingsSaid(p), surfacesSaid(p), thingsSaid(p), productsSaid(p), stepsSaid(p), orderSaid(p), marksSaid(p))
}

func settingsSaid(p *procedure.Procedure) []said {
	s, x := &p.Settings, said{kind: "setting", id: p.ID, name: "Procedure " + quote(p.Definition.Title)}
	x.add("title", p.Definition.Title)
	x.add("station", p.Variant)
	x.add("version", p.Version)
	x.add("owner", p.Owner)
	x.add("review by", p.ReviewBy)
	x.add("a dry gap", choice(s.WetAddsUp, "wet times add up", "the contact time starts anew"))
	x.add("staging surface wiped with the patient there", yes(s.StagingWithPatient))
	x.add("how far one wipe may go", map[procedure.OneWipe]string{procedure.FaceAdvice: "one side, as advice", procedure.FaceBreach: "one side", procedure.ThingBreach: "one thing", procedure.AnyWipe: "as far as it is wet"}[s.OneWipe])
	x.add("time for hands", choice(s.Hands == procedure.WHOHands, "as the WHO says", "as the CDC says"))
	x.add("time from one patient to the next", minutes(s.PatientFreeS))
	x.add("used things taken down only when the patient has left", yes(s.ClearAlone))
	x.add("isolation room", yes(s.Isolation))
	x.add("one whole face that a watcher must see", s.SeeOneFaceOf)
	x.add("form of the boards", choice(s.Board == procedure.ListBoard, "a list in groups", "the picture of the station"))
	x.add("what the choices rest on", standing(s.Basis, s.Confirmed))
	x.add("lowest score that passes", strconv.Itoa(p.MarkSheet.CutPercent)+" %")
	x.add("what the lowest score rests on", standing(p.MarkSheet.Basis, p.MarkSheet.Confirmed))
	return []said{x}
}

func surfacesSaid(p *procedure.Procedure) (all []said) {
	for _, s := range p.Surfaces {
		x := said{kind: "surface", id: s.ID, name: "Surface " + quote(s.Title)}
		x.brief = []string{"of the thing " + quote(s.ThingOf()), choice(s.MustSee, "a watcher must see it wet", ""), choice(s.HighTouch, "touched often", "")}
		x.add("title", s.Title)
		x.add("short name in the picture", p.NameOf(s.ID))
		x.add("thing", s.ThingOf())
		x.add("side", s.Face)
		x.add("touched often", yes(s.HighTouch))
		x.add("reached from the chair", yes(s.ChairSide))
		x.add("must be seen wet", yes(s.MustSee))
		x.add("height, from the top", number(s.Row))
		x.add("square decimetres", number(s.AreaDm2))
		x.add("time of one wipe", minutes(s.WipeS))
		x.add("dries after", minutes(s.DriesS))
		x.add("standing", standing(s.Basis, s.Confirmed))
		all = append(all, x)
	}
	return all
}

func thingsSaid(p *procedure.Procedure) (all []said) {
	titles := func(ids []string) string {
		var all []string
		for _, id := range ids {
			all = append(all, p.Title(id))
		}
		return strings.Join(all, ", ")
	}
	for _, it := range p.Items {
		x := said{kind: "item", id: it.ID, name: "Item " + quote(it.Title)}
		x.brief = []string{string(it.Kind), "may go to " + titles(it.Goes), choice(it.WhenNamed, "there only when a story names it", "")}
		x.add("title", it.Title)
		x.add("kind", string(it.Kind))
		x.add("may go to", titles(it.Goes))
		x.add("there only when named", yes(it.WhenNamed))
		x.add("of the isolation room", yes(it.Isolation))
		x.add("standing", standing(it.Basis, it.Confirmed))
		all = append(all, x)
	}
	for _, pl := range p.Places {
		x := said{kind: "place", id: pl.ID, name: "Place " + quote(pl.Title)}
		x.brief = []string{string(pl.Kind)}
		x.add("title", pl.Title)
		x.add("kind", string(pl.Kind))
		x.add("standing", standing(pl.Basis, pl.Confirmed))
		all = append(all, x)
	}
	return all
}

func productsSaid(p *procedure.Procedure) (all []said) {
	for _, pr := range p.Products {
		var not []string
		for _, id := range pr.NotOn {
			not = append(not, p.Title(id))
		}
		x := said{kind: "product", id: pr.ID, name: "Product " + quote(pr.Title)}
		x.brief = []string{"contact time " + minutes(pr.LabelS), string(pr.Level) + " level", choice(len(not) > 0, "not allowed on "+strings.Join(not, ", "), ""),
			choice(pr.CountsDry(), "its time counts wet or dry", "")}
		x.add("title", pr.Title)
		x.add("level", string(pr.Level))
		x.add("contact time", minutes(pr.LabelS))
		x.add("what the label claims", claimsSaid(pr))
		x.add("how its time is read", choice(pr.CountsDry(), "left alone for its time, wet or dry", "visibly wet for its whole time"))
		x.add("the label's words for it", readingSaid(pr))
		x.add("number on the label", pr.Registration)
		x.add("label checked", by("by ", pr.CheckedBy, pr.CheckedOn))
		x.add("dries after", minutes(pr.DriesS))
		x.add("not allowed on", strings.Join(not, ", "))
		x.add("hours since it was made", number(pr.MadeH))
		x.add("hours a dilution is good", number(pr.GoodH))
		x.add("good until", training.Day(pr.GoodUntil).Said())
		x.add("past its date", yes(pr.PastDate))
		x.add("square decimetres of one wipe", number(pr.AreaDm2))
		x.add("standing", standing(pr.Basis, pr.Confirmed))
		all = append(all, x)
	}
	return all
}

func stepsSaid(p *procedure.Procedure) (all []said) {
	for _, s := range p.Steps {
		var acts []string
		for _, a := range s.Acts {
			acts = append(acts, actSaid(p, a))
		}
		x := said{kind: "step", id: s.ID, name: "Step " + quote(s.Label)}
		x.add("label", s.Label)
		x.add("words on the board", s.Short)
		x.add("what is done", strings.Join(acts, "; "))
		x.add("area", areaSaid(p, s.Area))
		x.add("time", minutes(s.Seconds))
		x.add("seldom done", yes(s.Seldom))
		all = append(all, x)
	}
	return all
}

// actSaid is an act with the names of what it is done with.
func actSaid(p *procedure.Procedure, a action.Act) string {
	for _, id := range []*string{&a.Object, &a.Place, &a.Of} {
		if title := p.Title(*id); title != *id {
			*id = procedure.Within(title)
		}
	}
	if a.Verb == action.TakeWipe {
		return "take a wipe of " + choice(a.Of == procedure.Shelf, "what is on the shelf", procedure.Capital(a.Of))
	}
	return a.Text()
}

func areaSaid(p *procedure.Procedure, id string) string {
	for _, a := range p.Areas {
		if a.ID == id {
			return a.Title
		}
	}
	return id
}

// titleIn is what a procedure calls something.
func (l *Library) titleIn(procedure, id string) string {
	if p := l.procedures[procedure]; p != nil {
		return p.Title(id)
	}
	return id
}

func (l *Library) scenarioTitles(ids []string) (titles []string) {
	for _, id := range ids {
		if s, ok := l.Scenario(id); ok {
			id = quote(s.Title)
		}
		titles = append(titles, id)
	}
	return titles
}

func orderSaid(p *procedure.Procedure) (all []said) {
	for i := range p.Order {
		o := &p.Order[i]
		x := said{kind: "pair", id: o.Earlier + " " + o.Later, name: fmt.Sprintf("Order %s before %s", quote(p.Title(o.Earlier)), quote(p.Title(o.Later)))}
		x.brief = []string{strings.TrimRight(o.Why, "."), choice(o.Critical, "critical", ""), choice(o.Custom(), "as advice", "")}
		x.add("why", o.Why)
		x.add("asked for", choice(o.Custom(), "as advice", "as a demand"))
		x.add(oneMissFails, yes(o.Critical))
		x.add("standing", standing(o.Basis, o.Confirmed))
		all = append(all, x)
	}
	for i := range p.Closing {
		c := &p.Closing[i]
		x := said{kind: "closing", id: c.Step, name: "At the end " + quote(p.Title(c.Step))}
		x.brief = []string{strings.TrimRight(c.Why, "."), choice(c.Custom(), "as advice", "")}
		x.add("why", c.Why)
		x.add("asked for", choice(c.Custom(), "as advice", "as a demand"))
		x.add("standing", standing(c.Basis, c.Confirmed))
		all = append(all, x)
	}
	return all
}

func marksSaid(p *procedure.Procedure) (all []said) {
	for i := range p.MarkSheet.Marks {
		m := &p.MarkSheet.Marks[i]
		x := said{kind: "mark", id: m.ID, name: "Mark " + quote(m.Title)}
		x.brief = []string{"worth " + strconv.Itoa(m.Worth), choice(m.Critical, "critical", "")}
		x.add("title", m.Title)
		x.add("worth", strconv.Itoa(m.Worth))
		x.add(oneMissFails, yes(m.Critical))
		x.add("confirmed", confirmedBy(m.Confirmed))
		all = append(all, x)
	}
	return all
}

func quote(s string) string { return "“" + s + "”" }

func choice(is bool, yes, no string) string {
	if is {
		return yes
	}
	return no
}

func yes(is bool) string { return choice(is, "yes", "no") }

// number is a number in words, where zero says nothing.
func number(n int) string {
	if n == 0 {
		return ""
	}
	return strconv.Itoa(n)
}

// minutes is a time of so many seconds, where zero says nothing.
func minutes(s int) string {
	if s == 0 {
		return ""
	}
	return fmt.Sprintf("%d:%02d", s/60, s%60)
}

func standing(b procedure.Basis, c procedure.Confirmed) string {
	text := string(b.Kind)
	if b.Source != "" {
		text += ": " + b.Source
	}
	if by := confirmedBy(c); by != "" {
		text += ", " + by
	}
	return text
}

func confirmedBy(c procedure.Confirmed) string {
	return by("confirmed by ", c.By, c.On)
}

// by is who did something and when, "" for nobody.
func by(did, who, on string) string {
	if who == "" {
		return ""
	}
	return did + who + " on " + training.Day(on).Said()
}

// claimsSaid are the claims of a label in words: those that the clinic does not make too.
func claimsSaid(p procedure.Product) string {
	var all []string
	for _, c := range p.Claims {
		all = append(all, minutes(c.LabelS)+" for "+c.For+choice(c.Used, "", " (not claimed here)"))
	}
	return strings.Join(all, ", ")
}

func readingSaid(p procedure.Product) string {
	if !p.CountsDry() {
		return ""
	}
	return quote(p.ReadingWords) + by(", typed in by ", p.ReadingBy, p.ReadingOn)
}
