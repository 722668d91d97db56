package views

import (
	"cmp"
	"slices"
	"strconv"
	"strings"

	"stillwet/internal/procedure"
	"stillwet/internal/training"
)

// noHealthData stands at every form of other annual items.
const noHealthData = "No health data here: no vaccination, titre, tuberculosis result, medical clearance or exposure. Those belong in a medical file."

// ItemsPageData is all other annual items.
type ItemsPageData struct {
	All   []training.ItemSum
	Form  ItemForm
	Wrong string
}

// ItemForm is what was typed of an item.
type ItemForm struct {
	training.Item
	Months, Notice, Keep string // as they were typed
	Sure                 string
	InUse                training.InUse
}

// Overtaken tells what pressing once more would change of what somebody else made of it since
// the page was loaded.
func (f ItemForm) Overtaken(now training.Item) string {
	var said []string
	say := func(what, was, is string) {
		if was != is {
			said = append(said, what+" “"+was+"” → “"+is+"”")
		}
	}
	say("title", now.Title, f.Title)
	say("needed by", neededBy(now), neededBy(f.Item))
	say("when", everyText(now), everyText(f.Item))
	say("kept", keptText(now), keptText(f.Item))
	say("content", now.Content, f.Content)
	return overtaken("“"+now.Title+"”", strings.Join(said, "; "))
}

// ItemFormOf is an item as its form begins.
func ItemFormOf(i training.Item) ItemForm {
	i.Why = ""
	return ItemForm{Item: i, Months: strconv.Itoa(i.EveryMonths), Notice: strconv.Itoa(i.NoticeDays), Keep: strconv.Itoa(i.KeepYears)}
}

// NewItemForm is the form of an item that is not there yet.
func NewItemForm() ItemForm {
	return ItemFormOf(training.Item{EveryMonths: 12, NoticeDays: 60, KeepYears: training.LeastKept})
}

// neededBy says who needs an item.
func neededBy(i training.Item) string {
	if i.Everybody {
		return "Everybody"
	}
	var who []string
	for _, r := range i.Roles.All() {
		who = append(who, r.Title(false))
	}
	if i.Jobs != "" {
		who = append(who, i.Jobs)
	}
	if i.Teams != "" {
		who = append(who, "team "+i.Teams)
	}
	return procedure.Capital(strings.Join(who, "; "))
}

func everyText(i training.Item) string {
	switch i.EveryMonths {
	case 0:
		return "Once"
	case 1:
		return "Every month"
	}
	return "Every " + strconv.Itoa(i.EveryMonths) + " months"
}

func keptText(i training.Item) string {
	return "Kept for at least " + strconv.Itoa(i.KeepYears) + " years. Nothing is ever deleted: what is wrong is corrected or withdrawn."
}

var itemWords = map[training.ItemWord]training.StandingWord{training.ItemCurrent: training.Current, training.ItemDue: training.DueSoon, training.ItemLapsed: training.Lapsed, training.ItemNotDone: training.NotStarted}

func itemWordText(w training.ItemWord) string { return procedure.Capital(string(w)) }

// ItemPageData is one item with its forms.
type ItemPageData struct {
	training.ItemPage
	Form    ItemForm          // of a change
	Typed   map[string]string // of a class list
	Ticked  map[string]bool   // who was there
	Wrong   string
	WrongAt string // ItemChange or ItemClass
}

// ItemChange and ItemClass are WrongAt at their forms; AttendeeTick begins the name of a tick.
const (
	ItemChange   = "change"
	ItemClass    = "class"
	AttendeeTick = "who-"
)

func (p ItemPageData) lead() string {
	text := neededBy(p.Item) + ". " + everyText(p.Item) + "."
	if p.Item.Retired {
		text = "Retired: nobody needs it any more."
	}
	return text
}

func (p ItemPageData) count(w training.ItemWord) (n int) {
	for _, st := range p.Standings {
		if st.Word == w && st.Needed {
			n++
		}
	}
	return n
}

func (p ItemPageData) counts() (all []Fact) {
	for _, w := range training.ItemWords {
		all = append(all, Fact{Term: itemWordText(w), Text: strconv.Itoa(p.count(w))})
	}
	return all
}

// classDay is the day that the class list begins with.
func (p ItemPageData) classDay(f Frame) string { return cmp.Or(p.Typed["on"], string(f.Today)) }

func (p ItemPageData) classContent() string {
	if text, typed := p.Typed["content"]; typed {
		return text
	}
	return p.Item.Content
}

// attending are the people of the class list: who needs it first.
func (p ItemPageData) attending() []training.Person {
	all := slices.Clone(p.People)
	slices.SortStableFunc(all, func(a, b training.Person) int { return btoi(p.Item.NeededBy(b)) - btoi(p.Item.NeededBy(a)) })
	return all
}

func (p ItemPageData) wordOf(x training.Person) string {
	for _, st := range p.Standings {
		if st.Person.ID == x.ID {
			text := string(st.Word)
			if st.Due != "" {
				text += ", due " + day(st.Due)
			}
			return text
		}
	}
	return "does not need it"
}

// putRight are the entries of the item that hold no longer.
func putRight(all []training.ItemEntry) (some []training.ItemEntry) {
	for _, e := range all {
		if !e.Holds() {
			some = append(some, e)
		}
	}
	return some
}

func entryState(e training.ItemEntry) string {
	switch {
	case e.End.At != "":
		return "Withdrawn by " + e.End.ByName + ": " + e.End.Why
	case e.CorrectedBy != "":
		return "Corrected: another entry stands for it"
	case e.Corrects != "":
		return "Stands for an entry that was wrong: " + e.Why
	}
	return ""
}

func trainerText(e training.ItemEntry) string { return joined(e.Trainer, e.Qualification) }

func enteredBy(f Frame, e training.ItemEntry) string {
	return "Entered " + f.Moment(e.At) + " by " + cmp.Or(e.ByName, "who runs the server")
}

// EntryPageData is one entry with its forms.
type EntryPageData struct {
	training.ItemEntryPage
	Typed   map[string]string
	Wrong   string
	WrongAt string // EntryCorrect or EntryWithdraw
}

// EntryCorrect and EntryWithdraw are WrongAt at their forms.
const (
	EntryCorrect  = "correct"
	EntryWithdraw = "withdraw"
)

// is is a field of the correction: as it was typed, else as the entry has it.
func (p EntryPageData) is(name, was string) string {
	if p.WrongAt != EntryCorrect {
		return was
	}
	return p.Typed[name]
}

func (p EntryPageData) typedAt(form, name string) string {
	if p.WrongAt != form {
		return ""
	}
	return p.Typed[name]
}

func (p EntryPageData) itemOptions() (all []Option) {
	for _, i := range p.Items {
		all = append(all, Option{Value: i.ID, Text: i.Title})
	}
	return all
}

func (p EntryPageData) personOptions() (all []Option) {
	for _, x := range p.People {
		all = append(all, Option{Value: x.ID, Text: joined(x.Name, x.StaffNo)})
	}
	return all
}

func (p EntryPageData) facts(f Frame) []Fact {
	e := p.Entry
	expires := ""
	if e.Expires != "" {
		expires = day(e.Expires)
	}
	return []Fact{{Term: "Person", Text: p.Person.Name}, {Term: "Day", Text: day(e.On)}, {Term: "Job title on that day", Text: e.Job}, {Term: "Trainer", Text: trainerText(e)},
		{Term: "Content", Text: e.Content}, {Term: "Evidence", Text: e.Evidence}, {Term: "Expires", Text: expires}, {Term: "Ledger number", Text: strconv.FormatInt(e.Leaf, 10)}, {Term: "Entered", Text: strings.TrimPrefix(enteredBy(f, e), "Entered ")}}
}

func has(all training.Roles, r training.Role) bool { return slices.Contains(all.All(), r) }
