package web

import (
	"bytes"
	"encoding/base64"
	"errors"
	"fmt"

	"stillwet/internal/roster"
	"stillwet/internal/training"
	"stillwet/views"
)

// listKind is a kind of list that comes in by a page of its own.
type listKind struct {
	page    views.ListImport // its words
	kind    roster.ListKind
	preview func(*visit, *roster.List) (training.ListPlan, error)
	// confirm does what a list says and answers where to go.
	confirm func(v *visit, key string, l *roster.List, seen string) (to string, err error)
}

var itemLists = listKind{
	page: views.ListImport{Heading: "Import other annual items", Up: views.Link{Href: "/items", Text: "Other annual items"}, Action: "/items/import", Confirm: "Enter all of it",
		Lead: "A list of who had what on which day.", Kind: roster.ItemList},
	kind: roster.ItemList,
	preview: func(v *visit, l *roster.List) (training.ListPlan, error) {
		return v.Service.PreviewItems(v.ctx, v.actor, l)
	},
	confirm: func(v *visit, key string, l *roster.List, seen string) (string, error) {
		done, err := v.Service.ConfirmItems(v.ctx, v.actor, key, l, seen)
		return fmt.Sprintf("/items/import?new=%d&same=%d", done.New, done.Same), err
	},
}

func itemListPage(v *visit) error { return itemLists.show(v) }

func previewItems(v *visit) error { return itemLists.look(v) }

func confirmItems(v *visit) error { return itemLists.take(v) }

// show asks for the list, or tells what became of one.
func (k listKind) show(v *visit) error {
	page := k.page
	if n, same := v.Query("new"), v.Query("same"); n != "" {
		a, errA := number(n)
		b, errB := number(same)
		if errA != nil || errB != nil || a < 0 || b < 0 {
			return v.goTo(k.page.Action)
		}
		page.Done = &training.ListCount{New: a, Same: b}
	}
	return v.showList(200, page)
}

func (v *visit) showList(status int, page views.ListImport) error {
	return v.page(status, views.ListImportPage(v.frame(page.Heading, views.AtPeople), page))
}

// sent is a list as a form sends it: the file itself, or the one that the page carries.
func (k listKind) sent(v *visit) (in map[string]string, page views.ListImport, err error) {
	page = k.page
	in, data, err := v.sentFile()
	if err != nil || len(data) == 0 {
		return in, page, err
	}
	page.Order = saidOrder(in)
	page.File, err = roster.ReadList(bytes.NewReader(data), int64(len(data)), k.kind, v.Service.Today().Time(), page.Order)
	page.List = base64.RawURLEncoding.EncodeToString(data)
	return in, page, err
}

// look says what a list would do; nothing is written.
func (k listKind) look(v *visit) error {
	_, page, err := k.sent(v)
	if err != nil {
		return err
	}
	if page.File == nil {
		page.Problem = "Choose the file first: the list as .xlsx or CSV."
		return v.showList(422, page)
	}
	return k.previewed(v, 200, page)
}

func (k listKind) previewed(v *visit, status int, page views.ListImport) (err error) {
	if page.Plan, err = k.preview(v, page.File); err != nil {
		return err
	}
	return v.showList(status, page)
}

func (k listKind) take(v *visit) error {
	in, page, err := k.sent(v)
	if err != nil {
		return err
	}
	if page.File == nil {
		return problem{422, "There is no list here. Choose the file again."}
	}
	to, err := k.confirm(v, in["key"], page.File, in["seen"])
	if errors.Is(err, training.ErrInvalid) || errors.Is(err, training.ErrConflict) {
		status, text := explain(err)
		page.Problem = text
		return k.previewed(v, status, page)
	}
	if err != nil {
		return err
	}
	return v.goTo(to)
}
