package views

import (
	"cmp"
	"stillwet/internal/procedure"
	"stillwet/internal/training"
	"strings"
)

// Door is the sign-in page.
type Door struct {
	Username     string
	Next         string // where to go on
	Kept         Kept   // what was typed into a form whose session had ended
	Wrong        string // what was not right, "" at first
	People       []training.Person
	DemoPassword string
	Open         bool // what is typed can be read on the way
}

func seatText(r training.Role) string {
	switch r {
	case training.Educator:
		return "who is current, who is due, the year's workbook"
	case training.Manager:
		return "read where everybody stands"
	case training.Preceptor:
		return "watch a demonstration and sign it"
	}
	return "build an order, run against the clock"
}

// First is the page that makes the first educator.
type First struct {
	LinkToken      string
	Name, Username string
	AsksZone       bool   // of the first account: in which zone days are counted
	SaidZone       string // that was typed
	Holder         string // whose new password it is for; "" for the first account
	MadeBy         string // name of who made the link; "" for who looks after the server
	Wrong          string
}

// OwnAccount is the page of one's own password and sessions.
type OwnAccount struct {
	Must     bool // signed in with a first password: nothing else is shown
	Wrong    string
	Sessions []training.Session // newest first
	Here     string             // id of the present one
	Changes  []training.AccountChange
}

const signInNameHint = "3 to 32 small letters, digits, dots, underscores or hyphens."

// changeWords are what was done to an account, for people.
var changeWords = map[string]string{
	"opened": "The account was opened", "first password": "A new first password was given", "own password": "The password was changed",
	"closed": "The account was closed", "reopened": "The account was reopened",
	"link made by the owner of the folder": "A link for a new password was made", "own password by the owner's link": "A new password was set by that link",
	"opened by a link": "The account was opened, and a link made to choose the password", "link given": "A link for a new password was made",
	"own password by a link": "A password was chosen by the link",
}

// changeText is one change of an account: what, by whom, when.
func (f Frame) changeText(c training.AccountChange) string {
	by := " by " + c.By
	switch {
	case c.Own:
		by = " by whoever was signed in as you"
	case c.By == "" && c.What != "opened":
		by = " by whoever looks after the server"
	case c.By == "":
		by = ""
	}
	return cmp.Or(changeWords[c.What], c.What) + by + ", " + f.Moment(c.At)
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

// commonZones are offered while a zone is typed; every name of the time zone database is taken.
var commonZones = strings.Fields(`America/New_York America/Detroit America/Chicago America/Denver America/Phoenix America/Los_Angeles America/Anchorage
	Pacific/Honolulu America/Puerto_Rico America/Toronto America/Halifax America/Winnipeg America/Vancouver America/Mexico_City America/Bogota America/Sao_Paulo
	Europe/London Europe/Dublin Europe/Lisbon Europe/Madrid Europe/Paris Europe/Berlin Europe/Rome Europe/Vienna Europe/Zurich Europe/Stockholm Europe/Warsaw Europe/Athens
	Europe/Istanbul Africa/Cairo Africa/Lagos Africa/Nairobi Africa/Johannesburg Asia/Dubai Asia/Karachi Asia/Kolkata Asia/Dhaka Asia/Bangkok Asia/Singapore Asia/Manila
	Asia/Shanghai Asia/Tokyo Asia/Seoul Australia/Perth Australia/Adelaide Australia/Brisbane Australia/Sydney Pacific/Auckland UTC`)
