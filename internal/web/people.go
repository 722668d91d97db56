package web

import (
	"bytes"
	"errors"
	"fmt"
	"strconv"
	"strings"
	"time"

	"github.com/gofiber/fiber/v2"

	"stillwet/internal/training"
	"stillwet/views"
)

func people(v *visit) error {
	year := v.Service.Today().Time().Year()
	p := views.People{Filter: v.filter(), Today: v.Service.Today(), Years: []string{strconv.Itoa(year - 1), strconv.Itoa(year)}}
	err := beside(func() error { return v.desk(&p) }, func() (err error) {
		p.Roll, err = v.Service.People(v.ctx, v.actor)
		return err
	})
	if err != nil {
		return err
	}
	return v.page(200, views.PeoplePage(v.frame("People", views.AtPeople), p))
}

// desk is what whoever answers for the clinic has to know besides where people stand.
func (v *visit) desk(p *views.People) (err error) {
	if v.actor.Person.HasAny(training.Educator, training.Manager) {
		if p.Observed, err = v.Service.ObservedNow(v.ctx, v.actor); err != nil {
			return err
		}
	}
	if !v.actor.Person.Has(training.Educator) {
		return nil
	}
	if err := v.serverState(p); err != nil {
		return err
	}
	if p.Desk, err = v.deskLines(); err != nil {
		return err
	}
	if p.Duties, err = v.ownDuties(); err != nil {
		return err
	}
	counts, err := v.Service.DeskCounts(v.ctx, v.actor)
	p.Waits = &counts
	return err
}

// beside does two things at once, for a page that asks much of a large clinic. A panic of either
// is one of the request.
func beside(one, other func() error) error {
	var err error
	done := make(chan any, 1)
	go func() {
		defer func() { done <- recover() }()
		err = one()
	}()
	otherErr := other()
	if failed := <-done; failed != nil {
		panic(failed)
	}
	if otherErr != nil {
		return otherErr
	}
	return err
}

// filter is what the address narrows the page to.
func (v *visit) filter() views.Filter {
	return views.Filter{Standing: training.StandingWord(v.Query("standing")), Search: v.Query("search"), Team: v.Query("team"), Role: training.Role(v.Query("role")),
		Competency: v.Query("competency"), DueIn: min(max(v.QueryInt("due"), 0), 366), NotAlone: v.Query("alone") == "no", Left: v.Query("left") != "", Sort: views.Sorted(v.Query("sort")), Whole: v.Query("rows") == "all"}
}

// serverState is what the educator has to know of the server: its clock, its copies, its
// disk.
func (v *visit) serverState(p *views.People) error {
	last, behind, err := v.Service.ClockBehind(v.ctx)
	if behind {
		p.Behind, p.Now = last, v.Service.Now()
	}
	p.Copies = v.copies()
	if v.LowSpace != nil {
		p.LowSpace = v.LowSpace()
	}
	return err
}

// mostBackupAge is how old the last backup may be: a day, and the time to notice.
const mostBackupAge = 26 * time.Hour

// copies are the backups, and the heads when something is wrong with them.
func (v *visit) copies() (list []views.Copy) {
	if v.Backups != nil {
		k := v.Backups()
		list = append(list, views.Copy{What: "Last backup", Last: k.Last, Err: k.Err, Old: k.Last < v.Service.Now().Add(-mostBackupAge)})
	}
	if v.Heads != nil {
		if k := v.Heads(); k.Err != "" {
			list = append(list, views.Copy{What: "Last signed head kept outside the records", Last: k.Last, Err: k.Err})
		}
	}
	return list
}

// confirmClock keeps the educator's word that the server's time is right.
func confirmClock(v *visit) error {
	in, err := v.form("key")
	if err != nil {
		return err
	}
	if err := v.Service.ConfirmClock(v.ctx, v.actor, in["key"]); err != nil {
		return err
	}
	return v.doneAt("/people", views.ClockConfirmed, 0)
}

func record(v *visit) error { return v.showRecord(200, views.Record{}) }

// showRecord fills a person's record; what went wrong is given by the caller.
func (v *visit) showRecord(status int, r views.Record) error {
	return v.showRecordOf(v.Params("id"), status, r)
}

func (v *visit) showRecordOf(person string, status int, r views.Record) error {
	rec, err := v.Service.Record(v.ctx, v.actor, person)
	if err != nil {
		return err
	}
	if !rec.NoPractice {
		if r.Duties, err = v.Service.DutiesOf(v.ctx, v.actor, rec.Person.ID); err != nil {
			return err
		}
		if r.Plans, err = v.Service.PlansOf(v.ctx, v.actor, rec.Person.ID); err != nil {
			return err
		}
	}
	if r.Papers, err = v.Service.EarlierOf(v.ctx, v.actor, rec.Person.ID); err != nil {
		return err
	}
	if r.Items, err = v.Service.ItemsOfPerson(v.ctx, v.actor, rec.Person.ID); err != nil {
		return err
	}
	if r.Leaves, err = v.Service.AbsencesOf(v.ctx, v.actor, rec.Person.ID); err != nil {
		return err
	}
	r.Record, r.Title, r.Titles = rec, v.scenarioTitle, map[string]string{}
	r.Own, r.Gone = rec.Person.ID == v.actor.Person.ID, rec.Person.GoneOn(v.Service.Today())
	for _, c := range v.Library.Competencies() {
		r.Titles[c.ID] = c.Title
		if !c.OnlyWatched {
			r.Offers = append(r.Offers, c)
		}
	}
	r.Stations = v.stationsOf(rec.Demonstrations)
	for _, s := range rec.Standings {
		if s.Ready {
			r.Ready = append(r.Ready, views.ReadyCard{Standing: s, WhyNot: v.whyNotSignOff(s)})
		}
	}
	if v.actor.Person.Has(training.Educator) {
		if r.Username, err = v.Service.SignInName(v.ctx, v.actor, rec.Person.ID); err != nil {
			return err
		}
		if r.Preceptors, err = v.Service.Preceptors(v.ctx, v.actor); err != nil {
			return err
		}
		if r.Seconds, err = v.Service.SecondEducators(v.ctx, v.actor, rec.Person.ID); err != nil {
			return err
		}
	}
	f := v.frame(rec.Person.Name, views.AtPeople)
	if r.Own {
		f.At = views.AtRecord
	}
	return v.page(status, views.RecordPage(f, r))
}

func (v *visit) whyNotSignOff(s training.Standing) string {
	if err := v.Service.MaySignOff(v.ctx, v.actor, s.Person.ID, s.Competency.ID); err != nil {
		_, text := explain(err)
		return text
	}
	return ""
}

func signOff(v *visit) error {
	in, err := v.form("key", "competency", "password")
	if err != nil {
		return err
	}
	_, err = v.Service.SignOff(v.ctx, v.actor, in["key"], v.Params("id"), in["competency"], in["password"])
	err = onlyPassword(err)
	if status, text, is := atForm(err, training.ErrForbidden); is {
		return v.showRecord(status, views.Record{Wrong: text, WrongFor: in["competency"]})
	}
	if err != nil {
		return err
	}
	return v.doneAt("/people/"+v.Params("id")+"#sign-offs", views.SignedOffNow, 0)
}

func entitle(v *visit) error {
	in, err := v.form("key", "competency", "from", "until", "approval")
	if err != nil {
		return err
	}
	if err := v.prove(in); err != nil {
		return v.notProved(err, "entitle")
	}
	e := training.Entitlement{
		PersonID: v.Params("id"), Competency: in["competency"], From: training.Day(in["from"]), Until: training.Day(in["until"]),
		Watch: in["watch"] != "", SignOff: in["sign-off"] != "", Credential: in["credential"], Founding: in["founding"],
		Approval: training.Approval{How: training.ApprovalHow(in["approval"]), By: in["approver"], Role: in["approver-role"],
			On: training.Day(in["approved-on"]), Where: in["paper"]},
	}
	second := training.SecondPerson{Username: in["second-name"], Password: in["second-password"]}
	_, err = v.Service.Entitle(v.ctx, v.actor, in["key"], e, second)
	err = onlyPassword(err)
	if status, text, is := atForm(err, training.ErrForbidden, training.ErrProve); is {
		return v.showRecord(status, views.Record{WrongFor: "entitle", Wrong: text, Draft: e})
	}
	if err != nil {
		return err
	}
	return v.doneAt("/people/"+v.Params("id")+"#entitled", views.EntitledNow, 0)
}

// notProved says at its form that one's own password is wrong or missing.
func (v *visit) notProved(err error, form string) error {
	if status, text, is := atForm(err, training.ErrProve); is {
		return v.showRecord(status, views.Record{WrongFor: form, Wrong: text})
	}
	return err
}

func openAccount(v *visit) error {
	in, err := v.form("key", "username")
	if err != nil {
		return err
	}
	if err := v.prove(in); err != nil {
		return v.notProved(err, views.AccountCard)
	}
	password, err := v.Service.OpenAccount(v.ctx, v.actor, in["key"], v.Params("id"), in["username"])
	if errors.Is(err, training.ErrInvalid) || errors.Is(err, training.ErrConflict) {
		status, text := explain(err)
		return v.showRecord(status, views.Record{WrongFor: views.AccountCard, Wrong: text, NewUsername: in["username"]})
	}
	if err != nil {
		return v.notProved(err, views.AccountCard)
	}
	return v.showFirstPassword(password)
}

func firstPassword(v *visit) error {
	in, err := v.form("key")
	if err != nil {
		return err
	}
	if err := v.prove(in); err != nil {
		return v.notProved(err, views.AccountCard)
	}
	password, err := v.Service.NewFirstPassword(v.ctx, v.actor, in["key"], v.Params("id"))
	if err != nil {
		return v.notProved(err, views.AccountCard)
	}
	return v.showFirstPassword(password)
}

// showFirstPassword tells a first password, this once.
func (v *visit) showFirstPassword(password string) error {
	who, err := v.Service.Person(v.ctx, v.actor, v.Params("id"))
	if err != nil {
		return err
	}
	name, err := v.Service.SignInName(v.ctx, v.actor, v.Params("id"))
	if err != nil {
		return err
	}
	return v.showRecord(200, views.Record{Password: &views.Added{Person: who, Username: name, FirstPassword: password, Until: v.Service.Now().Add(training.FirstPasswordFor)}})
}

func closeAccount(v *visit) error { return setDisabled(v, true) }

func reopenAccount(v *visit) error { return setDisabled(v, false) }

func setDisabled(v *visit, disabled bool) error {
	in, err := v.form("key")
	if err != nil {
		return err
	}
	if err := v.prove(in); err != nil {
		return v.notProved(err, views.AccountCard)
	}
	if err := v.Service.SetDisabled(v.ctx, v.actor, in["key"], v.Params("id"), disabled); err != nil {
		return v.notProved(err, views.AccountCard)
	}
	what := views.AccountReopened
	if disabled {
		what = views.AccountClosed
	}
	return v.doneAt("/people/"+v.Params("id"), what, 0)
}

// annual is the year's workbook. It is written to a buffer first: half a
// workbook would be saved as if it were whole.
func annual(v *visit) error {
	text, isBook := strings.CutSuffix(v.Params("file"), ".xlsx")
	year, err := strconv.Atoi(text)
	if !isBook || err != nil || len(text) != 4 {
		return problem{404, "A workbook's address ends in its year, as in /annual/2026.xlsx."}
	}
	a, err := v.Service.Annual(v.ctx, v.actor, year)
	if err != nil {
		return err
	}
	var b bytes.Buffer
	if err := v.WriteAnnual(&b, a); err != nil {
		return fmt.Errorf("annual workbook: %w", err)
	}
	v.Set(fiber.HeaderContentType, "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet")
	v.Set(fiber.HeaderContentDisposition, fmt.Sprintf(`attachment; filename="stillwet-%d.xlsx"`, year))
	return v.Send(b.Bytes())
}
