package web

import (
	"slices"
	"strings"

	"stillwet/internal/training"
	"stillwet/views"
)

func linksPage(v *visit) error {
	return v.showLinks(200, views.LinksPageData{Team: v.Query("team"), Tick: v.Query("tick")})
}

// showLinks lists who waits, with what was chosen when that was refused.
func (v *visit) showLinks(status int, p views.LinksPageData) error {
	all, err := v.Service.WaitingAccounts(v.ctx, v.actor)
	if err != nil {
		return err
	}
	var teams []string
	for _, w := range all {
		teams = append(teams, w.Person.Team)
		if p.Team == "" || strings.EqualFold(p.Team, w.Person.Team) {
			p.All = append(p.All, w)
		}
	}
	p.Teams = training.EachWord(teams)
	return v.page(status, views.LinksPage(v.frame("Let people in", views.AtPeople), p, v.Service.Now()))
}

// The fields of a person in the form.
const (
	linkTick = "person-"
	linkName = "name-"
)

func giveLinks(v *visit) error {
	in, err := v.form("key")
	if err != nil {
		return err
	}
	chosen, wanted := map[string]string{}, []training.WantedLink{}
	all, err := v.Service.WaitingAccounts(v.ctx, v.actor)
	if err != nil {
		return err
	}
	for _, w := range all { // in the order of the page, whatever the form's
		if in[linkTick+w.Person.ID] != "" {
			chosen[w.Person.ID] = strings.TrimSpace(in[linkName+w.Person.ID])
			wanted = append(wanted, training.WantedLink{PersonID: w.Person.ID, Username: chosen[w.Person.ID]})
		}
	}
	return v.giveLinks(in, wanted, func(status int, text string) error {
		return v.showLinks(status, views.LinksPageData{Team: in["team"], Chosen: chosen, Wrong: text})
	})
}

// giveLinkTo makes the link of one person, also of who has chosen a password already.
func giveLinkTo(v *visit) error {
	in, err := v.form("key")
	if err != nil {
		return err
	}
	return v.giveLinks(in, []training.WantedLink{{PersonID: v.Params("id"), Username: in["username"]}}, func(status int, text string) error {
		return v.showRecord(status, views.Record{WrongFor: views.AccountCard, Wrong: text, NewUsername: in["username"]})
	})
}

func (v *visit) giveLinks(in map[string]string, wanted []training.WantedLink, refused func(status int, text string) error) error {
	err := v.prove(in)
	var given []training.GivenLink
	if err == nil {
		given, err = v.Service.GiveLinks(v.ctx, v.actor, in["key"], wanted)
	}
	if status, text, is := atForm(err, training.ErrProve, training.ErrForbidden); is {
		return refused(status, text)
	}
	if err != nil {
		return err
	}
	slices.SortStableFunc(given, func(a, b training.GivenLink) int { // as they are handed out
		return strings.Compare(strings.ToLower(a.Person.Team), strings.ToLower(b.Person.Team))
	})
	f := v.frame("Slips to hand over", views.AtPeople)
	f.Script = printScript
	return v.page(200, views.SlipsPage(f, views.SlipsPageData{All: given, Base: v.base()}))
}

// base is the address by which the program was reached, for links that are written down.
func (v *visit) base() string {
	if v.server.Secure {
		return "https://" + v.Hostname()
	}
	return "http://" + v.Hostname()
}
