package demo

import (
	"strings"

	"stillwet/internal/training"
)

// Staff numbers of the people of the sign-in page.
const (
	educatorNo  = "0001"
	preceptorNo = "0012"
	newHireNo   = "0107"
	managerNo   = "0003"
	backNo      = "0078" // who left and came back
	leftNo      = "0031" // who left
)

// Educator is who has confirmed, for the demo clinic, what rests on custom alone;
// ConfirmedOn is the day on which she is said to have done so.
const (
	Educator    = "Ilse Varnholt"
	ConfirmedOn = "2025-06-02"
)

// cast is the invented staff.
var cast = []struct {
	number, name string
	role         training.Role
	hired        int // days ago
	job, team    string
	also         training.Roles
}{
	{educatorNo, Educator, training.Educator, 2200, "", "", ""},
	{preceptorNo, "Tobias Quill", training.Preceptor, 1900, "Registered nurse", "Early", ""},
	{"0015", "Marisol Endeby", training.Preceptor, 1500, "Registered nurse", "Late", ""},
	{"0021", "Kofi Lanternby", training.Preceptor, 1300, "Registered nurse, charge nurse", "Early", "manager"},
	{"0042", "Wanda Ostrelle", training.Trainee, 900, "Technician", "Early", ""},
	{"0057", "Jun Havisham-Ito", training.Trainee, 700, "Registered nurse", "Late", ""},
	{"0063", "Petra Skylark", training.Trainee, 640, "Technician", "Late", ""},
	{backNo, "Desmond Ashgrove", training.Trainee, 500, "Technician", "Early", ""},
	{"0091", "Noor Tamblyn", training.Trainee, 75, "Registered nurse", "Late", ""},
	{"0098", "Callum Reedwater", training.Trainee, 60, "Technician", "Early", ""},
	{newHireNo, "Amara Fennick", training.Trainee, 12, "Technician", "Early", ""},
	{"0109", "Silvan Mottram", training.Trainee, 2, "Registered nurse", "Late", ""},
	{managerNo, "Roswitha Kell", training.Manager, 1700, "Clinic manager", "", ""},
	{leftNo, "Imke Sorrel", training.Trainee, 820, "Technician", "Late", ""},
}

// leadsTheLateShift is the number of somebody who sees the list of today and nothing else of others.
const leadsTheLateShift = "0057"

// begin makes the first educator, as the one-time link does.
func begin(f *filler) {
	token, open, err := f.service.FirstRunToken(f.ctx)
	if !f.ok(err) || !open {
		return
	}
	f.usernames[educatorNo] = username(cast[0].name)
	_, err = f.service.CreateFirstEducator(f.ctx, token, f.key(), training.FirstEducator{Name: cast[0].name, Username: f.usernames[educatorNo], Password: training.DemoPassword})
	if f.ok(err) {
		f.signIn(educatorNo)
	}
}

// hire adds a person, who then chooses the demo's password.
func hire(i int) func(*filler) {
	return func(f *filler) {
		c := cast[i]
		f.usernames[c.number] = username(c.name)
		hired := training.InstantOf(f.Today.AddDate(0, 0, -c.hired)).Day(f.Zone)
		_, first, err := f.service.AddPerson(f.ctx, f.as(educatorNo), f.key(),
			training.Person{Name: c.name, StaffNo: c.number, Role: c.role, Also: c.also, Job: c.job, Team: c.team, Hired: hired, SeesToday: c.number == leadsTheLateShift}, f.usernames[c.number])
		if !f.ok(err) {
			return
		}
		a, cookie, err := f.service.SignIn(f.ctx, f.usernames[c.number], first)
		if f.ok(err) {
			cookie, err = f.service.ChangePassword(f.ctx, a, f.key(), first, training.DemoPassword)
		}
		if f.ok(err) && f.ok(f.service.SignOut(f.ctx, cookie)) {
			f.signIn(c.number)
		}
	}
}

// leaves says that somebody works here last on a day.
func leaves(number string, daysAgo int) func(*filler) {
	return func(f *filler) {
		f.signIn(educatorNo) // it asks for the password again
		last := training.InstantOf(f.Today.AddDate(0, 0, -daysAgo)).Day(f.Zone)
		f.ok(f.service.LetGo(f.ctx, f.as(educatorNo), f.key(), f.actors[number].Person.ID, last, ""))
	}
}

// returns takes somebody back today, and opens the account.
func returns(number string) func(*filler) {
	return func(f *filler) {
		f.signIn(educatorNo)
		id := f.actors[number].Person.ID
		if f.ok(f.service.Return(f.ctx, f.as(educatorNo), f.key(), id, f.service.Today(), "")) &&
			f.ok(f.service.SetDisabled(f.ctx, f.as(educatorNo), f.key(), id, false)) {
			f.signIn(number)
		}
	}
}

// username is the given name in lower case.
func username(name string) string {
	given, _, _ := strings.Cut(name, " ")
	return strings.ToLower(given)
}

func entitle(number string) func(*filler) {
	return func(f *filler) {
		f.signIn(educatorNo) // it asks for the password again
		_, err := f.service.Entitle(f.ctx, f.as(educatorNo), f.key(), training.Entitlement{
			PersonID: f.actors[number].Person.ID, Competency: f.competency.ID,
			From: f.service.Today(), Until: f.service.Today().AddMonths(24), Watch: true, SignOff: true,
			Credential: "RN", Founding: "One of the first two preceptors: the clinic begins with this programme.",
			Approval: training.Approval{How: training.ApprovedPaper, By: "Marek Invented", Role: "medical director", On: f.service.Today(), Where: "quality folder, page 3"},
		}, training.SecondPerson{})
		f.ok(err)
	}
}
