package procedure

import (
	"fmt"
	"maps"
	"regexp"
	"slices"
	"strings"
	"unicode/utf8"

	"stillwet/internal/action"
)

// checker gathers every fault of a definition.
type checker struct {
	d      *Definition
	faults []Fault
}

func (c *checker) fault(path, format string, args ...any) {
	c.faults = append(c.faults, Fault{path, fmt.Sprintf(format, args...)})
}

var dayPattern = regexp.MustCompile(`^\d{4}-(0[1-9]|1[0-2])-(0[1-9]|[12]\d|3[01])$`)

// index maps ids to places and reports bad, repeated and too many ones.
func index[T any](c *checker, list string, all []T, limit int, id func(T) string) map[string]int {
	m := make(map[string]int, len(all))
	if len(all) > limit {
		c.fault(list, "%d are too many; the limit is %d", len(all), limit)
	}
	for i, x := range all {
		path := fmt.Sprintf("%s.%d.id", list, i)
		if !action.ValidID(id(x)) {
			c.fault(path, "%q cannot be an id: use lower-case letters, digits and single hyphens", id(x))
		}
		if _, twice := m[id(x)]; twice {
			c.fault(path, "%q is there twice", id(x))
		}
		m[id(x)] = i
	}
	return m
}

func (c *checker) all(p *Procedure, rules []string) {
	for path, text := range map[string]string{"title": c.d.Title, "version": c.d.Version, "owner": c.d.Owner, "review_by": c.d.ReviewBy} {
		if strings.TrimSpace(text) == "" {
			c.fault(path, "must not be empty")
		}
	}
	if !action.ValidID(c.d.ID) {
		c.fault("id", "%q cannot be an id", c.d.ID)
	}
	if c.d.ReviewBy != "" && !dayPattern.MatchString(c.d.ReviewBy) {
		c.fault("review_by", "%q is no day in the form 2027-06-30", c.d.ReviewBy)
	}
	for list, n := range map[string]int{"surfaces": len(c.d.Surfaces), "products": len(c.d.Products), "steps": len(c.d.Steps)} {
		if n == 0 {
			c.fault(list, "at least one is needed")
		}
	}
	if (c.d.VariantOf == "") != (strings.TrimSpace(c.d.Variant) == "") || len(c.d.Variant) > 40 {
		c.fault("variant", "a variant says of which procedure (variant_of), and is called in up to 40 letters")
	}
	c.setting()
	c.surfaces()
	c.items(p)
	c.products()
	c.oneName(p)
	c.steps(p)
	c.order(p)
	c.closing(p)
	c.choices()
	c.list(p)
	c.marks(p, rules)
	c.picture(p)
	slices.SortStableFunc(c.faults, func(a, b Fault) int { return strings.Compare(a.Path, b.Path) })
}

// unknown reports a word that is not there, with the nearest that are.
func (c *checker) unknown(path, what, word string, known []string) {
	if len(known) == 0 {
		c.fault(path, "unknown %s %q; there are none", what, word)
		return
	}
	c.fault(path, "unknown %s %q; nearest: %s", what, word, action.Nearest(word, known))
}

// setting checks what the procedure says of the place and the work as a whole.
func (c *checker) setting() {
	if c.d.Begins != PatientThere && c.d.Begins != NobodyThere {
		c.fault("begins", "%q is none of %q, %q", c.d.Begins, PatientThere, NobodyThere)
	}
	for path, word := range map[string]string{"station": c.d.Station, "work": c.d.Work} {
		if strings.TrimSpace(word) == "" || len(word) > 40 {
			c.fault(path, "needs a word or two of up to 40 letters, as they stand in a sentence")
		}
	}
	areas := index(c, "areas", c.d.Areas, MaxAreas, func(a Area) string { return a.ID })
	if len(areas) == 0 {
		c.fault("areas", "at least one is needed")
	}
	for i, a := range c.d.Areas {
		c.title("areas", i, a.Title)
	}
	known := slices.Sorted(maps.Keys(areas))
	for i, s := range c.d.Steps {
		if _, ok := areas[s.Area]; !ok {
			c.unknown(fmt.Sprintf("steps.%d.area", i), "area", s.Area, known)
		}
	}
}

func (c *checker) title(list string, i int, text string) {
	if strings.TrimSpace(text) == "" {
		c.fault(fmt.Sprintf("%s.%d.title", list, i), "must not be empty")
	}
}

// structure checks what a kept definition needs to be read: caps and ids are
// checked by index; here are the references that others follow blindly.
func (c *checker) structure(p *Procedure) {
	c.stepActs(p)
	c.orderSteps(p)
	for i, x := range c.d.Closing {
		c.orderStep(p, fmt.Sprintf("closing.%d.step", i), x.Step)
	}
}

func (c *checker) stepActs(p *Procedure) {
	words := p.stepWords()
	for i, s := range c.d.Steps {
		if n := len(s.Acts); n == 0 || n > MaxStepActs {
			c.fault(fmt.Sprintf("steps.%d.acts", i), "a step has at least one act and no more than %d", MaxStepActs)
		}
		for j := range s.Acts {
			if _, err := action.ParseAct(s.Acts[j].Text(), words); err != nil {
				c.fault(fmt.Sprintf("steps.%d.acts.%d", i, j), "%v", err)
			}
		}
	}
}

// orderSteps gives the pairs whose steps are known, by index.
func (c *checker) orderSteps(p *Procedure) (later map[int][]int) {
	if len(c.d.Order) > MaxPairs {
		c.fault("order", "%d pairs are too many; the limit is %d", len(c.d.Order), MaxPairs)
	}
	later = map[int][]int{}
	for i, pair := range c.d.Order {
		e := c.orderStep(p, fmt.Sprintf("order.%d.earlier", i), pair.Earlier)
		l := c.orderStep(p, fmt.Sprintf("order.%d.later", i), pair.Later)
		if e >= 0 && l >= 0 {
			later[e] = append(later[e], l)
		}
	}
	return later
}

func (c *checker) surfaces() {
	roles := map[Role]int{}
	for i, s := range c.d.Surfaces {
		at := func(field string) string { return fmt.Sprintf("surfaces.%d.%s", i, field) }
		roles[s.Role]++
		switch s.Role {
		case StationSurface, StagingSurface, BucketSurface:
		default:
			c.fault(at("role"), "%q is none of station, staging, bucket", s.Role)
		}
		c.title("surfaces", i, s.Title)
		if s.Face == "" {
			c.fault(at("face"), "must not be empty: it is the side of a thing that is wiped in one go")
		}
		if s.Row < 0 || s.AreaDm2 < 0 || s.Row > MaxSurfaces || s.AreaDm2 > 1000 {
			c.fault(at("row"), "row or area_dm2 is below 0 or too large")
		}
		c.seconds(at("wipe_s"), s.WipeS, 1, 600)
		c.seconds(at("dries_s"), s.DriesS, 0, 3600)
		c.confirmed(at("confirmed"), s.Confirmed)
	}
	if roles[StationSurface] == 0 {
		c.fault("surfaces", "no surface of the station is listed")
	}
}

// choices checks the settings that are words or numbers.
func (c *checker) choices() {
	s := &c.d.Settings
	if !slices.Contains([]OneWipe{FaceAdvice, FaceBreach, ThingBreach, AnyWipe}, s.OneWipe) {
		c.fault("settings.one_wipe", "%q is none of face, thing, off", s.OneWipe)
	}
	if s.Hands != CDCHands && s.Hands != WHOHands {
		c.fault("settings.hands", "%q is none of cdc, who", s.Hands)
	}
	c.seconds("settings.patient_free_s", s.PatientFreeS, 0, 3600)
	c.confirmed("settings.confirmed", s.Confirmed)
	c.confirmed("mark_sheet.confirmed", c.d.MarkSheet.Confirmed)
	if s.Board != PictureBoard && s.Board != ListBoard {
		c.fault("settings.board", "%q is no form of a board: list, or left out for the picture", s.Board)
	}
	if s.SeeOneFaceOf != "" && !slices.ContainsFunc(c.d.Surfaces, func(x Surface) bool { return x.ThingOf() == s.SeeOneFaceOf }) {
		c.fault("settings.see_one_face_of", "no surface is a part of %q", s.SeeOneFaceOf)
	}
}

func (c *checker) seconds(path string, v, low, high int) {
	if v < low || v > high {
		c.fault(path, "%d s is not between %d and %d s", v, low, high)
	}
}

func (c *checker) items(p *Procedure) {
	count := map[ItemKind]int{}
	for i, it := range c.d.Items {
		count[it.Kind]++
		c.title("items", i, it.Title)
		if !slices.Contains(ItemKinds, it.Kind) {
			c.fault(fmt.Sprintf("items.%d.kind", i), "%q is none of %s", it.Kind, join(ItemKinds))
		}
		for j, place := range it.Goes {
			if p.PlaceIndex(place) < 0 && p.SurfaceIndex(place) < 0 {
				c.unknown(fmt.Sprintf("items.%d.goes.%d", i, j), "place", place, p.Words[action.Place])
			}
		}
		if len(it.Goes) == 0 {
			c.fault(fmt.Sprintf("items.%d.goes", i), "say where %q may go", it.ID)
		}
		c.confirmed(fmt.Sprintf("items.%d.confirmed", i), it.Confirmed)
	}
	if count[BucketItem] > 1 {
		c.fault("items", "only one item can be the prime bucket")
	}
	for i, pl := range c.d.Places {
		c.title("places", i, pl.Title)
		if !slices.Contains(PlaceKinds, pl.Kind) {
			c.fault(fmt.Sprintf("places.%d.kind", i), "%q is none of %s", pl.Kind, join(PlaceKinds))
		}
		c.confirmed(fmt.Sprintf("places.%d.confirmed", i), pl.Confirmed)
	}
}

func (c *checker) products() {
	for i, pr := range c.d.Products {
		at := func(field string) string { return fmt.Sprintf("products.%d.%s", i, field) }
		c.title("products", i, pr.Title)
		if pr.ID == Shelf {
			c.fault(at("id"), "%q stands for whatever product is at hand; name this one otherwise", Shelf)
		}
		if pr.Level != LowLevel && pr.Level != IntermediateLevel {
			c.fault(at("level"), "%q is none of low, intermediate", pr.Level)
		}
		c.label(i, &pr)
		c.seconds(at("dries_s"), pr.DriesS, 1, 3600)
		c.confirmed(at("confirmed"), pr.Confirmed)
		for j, id := range pr.NotOn {
			if !slices.Contains(c.d.surfaceIDs(), id) {
				c.unknown(fmt.Sprintf("products.%d.not_on.%d", i, j), "surface", id, c.d.surfaceIDs())
			}
		}
		for field, v := range map[string]int{"made_h": pr.MadeH, "area_dm2": pr.AreaDm2} {
			if v < 0 || v > 1000 {
				c.fault(at(field), "%d is not between 0 and 1000", v)
			}
		}
	}
}

func join[T ~string](words []T) string {
	var all []string
	for _, w := range words {
		all = append(all, string(w))
	}
	return strings.Join(all, ", ")
}

// Reserved reports whether a word has a meaning of its own in every log.
func Reserved(id string) bool { return slices.Contains(reserved, id) }

var reserved = slices.Concat([]string{action.Station}, action.ProtectiveEquipment, action.Outside, action.OwnWords)

// oneName keeps surfaces, items and places apart: the log knows them by one word.
func (c *checker) oneName(p *Procedure) {
	for i, s := range c.d.Surfaces {
		if slices.Contains(reserved, s.ID) {
			c.fault(fmt.Sprintf("surfaces.%d.id", i), "%q already names something else", s.ID)
		}
	}
	for i, it := range c.d.Items {
		if p.SurfaceIndex(it.ID) >= 0 || slices.Contains(reserved, it.ID) {
			c.fault(fmt.Sprintf("items.%d.id", i), "%q already names something else", it.ID)
		}
	}
	for i, pl := range c.d.Places {
		if p.SurfaceIndex(pl.ID) >= 0 || p.ItemIndex(pl.ID) >= 0 {
			c.fault(fmt.Sprintf("places.%d.id", i), "%q already names something else", pl.ID)
		}
	}
}

// mostShort is how many characters a button of the board takes.
const mostShort = 36

func (c *checker) steps(p *Procedure) {
	for i, s := range c.d.Steps {
		at := func(field string) string { return fmt.Sprintf("steps.%d.%s", i, field) }
		if s.Label == "" {
			c.fault(at("label"), "must not be empty")
		}
		if n := utf8.RuneCountInString(s.Short); n > mostShort {
			c.fault(at("short"), "%d characters are too many for a button of the board; %d at most", n, mostShort)
		}
		c.seconds(at("seconds"), s.Seconds, 0, 600)
	}
	c.stepActs(p)
}

func (c *checker) order(p *Procedure) {
	for i, pair := range c.d.Order {
		if strings.TrimSpace(pair.Why) == "" {
			c.fault(fmt.Sprintf("order.%d.why", i), "must not be empty: a learner who breaks it is told why")
		}
		c.confirmed(fmt.Sprintf("order.%d.confirmed", i), pair.Confirmed)
		if pair.Critical && pair.Custom() {
			c.fault(fmt.Sprintf("order.%d.critical", i), "nobody of the clinic has confirmed this pair, so that it is advice, which cannot be critical; confirm it first")
		}
	}
	if cycle := findCycle(c.orderSteps(p)); cycle != nil {
		names := make([]string, len(cycle))
		for i, s := range cycle {
			names[i] = c.d.Steps[s].ID
		}
		c.fault("order", "the order runs in a circle: %s", strings.Join(names, " before "))
	}
}

// closing checks what the end of the work asks for.
func (c *checker) closing(p *Procedure) {
	if len(c.d.Closing) > MaxSteps {
		c.fault("closing", "%d are too many; the limit is %d", len(c.d.Closing), MaxSteps)
	}
	for i, x := range c.d.Closing {
		c.orderStep(p, fmt.Sprintf("closing.%d.step", i), x.Step)
		if strings.TrimSpace(x.Why) == "" {
			c.fault(fmt.Sprintf("closing.%d.why", i), "must not be empty: a learner who leaves it out is told why")
		}
		c.confirmed(fmt.Sprintf("closing.%d.confirmed", i), x.Confirmed)
	}
}

// confirmed is somebody by name and a day, or nothing.
func (c *checker) confirmed(path string, by Confirmed) {
	c.signed(path, by, "say who confirmed it, by name, and on which day (2027-06-30)")
}

func (c *checker) signed(path string, by Confirmed, otherwise string) {
	if by != (Confirmed{}) && (strings.TrimSpace(by.By) == "" || !dayPattern.MatchString(by.On)) {
		c.fault(path, "%s", otherwise)
	}
}

func (c *checker) orderStep(p *Procedure, path, id string) int {
	i := p.StepIndex(id)
	if i < 0 {
		c.unknown(path, "step", id, p.StepIDs())
	}
	return i
}

// StepIDs lists the ids of all steps.
func (p *Procedure) StepIDs() []string {
	var ids []string
	for _, s := range p.Steps {
		ids = append(ids, s.ID)
	}
	return ids
}

// findCycle returns the steps of a circle, first one repeated at the end, or nil.
func findCycle(next map[int][]int) []int {
	const open, done = 1, 2
	mark := map[int]int{}
	var path []int
	var visit func(int) []int
	visit = func(s int) []int {
		mark[s] = open
		path = append(path, s)
		for _, n := range next[s] {
			if mark[n] == open {
				return append(slices.Clone(path[slices.Index(path, n):]), n)
			}
			if mark[n] == 0 {
				if cycle := visit(n); cycle != nil {
					return cycle
				}
			}
		}
		path = path[:len(path)-1]
		mark[s] = done
		return nil
	}
	for s := range MaxSteps {
		if mark[s] == 0 {
			if cycle := visit(s); cycle != nil {
				return cycle
			}
		}
	}
	return nil
}

func (c *checker) marks(p *Procedure, rules []string) {
	sheet := &c.d.MarkSheet
	if sheet.CutPercent < 1 || sheet.CutPercent > 100 {
		c.fault("mark_sheet.cut_percent", "%d is not between 1 and 100", sheet.CutPercent)
	}
	if len(sheet.Marks) == 0 {
		c.fault("mark_sheet.marks", "at least one mark is needed")
	}
	seen := map[string]bool{}
	for i, m := range sheet.Marks {
		at := func(field string) string { return fmt.Sprintf("mark_sheet.marks.%d.%s", i, field) }
		switch {
		case m.Watcher && m.Rule+m.Surface+m.Worn != "":
			c.fault(at("rule"), "a mark that the watcher decides has no rule")
		case !m.Watcher && !slices.Contains(rules, m.Rule):
			c.unknown(at("rule"), "rule", m.Rule, rules)
		}
		if m.Worn != "" && !slices.Contains(action.ProtectiveEquipment, m.Worn) {
			c.unknown(at("worn"), "protective equipment", m.Worn, action.ProtectiveEquipment)
		}
		c.confirmed(at("confirmed"), m.Confirmed)
		if m.Surface != "" && p.SurfaceIndex(m.Surface) < 0 {
			c.unknown(at("surface"), "surface", m.Surface, p.Words[action.Surface])
		}
		c.title("mark_sheet.marks", i, m.Title)
		if m.Worth < 1 || m.Worth > 100 {
			c.fault(at("worth"), "%d is not between 1 and 100", m.Worth)
		}
		if seen[m.ID] || !action.ValidID(m.ID) {
			c.fault(at("id"), "%q is no id or is there twice", m.ID)
		}
		seen[m.ID] = true
	}
}
