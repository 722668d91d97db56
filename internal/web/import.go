package web

import (
	"bytes"
	"encoding/base64"
	"encoding/json"
	"fmt"
	"strconv"
	"strings"

	"github.com/gofiber/fiber/v2"

	"stillwet/internal/roster"
	"stillwet/internal/training"
	"stillwet/views"
)

// importPage asks for the list, or tells what became of one.
func importPage(v *visit) error {
	page := views.Import{}
	if v.Query("new") != "" {
		done := training.RosterDone{}
		for name, n := range map[string]*int{"new": &done.New, "changed": &done.Changed, "same": &done.Same, "left": &done.Left} {
			var err error
			if *n, err = strconv.Atoi(v.Query(name)); err != nil || *n < 0 {
				return v.goTo("/people/import")
			}
		}
		page.Done = &done
	}
	return v.showImport(200, page)
}

func (v *visit) showImport(status int, page views.Import) error {
	return v.page(status, views.ImportPage(v.frame("Import people", views.AtPeople), page))
}

// sentList is a list as a form sends it: the file itself, or the file that was looked
// through before, which the page carries with it, so that nothing is kept meanwhile.
type sentList struct {
	in   map[string]string
	data []byte
	page views.Import
	file *roster.File
}

// sentFile is a form with the file of a list: one that was chosen, or the one that the page
// carries; none when nothing was chosen.
func (v *visit) sentFile() (in map[string]string, data []byte, err error) {
	if in, err = v.form("key"); err != nil {
		return in, nil, err
	}
	if data, err = v.upload("file", aList); err != nil || len(data) > 0 {
		return in, data, err
	}
	if data, err = base64.RawURLEncoding.DecodeString(in["list"]); err != nil {
		return in, nil, problem{400, "The list could not be read back. Choose the file again."}
	}
	return in, data, nil
}

// saidOrder is which comes first in dates, the day or the month, where that was said.
func saidOrder(in map[string]string) roster.Order {
	if order := roster.Order(in["dates"]); order == roster.DayMonth || order == roster.MonthDay {
		return order
	}
	return ""
}

func (v *visit) sentList() (l sentList, err error) {
	if l.in, l.data, err = v.sentFile(); err != nil || len(l.data) == 0 {
		return l, err
	}
	o := roster.Options{Today: v.Service.Today().Time(), Columns: saidColumns(l.in), Meant: v.meantColumns(), Dates: saidOrder(l.in)}
	l.file, err = roster.Read(bytes.NewReader(l.data), int64(len(l.data)), o)
	l.page = views.Import{List: base64.RawURLEncoding.EncodeToString(l.data), Order: o.Dates, File: l.file}
	return l, err
}

// saidColumns is what somebody said of the columns; nil when nobody was asked yet.
func saidColumns(in map[string]string) map[int]roster.Field {
	var said map[int]roster.Field
	for name, value := range in {
		text, is := strings.CutPrefix(name, "col-")
		i, err := strconv.Atoi(text)
		if !is || err != nil {
			continue
		}
		if said == nil {
			said = map[int]roster.Field{}
		}
		for _, f := range roster.Fields {
			if value == string(f) {
				said[i] = f
			}
		}
	}
	return said
}

// columnsCookie is what this browser remembers of columns that somebody matched by hand.
const (
	columnsCookie = "columns"
	mostColumns   = 2 << 10
)

func (v *visit) meantColumns() (meant map[string]roster.Field) {
	text, err := base64.RawURLEncoding.DecodeString(v.Cookies(columnsCookie))
	if err != nil || json.Unmarshal(text, &meant) != nil {
		return nil // the headers say enough
	}
	return meant
}

// rememberColumns keeps what somebody said of columns for the next list.
func (v *visit) rememberColumns(l sentList) error {
	if saidColumns(l.in) == nil {
		return nil
	}
	text, err := json.Marshal(l.file.Meant())
	if err == nil && len(text) <= mostColumns {
		v.setCookie(v.Ctx, columnsCookie, base64.RawURLEncoding.EncodeToString(text), v.Service.Now().Time().Add(knownFor))
	}
	return err
}

// previewImport says what a list would do; nothing is written.
func previewImport(v *visit) error {
	l, err := v.sentList()
	if err != nil {
		return err
	}
	if l.file == nil {
		return v.showImport(422, views.Import{Problem: "Choose the file first: the list of people as .xlsx or CSV."})
	}
	return v.previewed(200, l, "")
}

func (v *visit) previewed(status int, l sentList, trouble string) (err error) {
	if l.page.Plan, err = v.Service.PreviewRoster(v.ctx, v.actor, l.file); err != nil {
		return err
	}
	l.page.Problem, l.page.Left = trouble, leftIn(l.in)
	return v.showImport(status, l.page)
}

// leftIn is who was ticked as having left, with the last day.
func leftIn(in map[string]string) map[string]training.Day {
	left := map[string]training.Day{}
	for name := range in {
		if id, ticked := strings.CutPrefix(name, views.LeftTick); ticked {
			left[id] = training.Day(in[views.LeftDay+id])
		}
	}
	return left
}

// badRows are the rows with faults as a file, each with its reason.
func badRows(v *visit) error {
	l, err := v.sentList()
	if err != nil {
		return err
	}
	if l.file == nil {
		return problem{422, "There is no list here. Choose the file again."}
	}
	plan, err := v.Service.PreviewRoster(v.ctx, v.actor, l.file)
	if err != nil {
		return err
	}
	var b bytes.Buffer
	if err := roster.WriteBad(&b, bytes.NewReader(l.data), int64(len(l.data)), l.file, plan.Faults); err != nil {
		return fmt.Errorf("bad rows: %w", err)
	}
	v.Set(fiber.HeaderContentType, "text/csv; charset=utf-8")
	v.Set(fiber.HeaderContentDisposition, `attachment; filename="rows-to-mend.csv"`)
	return v.Send(b.Bytes())
}

func confirmImport(v *visit) error {
	l, err := v.sentList()
	if err != nil {
		return err
	}
	if l.file == nil {
		return problem{422, "There is no list here. Choose the file again."}
	}
	if err = v.prove(l.in); err == nil {
		var done training.RosterDone
		if done, err = v.Service.ConfirmRoster(v.ctx, v.actor, l.in["key"], l.file, l.in["seen"], leftIn(l.in)); err == nil {
			if err := v.rememberColumns(l); err != nil {
				return err
			}
			return v.goTo(fmt.Sprintf("/people/import?new=%d&changed=%d&same=%d&left=%d", done.New, done.Changed, done.Same, done.Left))
		}
	}
	if status, text, is := atForm(err, training.ErrProve); is {
		return v.previewed(status, l, text)
	}
	return err
}
