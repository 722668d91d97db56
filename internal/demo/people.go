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
}{
	{educatorNo, Educator, training.Educator, 2200},
	{preceptorNo, "Tobias Quill", training.Preceptor, 1900},
	{"0015", "Marisol Endeby", training.Preceptor, 1500},
	{"0021", "Kofi Lanternby", training.Preceptor, 1300},
	{"0042", "Wanda Ostrelle", training.Trainee, 900},
	{"0057", "Jun Havisham-Ito", training.Trainee, 700},
	{"0063", "Petra Skylark", training.Trainee, 640},
	{"0078", "Desmond Ashgrove", training.Trainee, 500},
	{"0091", "Noor Tamblyn", training.Trainee, 75},
	{"0098", "Callum Reedwater", training.Trainee, 60},
	{newHireNo, "Amara Fennick", training.Trainee, 12},
	{"0109", "Silvan Mottram", training.Trainee, 2},
}

// begin makes the first educator, as the one-time link does.
func begin(f *filler) {
	token, open, err := f.service.FirstRunToken(f.ctx)
	if !f.ok(err) || !open {
		return
	}
	f.usernames[educatorNo] = username(cast[0].name)
	_, err = f.service.CreateFirstEducator(f.ctx, token, f.key(), cast[0].name, f.usernames[educatorNo], training.DemoPassword)
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
			training.Person{Name: c.name, StaffNo: c.number, Role: c.role, Hired: hired}, f.usernames[c.number])
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
