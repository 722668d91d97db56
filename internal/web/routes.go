package web

import (
	"slices"

	"stillwet/internal/training"
)

// access says who may ask for a route. What a person may see of a route they
// may ask for is decided by the services.
type access struct {
	open  bool // without signing in
	roles []training.Role
}

var (
	anyone   = access{open: true}
	everyone = access{roles: []training.Role{training.Trainee, training.Preceptor, training.Educator}}
	watchers = access{roles: []training.Role{training.Preceptor, training.Educator}}
	teachers = access{roles: []training.Role{training.Educator}}
)

func (a access) allows(r training.Role) bool { return a.open || slices.Contains(a.roles, r) }

type route struct {
	method, path string
	who          access
	handle       func(*visit) error
}

// routes is every route with its rule. GET never writes.
func routes() []route {
	return slices.Concat(doorRoutes(), practiceRoutes(), watchRoutes(), peopleRoutes())
}

func doorRoutes() []route {
	return []route{
		{"GET", "/healthz", anyone, health},
		{"GET", "/readyz", anyone, ready},
		{"GET", "/static/:hash/:name", anyone, static},
		{"GET", "/", anyone, start},
		{"GET", "/help", anyone, help},
		{"GET", "/sign-in", anyone, signInPage},
		{"POST", "/sign-in", anyone, signIn},
		{"POST", "/sign-in/demo", anyone, signInDemo},
		{"GET", "/first/:token", anyone, firstPage},
		{"POST", "/first/:token", anyone, first},
		{"POST", "/sign-out", everyone, signOut},
		{"GET", "/password", everyone, passwordPage},
		{"POST", "/password", everyone, changePassword},
	}
}

func practiceRoutes() []route {
	return []route{
		{"GET", "/practice", everyone, practice},
		{"GET", "/practice/:scenario", everyone, scenario},
		{"POST", "/practice/:scenario/start", everyone, startScenario},
		{"POST", "/practice/:scenario/steps", everyone, saveSteps},
		{"POST", "/practice/:scenario/tap", everyone, tapRun},
		{"POST", "/practice/:scenario/finish", everyone, finish},
		{"POST", "/practice/:scenario/discard", everyone, discard},
		{"GET", "/attempts/:id", everyone, attempt},
	}
}

func watchRoutes() []route {
	return []route{
		{"GET", "/watch", watchers, watch},
		{"GET", "/watch/new", watchers, watchNew},
		{"POST", "/watch/new", watchers, startDemonstration},
		{"GET", "/demonstrations/:id", everyone, review},
		{"GET", "/demonstrations/:id/record", watchers, recorder},
		{"POST", "/demonstrations/:id/observe", watchers, observe},
		{"POST", "/demonstrations/:id/undo", watchers, undo},
		{"POST", "/demonstrations/:id/end", watchers, endDemonstration},
		{"POST", "/demonstrations/:id/abandon", watchers, abandon},
		{"POST", "/demonstrations/:id/sign/learner", watchers, signLearner},
		{"POST", "/demonstrations/:id/sign/preceptor", watchers, signPreceptor},
	}
}

func peopleRoutes() []route {
	return []route{
		{"GET", "/people", watchers, people},
		{"POST", "/people", teachers, addPerson},
		{"GET", "/people/:id", everyone, record},
		{"POST", "/people/:id/sign-off", watchers, signOff},
		{"POST", "/people/:id/entitle", teachers, entitle},
		{"POST", "/people/:id/first-password", teachers, firstPassword},
		{"POST", "/people/:id/close", teachers, closeAccount},
		{"POST", "/people/:id/reopen", teachers, reopenAccount},
		{"POST", "/clock", teachers, confirmClock},
		{"GET", "/annual/:file", teachers, annual},
	}
}
