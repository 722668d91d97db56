package views

import "stillwet/internal/training"

// LinksPageData is who has not chosen a password of their own yet.
type LinksPageData struct {
	All    []training.WaitingAccount
	Chosen map[string]string // sign-in names as they were typed, by the people who were chosen; nil at first
	Wrong  string
}

// chosen reports whether somebody is ticked: at first who has nothing to come in with.
func (p LinksPageData) chosen(f Frame, w training.WaitingAccount) bool {
	if p.Chosen != nil {
		_, ok := p.Chosen[w.Person.ID]
		return ok
	}
	return !w.Has
}

func (p LinksPageData) username(w training.WaitingAccount) string {
	if typed := p.Chosen[w.Person.ID]; typed != "" {
		return typed
	}
	return w.Username
}

// waitingText says how somebody can come in now.
func (f Frame) waitingText(w training.WaitingAccount, now training.Instant) string {
	what := either(w.Link, "A link", "A first password")
	switch {
	case !w.Has:
		return "No account yet"
	case w.Until <= now:
		return what + " ended unused on " + f.Moment(w.Until)
	}
	return what + " is good until " + f.Moment(w.Until)
}

// SlipsPageData is links that were made just now, told this once.
type SlipsPageData struct {
	All  []training.GivenLink // none on a repeat
	Base string               // address of the program
}
