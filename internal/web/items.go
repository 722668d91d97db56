package web

import (
	"errors"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"github.com/gofiber/fiber/v2"

	"stillwet/internal/training"
	"stillwet/views"
)

func items(v *visit) error { return v.showItems(200, views.NewItemForm(), "") }

func (v *visit) showItems(status int, form views.ItemForm, wrong string) error {
	all, err := v.Service.Items(v.ctx, v.actor)
	if err != nil {
		return err
	}
	if form.InUse, err = v.inUse(); err != nil {
		return err
	}
	return v.page(status, views.ItemsPage(v.frame("Other annual items", views.AtPeople), views.ItemsPageData{All: all, Form: form, Wrong: wrong}))
}

// itemForm is what was typed of an item; what is no number is said in a sentence.
func itemForm(in map[string]string, id string) (f views.ItemForm, wrong string) {
	i := training.Item{ID: id, Title: in["title"], Content: in["content"], Jobs: in["jobs"], Teams: in["teams"], Why: in["why"], Everybody: in["everybody"] != "", Retired: in["retired"] != ""}
	var roles []string
	for _, r := range views.Roles {
		if in["role-"+string(r)] != "" {
			roles = append(roles, string(r))
		}
	}
	i.Roles = training.Roles(strings.Join(roles, " "))
	f = views.ItemForm{Months: in["months"], Notice: in["notice"], Keep: in["keep"]}
	for _, x := range []struct {
		into       *int
		text, what string
	}{{&i.Seq, in["seq"], "version"}, {&i.EveryMonths, f.Months, "number of months"}, {&i.NoticeDays, f.Notice, "number of days"}, {&i.KeepYears, f.Keep, "number of years"}} {
		n, err := strconv.Atoi(strings.TrimSpace(x.text))
		if err != nil {
			wrong = "The " + x.what + " is no number. "
		}
		*x.into = n
	}
	f.Item = i
	return f, strings.TrimSpace(wrong)
}

// warned is what is said of free texts that look as if they spoke of a patient or of somebody's
// health.
func warned(in map[string]string, fields ...string) string {
	return warnedOf(training.ItemTextWarning, in, fields...)
}

// saveItem keeps a new item or a change of one; id is "" for a new one.
func (v *visit) saveItem(id string, refused func(status int, f views.ItemForm, wrong string) error) error {
	in, err := v.form("key", "title", "months")
	if err != nil {
		return err
	}
	form, wrong := itemForm(in, id)
	if wrong == "" {
		wrong = warned(in, "title", "content", "why")
	}
	if form.Sure = in["sure"]; wrong != "" {
		return refused(422, form, wrong)
	}
	is, err := v.Service.SaveItem(v.ctx, v.actor, in["key"], form.Item)
	if errors.Is(err, training.ErrInvalid) || errors.Is(err, training.ErrConflict) {
		status, text := explain(err)
		return refused(status, form, text)
	}
	if err != nil {
		return err
	}
	if id == "" {
		return v.doneAt("/items/"+is.ID, views.ItemAdded, 0)
	}
	return v.doneAt("/items/"+is.ID, views.ItemChanged, 0)
}

func addItem(v *visit) error { return v.saveItem("", v.showItems) }

func changeItem(v *visit) error {
	return v.saveItem(v.Params("id"), func(status int, f views.ItemForm, wrong string) error {
		return v.showItem(status, views.ItemPageData{Form: f, Wrong: wrong, WrongAt: views.ItemChange})
	})
}

func item(v *visit) error {
	page := views.ItemPageData{}
	if id := v.Query("person"); id != "" {
		page.Ticked = map[string]bool{id: true}
	}
	return v.showItem(200, page)
}

func (v *visit) showItem(status int, page views.ItemPageData) (err error) {
	if page.ItemPage, err = v.Service.Item(v.ctx, v.actor, v.Params("id")); err != nil {
		return err
	}
	if page.WrongAt != views.ItemChange {
		page.Form = views.ItemFormOf(page.Item)
	} else if status == fiber.StatusConflict && page.Form.Seq != page.Item.Seq {
		page.Wrong, page.Form.Seq = page.Form.Overtaken(page.Item), page.Item.Seq
	}
	if page.Form.InUse, err = v.inUse(); err != nil {
		return err
	}
	return v.page(status, views.ItemPage(v.frame(page.Item.Title, views.AtPeople), page))
}

// enterItem enters one day of an item for everybody who is ticked.
func enterItem(v *visit) error {
	in, err := v.form("key", "on", "evidence")
	if err != nil {
		return err
	}
	page := views.ItemPageData{Typed: typed(in), Ticked: map[string]bool{}, WrongAt: views.ItemClass}
	var who []string
	for name := range in {
		if id, is := strings.CutPrefix(name, views.AttendeeTick); is {
			page.Ticked[id], who = true, append(who, id)
		}
	}
	slices.Sort(who)
	if page.Wrong = warned(in, "content", "evidence", "trainer", "qualification"); page.Wrong != "" {
		page.Typed = typed(in)
		return v.showItem(422, page)
	}
	e := entryIn(in)
	e.ItemID = v.Params("id")
	err = v.Service.EnterItem(v.ctx, v.actor, in["key"], e, who)
	if errors.Is(err, training.ErrInvalid) || errors.Is(err, training.ErrConflict) {
		var status int
		status, page.Wrong = explain(err)
		return v.showItem(status, page)
	}
	if err != nil {
		return err
	}
	return v.doneAt("/items/"+url.PathEscape(e.ItemID), views.ItemEntered, len(who))
}

// entryIn is what was typed of an entry.
func entryIn(in map[string]string) training.ItemEntry {
	return training.ItemEntry{ItemID: in["item"], PersonID: in["person"], On: training.Day(in["on"]), Trainer: in["trainer"], Qualification: in["qualification"],
		Content: in["content"], Evidence: in["evidence"], Expires: training.Day(in["expires"]), Job: in["job"]}
}

func itemEntry(v *visit) error { return v.showEntry(200, views.EntryPageData{}) }

func (v *visit) showEntry(status int, page views.EntryPageData) (err error) {
	if page.ItemEntryPage, err = v.Service.ItemEntry(v.ctx, v.actor, v.Params("id")); err != nil {
		return err
	}
	return v.page(status, views.ItemEntryPage(v.frame(page.Item.Title, views.AtPeople), page))
}

func correctItemEntry(v *visit) error {
	in, err := v.form("key", "person", "item", "on", "why", "password")
	if err != nil {
		return err
	}
	to := v.Params("id")
	return v.entryDone(in, views.EntryCorrect, []string{"content", "evidence", "trainer", "qualification", "why"}, func() (string, error) {
		e, err := v.Service.CorrectItemEntry(v.ctx, v.actor, in["key"], to, entryIn(in), in["why"], in["password"])
		return afterDone("/item-entries/"+e.ID, views.EntryCorrected, 0), err
	})
}

func withdrawItemEntry(v *visit) error {
	in, err := v.form("key", "why", "password")
	if err != nil {
		return err
	}
	id := v.Params("id")
	return v.entryDone(in, views.EntryWithdraw, []string{"why"}, func() (string, error) {
		return afterDone("/item-entries/"+id, views.EntryWithdrawn, 0), v.Service.WithdrawItemEntry(v.ctx, v.actor, in["key"], id, in["why"], in["password"])
	})
}

// entryDone does an act on an entry, which answers where to go then; what it is refused for is said at its form.
func (v *visit) entryDone(in map[string]string, form string, texts []string, do func() (to string, err error)) error {
	if warning := warned(in, texts...); warning != "" {
		return v.showEntry(422, views.EntryPageData{Wrong: warning, WrongAt: form, Typed: typed(in)})
	}
	to, err := do()
	if err == nil {
		return v.goTo(to)
	}
	err = onlyPassword(err)
	if status, text, told := atForm(err); told {
		return v.showEntry(status, views.EntryPageData{Wrong: text, WrongAt: form, Typed: typed(in)})
	}
	return err
}
