package views

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"stillwet/internal/procedure"
	"stillwet/internal/training"
	"stillwet/scenarios"
)

// labelFields are what a product's label says, in the order in which it is copied.
func labelFields(x procedure.Product) []EditField {
	return []EditField{
		{Name: "title", Label: "Name", Value: x.Title},
		{Name: "registration", Label: "Number on the label", Hint: "As it is printed; empty when there is none.", Value: x.Registration},
		{Name: "level", Label: "Level", Value: string(x.Level), Options: []Option{{"low", "low"}, {"intermediate", "intermediate: also where blood was"}}},
		{Name: "claims", Label: "What the label claims", Claims: true, Value: claimText(x), Hint: "A line for each organism or group, with its time. The longest of those that your clinic claims rules."},
		{Name: "label_s", Label: "Contact time", Hint: either(len(x.Claims) > 0, "The longest that is claimed above. It follows by itself.", "For example 3:00, 3 min, 2 min 40 s or 180 s. With lines above, the longest of them is taken."), Value: shownTime(x.LabelS)},
		{Name: "reading", Label: "How the label's time is read", Value: string(x.Reading), Options: []Option{{"", "visibly wet for the whole time"}, {string(procedure.TreatmentReading), "treatment time: left alone, wet or dry"}}},
		{Name: "reading_words", Label: "The label's own words for treatment time", Long: true, Value: x.ReadingWords, Hint: "Only for treatment time. Copy what the label says; your name and the day are kept with it." + by("Typed in by", x.ReadingBy, x.ReadingOn)},
		{Name: "dries_s", Label: "A wiped surface stays wet for", Hint: "As you measured it, for example 2:30.", Value: shownTime(x.DriesS)},
		{Name: "not_on", Label: "Not on these surfaces", Value: strings.Join(x.NotOn, ", ")},
		{Name: "good_until", Label: "Good until", Hint: "The last day of the stock at hand. Empty when you do not follow it here.", Date: true, Value: x.GoodUntil},
		{Name: "past_date", Label: "Its date is over", Value: truth(x.PastDate), Options: yesNo},
		{Name: "made_h", Label: "A dilution: hours since it was made", Hint: "Empty for no dilution.", Value: shownSeconds(x.MadeH)},
		{Name: "good_h", Label: "A dilution: hours it is good", Hint: fmt.Sprintf("Only where the label says less than %d.", procedure.MostDilutionH), Value: shownSeconds(x.GoodH)},
		basisField(x.Basis),
	}
}

// by is who did something, as the end of a hint; "" for nobody.
func by(did, who, on string) string {
	if who == "" {
		return ""
	}
	return " " + did + " " + who + ", " + day(training.Day(on)) + "."
}

func shownTime(s int) string {
	if s == 0 {
		return ""
	}
	return clock(s)
}

// claimText are the claims of a product as a form sends them.
func claimText(x procedure.Product) string {
	var lines []string
	for _, c := range x.Claims {
		lines = append(lines, scenarios.ClaimLine(scenarios.ClaimText{For: c.For, Time: clock(c.LabelS), Used: c.Used}))
	}
	return strings.Join(lines, "\n")
}

// ClaimRow is a line of the claims in a form, with what is wrong with it.
type ClaimRow struct {
	scenarios.ClaimText
	Wrong  string
	OfTime bool // what is wrong is its time
	No     int
}

func (c ClaimRow) name(part string) string { return fmt.Sprintf("f-claims-%d-%s", c.No, part) }

// spareClaims are empty lines for more.
const spareClaims = 3

// claimRows are those that are there, and some that are not.
func (x EditField) claimRows() (rows []ClaimRow) {
	for i, c := range scenarios.ClaimsTyped(x.Value) {
		rows = append(rows, ClaimRow{ClaimText: c, No: i, Wrong: x.RowWrong[i], OfTime: x.timeWrong[i]})
	}
	for range spareClaims {
		rows = append(rows, ClaimRow{No: len(rows)})
	}
	return rows[:min(len(rows), procedure.MaxClaims)]
}

// Gathered brings what a form has sent in pieces under the names of its fields: the lines of
// claims, what is ticked, what a row rests on.
func Gathered(fields []EditField, in map[string]string) {
	for _, x := range fields {
		switch {
		case x.Claims:
			gatherClaims(in)
		case x.Basis:
			gatherBasis(in, x.Name)
		case len(x.Ticks) > 0 && in["f-"+x.Name+"-there"] != "":
			var on []string
			for _, o := range x.Ticks {
				if in["f-"+x.Name+"-"+o.Value] != "" {
					on = append(on, o.Value)
				}
			}
			in["f-"+x.Name] = strings.Join(on, ", ")
		}
	}
}

func gatherClaims(in map[string]string) {
	var lines []string
	there := false
	for i := range procedure.MaxClaims {
		c := ClaimRow{No: i}
		organism, sent := in[c.name("for")]
		c.ClaimText = scenarios.ClaimText{For: organism, Time: in[c.name("time")], Used: in[c.name("used")] != ""}
		there = there || sent
		if strings.TrimSpace(c.For+c.Time) != "" {
			lines = append(lines, scenarios.ClaimLine(c.ClaimText))
		}
	}
	if there {
		in["f-claims"] = strings.Join(lines, "\n")
	}
}

// ticked reports whether one of many is chosen.
func (x EditField) ticked(value string) bool {
	return slices.Contains(strings.Split(strings.ReplaceAll(x.Value, " ", ""), ","), value)
}

// WithTicks gives fields that name surfaces or places all that there are, in any procedure,
// to be ticked.
func WithTicks(list, row string, fields []EditField, all []*procedure.Procedure) []EditField {
	for i := range fields {
		x := &fields[i]
		switch list + " " + x.Name {
		case "surfaces face":
			x.Options = faceOptions(all, x.Value == "" || !strings.EqualFold(x.Value, fields[0].Value))
		case "surfaces thing":
			x.Options = append([]Option{{"", "a thing of its own"}}, thingOptions(all)...)
		case "products not_on":
			x.Ticks = surfaceTicks(all, func(procedure.Surface) bool { return true })
			x.Value = tickedIn(x.Ticks, func(id string) bool { return forbidden(all, row, id) })
		case "items goes":
			was := *x
			x.Hint, x.Ticks = "", append(placeTicks(all), surfaceTicks(all, func(s procedure.Surface) bool { return s.Role == procedure.StagingSurface || goesTo(all, row, s.ID) })...)
			x.Value = tickedIn(x.Ticks, func(id string) bool { return was.ticked(id) || goesTo(all, row, id) })
		}
	}
	return fields
}

func surfaceTicks(all []*procedure.Procedure, is func(procedure.Surface) bool) []Option {
	return eachOnce(all, surfacesOf, func(s procedure.Surface) Option {
		if !is(s) {
			return Option{}
		}
		return Option{s.ID, s.Title}
	})
}

func placeTicks(all []*procedure.Procedure) []Option {
	return eachOnce(all, func(p *procedure.Procedure) []procedure.Place { return p.Places }, func(x procedure.Place) Option { return Option{x.ID, x.Title} })
}

// tickedIn are the ids of what is ticked, in the order of the ticks.
func tickedIn(ticks []Option, is func(id string) bool) string {
	var on []string
	for _, o := range ticks {
		if is(o.Value) {
			on = append(on, o.Value)
		}
	}
	return strings.Join(on, ", ")
}

func forbidden(all []*procedure.Procedure, product, surface string) bool {
	return slices.ContainsFunc(all, func(p *procedure.Procedure) bool {
		i := p.ProductIndex(product)
		return i >= 0 && slices.Contains(p.Products[i].NotOn, surface)
	})
}

func goesTo(all []*procedure.Procedure, item, place string) bool {
	return slices.ContainsFunc(all, func(p *procedure.Procedure) bool {
		i := p.ItemIndex(item)
		return i >= 0 && slices.Contains(p.Items[i].Goes, place)
	})
}

// productOf is a product of the first procedure that has it.
func productOf(all []*procedure.Procedure, id string) (x procedure.Product, ok bool) {
	for _, p := range all {
		if i := p.ProductIndex(id); i >= 0 {
			return p.Products[i], true
		}
	}
	return x, false
}

// LabelSays is what somebody who confirms a product says to have read on its label.
func LabelSays(all []*procedure.Procedure, product string) string {
	x, ok := productOf(all, product)
	if !ok {
		return ""
	}
	text := clock(x.LabelS)
	if c, ok := x.Ruling(); ok {
		text += " for " + c.For
	}
	if x.Registration != "" {
		text += ", number " + x.Registration
	}
	return "I have read the label: " + text + either(x.CountsDry(), ", read as treatment time", "") + "."
}

// labelStanding says who compared a product's row with its label.
func labelStanding(x procedure.Product) string {
	if x.CheckedBy == "" {
		return "label checked by nobody yet"
	}
	return "label checked by " + x.CheckedBy + ", " + day(training.Day(x.CheckedOn))
}

// Over are the products whose day has gone by, in sentences; row "" for all.
func Over(all []*procedure.Procedure, row string, today training.Day) (told []string) {
	for _, p := range all {
		for _, x := range p.Products {
			text := x.Title + ": good until " + day(training.Day(x.GoodUntil)) + ". Take it from the shelf, and give the new stock's day here; or say that its date is over, and every use of it is judged so."
			if !x.PastDate && x.Over(string(today)) && (row == "" || row == x.ID) && !slices.Contains(told, text) {
				told = append(told, text)
			}
		}
	}
	return told
}

// claimsText are the claims of a product for whoever reads the procedure.
func claimsText(x procedure.Product) string {
	var used, not []string
	for _, c := range x.Claims {
		text := clock(c.LabelS) + " for " + c.For
		if c.Used {
			used = append(used, text)
		} else {
			not = append(not, text)
		}
	}
	text := strings.Join(used, ", ")
	if len(not) > 0 {
		text += "; on the label too, and not claimed here: " + strings.Join(not, ", ")
	}
	return text
}

// readingText says how the time of a product is read.
func readingText(x procedure.Product) string {
	if !x.CountsDry() {
		return "visibly wet for the whole time"
	}
	return "left alone for the whole time, wet or dry; the label says: “" + x.ReadingWords + "”" + " (" + x.ReadingBy + ", " + day(training.Day(x.ReadingOn)) + ")"
}

// AddRowWrong puts what is wrong with a line of claims there.
func (x *EditField) AddRowWrong(path, text string) bool {
	no, err := strconv.Atoi(strings.Split(strings.TrimPrefix(path, x.Name+"."), ".")[0])
	if !x.Claims || err != nil {
		return false
	}
	if x.RowWrong == nil {
		x.RowWrong = map[int]string{}
	}
	x.RowWrong[no] = text
	if strings.HasSuffix(path, ".label_s") {
		if x.timeWrong == nil {
			x.timeWrong = map[int]bool{}
		}
		x.timeWrong[no] = true
	}
	return true
}

// WrongAt names what is wrong with a line of claims by its field: its time, or the line.
func (x EditField) WrongAt(no int) string {
	return x.Name + "-" + strconv.Itoa(no) + either(x.timeWrong[no], "-time", "")
}

// contactWords say what a surface has to be for its contact time.
func contactWords(x procedure.Product) string {
	return either(x.CountsDry(), "left alone, wet or dry", "visibly wet, without a break")
}
