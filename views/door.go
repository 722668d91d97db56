package views

import (
	"stillwet/internal/procedure"
	"stillwet/internal/training"
)

// Door is the sign-in page.
type Door struct {
	Username     string
	Next         string // where to go on
	Wrong        string // what was not right, "" at first
	People       []training.Person
	DemoPassword string
	Open         bool // what is typed can be read on the way
}

func seatText(r training.Role) string {
	switch r {
	case training.Educator:
		return "who is current, who is due, the year's workbook"
	case training.Preceptor:
		return "watch a demonstration and sign it"
	}
	return "build an order, run against the clock"
}

// First is the page that makes the first educator.
type First struct {
	LinkToken      string
	Name, Username string
	Holder         string // whose new password it is for; "" for the first account
	Wrong          string
}

// OwnAccount is the page of one's own password and sessions.
type OwnAccount struct {
	Must     bool // signed in with a first password: nothing else is shown
	Wrong    string
	Sessions []training.Session // newest first
	Here     string             // id of the present one
}

// Help is the page of cautions.
type Help struct {
	Procedures []*procedure.Procedure
}

func sessionText(n training.Session) string {
	if n.Browser == "" {
		return "A device"
	}
	return procedure.Capital(n.Browser)
}
