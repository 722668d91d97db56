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
	today bool // and who has the right to see today's list
}

var (
	anyone   = access{open: true}
	everyone = access{roles: []training.Role{training.Trainee, training.Preceptor, training.Educator, training.Manager}}
	learners = access{roles: []training.Role{training.Trainee, training.Preceptor, training.Educator}}
	readers  = access{roles: []training.Role{training.Preceptor, training.Educator, training.Manager}}
	todayers = access{roles: readers.roles, today: true}
	counters = access{roles: []training.Role{training.Educator, training.Manager}}
	watchers = access{roles: []training.Role{training.Preceptor, training.Educator}}
	teachers = access{roles: []training.Role{training.Educator}}
)

func (a access) allows(p training.Person) bool {
	return a.open || p.HasAny(a.roles...) || a.today && p.SeesToday
}

// The most bytes that a request's body may have. More is refused before it is
// read, so that no request takes more memory than its route has a use for.
const (
	noBody    = 1 // fasthttp takes 0 for its own, large limit
	fewFields = 4 << 10
	passwords = 8 << 10   // two of 256 signs, encoded for a form
	aComment  = 16 << 10  // of a demonstration, or what an entitlement rests on
	allSteps  = 64 << 10  // of a build
	aBatch    = 64 << 10  // two hundred acts of a recorder
	manyTicks = 160 << 10 // two thousand people of a list
	aCopy     = 512 << 10 // what a browser could not send
	aList     = 700 << 10 // of people: an xlsx file of 15,000
	aListText = 1 << 20   // the same as a form carries it on
)

type route struct {
	method, path string
	who          access
	handle       func(*visit) error
	body         int    // limit in bytes
	event        string // what the log calls it; "" when only its refusals are logged
}

// routes is every route with its rule. GET never writes.
func routes() []route {
	return slices.Concat(doorRoutes(), practiceRoutes(), watchRoutes(), peopleRoutes(), setRoutes(), itemRoutes(), observationRoutes())
}

func doorRoutes() []route {
	return []route{
		{"GET", "/healthz", anyone, health, noBody, ""},
		{"GET", "/readyz", anyone, ready, noBody, ""},
		{"GET", "/static/:hash/:name", anyone, static, noBody, ""},
		{"GET", "/sw.js", anyone, worker, noBody, ""},
		{"GET", "/recorder", anyone, recorderShell, noBody, ""},
		{"GET", "/", anyone, start, noBody, ""},
		{"GET", "/help", anyone, help, noBody, ""},
		{"GET", "/sign-in", anyone, signInPage, noBody, ""},
		{"POST", "/sign-in", anyone, signIn, passwords, "sign-in"},
		{"POST", "/sign-in/demo", anyone, signInDemo, fewFields, "sign-in to the demo"},
		{"GET", "/first/:token", anyone, firstPage, noBody, ""},
		{"POST", "/first/:token", anyone, first, passwords, "one-time link used"},
		{"GET", "/session", everyone, session, noBody, ""},
		{"POST", "/sign-out", everyone, signOut, fewFields, "sign-out"},
		{"GET", "/password", everyone, accountPage, noBody, ""},
		{"POST", "/password", everyone, changePassword, passwords, "own password changed"},
		{"POST", "/password/sessions", everyone, endSessions, fewFields, "own session ended"},
		{"POST", "/picture", everyone, choosePicture, fewFields, ""},
	}
}

func setRoutes() []route {
	return []route{
		{"GET", "/set", teachers, showSet, noBody, ""},
		{"GET", "/set/edit", teachers, editSet, noBody, ""},
		{"POST", "/set/edit", teachers, changeSet, aComment, ""},
		{"POST", "/set/try", teachers, trySet, aComment, ""},
		{"GET", "/set/scenarios/:scenario/try", teachers, showTrial, noBody, ""},
		{"POST", "/set/scenarios/:scenario/try", teachers, tryScenario, allSteps, ""},
		{"POST", "/set/undo", teachers, undoEdit, fewFields, ""},
		{"POST", "/set/bring", teachers, bringSet, aSet + fewFields, "set brought in"},
		{"POST", "/set/approvers", teachers, askApprovers, passwords, "approvers of the set"},
		{"POST", "/set/propose", teachers, proposeSet, fewFields, "set proposed"},
		{"POST", "/set/discard", teachers, discardSet, fewFields, "draft of the set discarded"},
		{"GET", "/set/versions/:number", teachers, showVersion, noBody, ""},
		{"GET", "/set/versions/:number/files", teachers, versionFiles, noBody, ""},
		{"POST", "/set/versions/:number/draft", teachers, takeVersion, fewFields, "version taken as the draft"},
		{"POST", "/set/versions/:number/approve", teachers, approveSet, passwords, "set approved"},
		{"POST", "/set/versions/:number/follow", teachers, confirmFollowUp, aComment, "follow-up of the set confirmed"},
		{"GET", "/duties/:id", learners, duty, noBody, ""},
		{"POST", "/duties/:id/read", learners, acknowledge, passwords, "change acknowledged"},
		{"POST", "/duties/:id/take-back", teachers, takeBackDuty, fewFields, "duty taken back"},
		{"POST", "/duties/:id/move", teachers, moveDuty, fewFields, "duty given another day"},
		{"POST", "/set/versions/:number/withdraw", teachers, withdrawSet, fewFields, "set withdrawn"},
	}
}

func practiceRoutes() []route {
	return []route{
		{"GET", "/practice", learners, practice, noBody, ""},
		{"GET", "/practice/:scenario", learners, scenario, noBody, ""},
		{"POST", "/practice/:scenario/start", learners, startScenario, fewFields, ""},
		{"POST", "/practice/:scenario/steps", learners, saveSteps, allSteps, ""},
		{"POST", "/practice/:scenario/tap", learners, tapRun, fewFields, ""},
		{"POST", "/practice/:scenario/finish", learners, finish, fewFields, ""},
		{"POST", "/practice/:scenario/discard", learners, discard, fewFields, ""},
		{"GET", "/attempts/:id", learners, attempt, noBody, ""},
		{"POST", "/attempts/:id/take-up", learners, takeUp, fewFields, ""},
		{"GET", "/procedures/:id", everyone, readProcedure, noBody, ""},
		{"GET", "/course/:module", learners, courseModule, noBody, ""},
		{"GET", "/course/:module/:part", learners, coursePart, noBody, ""},
		{"POST", "/course/:module/:part/answer", learners, answerQuestion, fewFields, ""},
		{"POST", "/course/:module/:part/seen", learners, seenExample, fewFields, ""},
	}
}

func watchRoutes() []route {
	return []route{
		{"GET", "/watch", watchers, watch, noBody, ""},
		{"POST", "/watch/copy", watchers, bringCopy, aCopy + fewFields, "copy of acts brought in"},
		{"GET", "/watch/new", watchers, watchNew, noBody, ""},
		{"POST", "/watch/new", watchers, startDemonstration, aComment, ""},
		{"GET", "/watch/endings", teachers, endings, noBody, ""},
		{"GET", "/demonstrations/:id", learners, review, noBody, ""},
		{"GET", "/demonstrations/:id/play", learners, replay, noBody, ""},
		{"POST", "/demonstrations/:id/outcome", watchers, chooseOutcome, aComment, ""},
		{"POST", "/demonstrations/:id/marks", watchers, sayMarks, aComment, ""},
		{"GET", "/demonstrations/:id/correct", watchers, correctLog, noBody, ""},
		{"POST", "/demonstrations/:id/correct", watchers, keepCorrection, aComment, "log corrected"},
		{"POST", "/demonstrations/:id/hand-over", watchers, handOver, fewFields, ""},
		{"POST", "/demonstrations/:id/take-back", watchers, takeBack, passwords, ""},
		{"POST", "/demonstrations/:id/refuse", learners, refuseToSign, aComment, "would not sign"},
		{"POST", "/demonstrations/:id/keep", watchers, keepObservation, fewFields, ""},
		{"POST", "/demonstrations/:id/restate", watchers, restateDemonstration, aComment, "demonstration restated"},
		{"POST", "/demonstrations/:id/withdraw", watchers, withdrawDemonstration, aComment, "demonstration withdrawn"},
		{"GET", "/demonstrations/:id/record", watchers, recorder, noBody, ""},
		{"GET", "/demonstrations/:id/pack", watchers, pack, noBody, ""},
		{"POST", "/demonstrations/:id/take-over", watchers, takeOver, fewFields, ""},
		{"POST", "/demonstrations/:id/batch", watchers, batch, aBatch, ""},
		{"POST", "/demonstrations/:id/end", watchers, endDemonstration, aComment, ""},
		{"POST", "/demonstrations/:id/abandon", watchers, abandon, fewFields, ""},
		{"POST", "/demonstrations/:id/sign/learner", learners, signLearner, aComment, "signed as learner"},
		{"POST", "/demonstrations/:id/sign/preceptor", watchers, signPreceptor, passwords, "signed as preceptor"},
	}
}

func itemRoutes() []route {
	return []route{
		{"GET", "/items", counters, items, noBody, ""},
		{"POST", "/items", teachers, addItem, aComment, "item added"},
		{"GET", "/items/import", teachers, itemListPage, noBody, ""},
		{"POST", "/items/import", teachers, previewItems, aListText, ""},
		{"POST", "/items/import/confirm", teachers, confirmItems, aListText, "items imported"},
		{"GET", "/items/:id", counters, item, noBody, ""},
		{"POST", "/items/:id", teachers, changeItem, aComment, "item changed"},
		{"POST", "/items/:id/entries", teachers, enterItem, allSteps, "item entered"},
		{"GET", "/earlier", teachers, earlier, noBody, ""},
		{"GET", "/earlier/import", teachers, earlierListPage, noBody, ""},
		{"POST", "/earlier/import", teachers, previewEarlier, aListText, ""},
		{"POST", "/earlier/import/confirm", teachers, bringEarlier, aListText, "earlier sign-offs brought in"},
		{"POST", "/earlier/:id/confirm", teachers, confirmEarlier, passwords, "earlier sign-offs confirmed"},
		{"POST", "/earlier/:id/discard", teachers, discardEarlier, fewFields, "earlier sign-offs set aside"},
		{"GET", "/people/:id/earlier", teachers, newPaper, noBody, ""},
		{"POST", "/people/:id/earlier", teachers, enterPaper, aComment, "earlier sign-off entered"},
		{"GET", "/earlier-entries/:id", everyone, paper, noBody, ""},
		{"POST", "/earlier-entries/:id/correct", teachers, correctPaper, aComment, "earlier sign-off corrected"},
		{"POST", "/earlier-entries/:id/withdraw", teachers, withdrawPaper, aComment, "earlier sign-off withdrawn"},
		{"GET", "/item-entries/:id", everyone, itemEntry, noBody, ""},
		{"POST", "/item-entries/:id/correct", teachers, correctItemEntry, aComment, "item entry corrected"},
		{"POST", "/item-entries/:id/withdraw", teachers, withdrawItemEntry, aComment, "item entry withdrawn"},
	}
}

func peopleRoutes() []route {
	return []route{
		{"GET", "/people", readers, people, noBody, ""},
		{"POST", "/people", teachers, addPerson, fewFields, "person added"},
		{"GET", "/people/new", teachers, newPerson, noBody, ""},
		{"GET", "/people/import", teachers, importPage, noBody, ""},
		{"POST", "/people/import", teachers, previewImport, aListText, ""},
		{"POST", "/people/import/bad", teachers, badRows, aListText, ""},
		{"POST", "/people/import/confirm", teachers, confirmImport, aListText, "people imported"},
		{"GET", "/people/links", teachers, linksPage, noBody, ""},
		{"POST", "/people/links", teachers, giveLinks, aCopy, "links for new passwords given"},
		{"POST", "/people/:id/link", teachers, giveLinkTo, passwords, "link for a new password given"},
		{"GET", "/people/record", counters, survey, noBody, "records for a surveyor"},
		{"GET", "/people/waits", teachers, waits, noBody, ""},
		{"GET", "/people/ask", teachers, askPage, noBody, ""},
		{"POST", "/people/ask", teachers, previewAsk, manyTicks, ""},
		{"GET", "/assignments", teachers, assignments, noBody, ""},
		{"POST", "/assignments", teachers, assign, manyTicks, "something asked of people"},
		{"GET", "/assignments/:id", teachers, assignment, noBody, ""},
		{"POST", "/assignments/:id/undo", teachers, undoAssignment, fewFields, "what was asked undone"},
		{"GET", "/today", todayers, today, noBody, ""},
		{"GET", "/changes", teachers, changeLog, noBody, ""},
		{"GET", "/people/:id", everyone, record, noBody, ""},
		{"GET", "/people/:id/edit", teachers, editPerson, noBody, ""},
		{"POST", "/people/:id/correct", teachers, correctPerson, passwords, "person corrected"},
		{"POST", "/people/:id/leaves", teachers, letGo, passwords, "last day set"},
		{"POST", "/people/:id/returns", teachers, takeBackPerson, passwords, "person taken back"},
		{"GET", "/plans/:id", learners, plan, noBody, ""},
		{"POST", "/plans/:id", teachers, answerPlan, aComment, "plan answered"},
		{"POST", "/plans/:id/close", teachers, closePlan, aComment, "plan closed"},
		{"POST", "/people/:id/absence", teachers, enterAbsence, aComment, "leave entered"},
		{"GET", "/requirements", teachers, requirements, noBody, ""},
		{"GET", "/requirements/:competency", teachers, requirement, noBody, ""},
		{"POST", "/requirements/:competency/preview", teachers, previewRequirement, aComment, ""},
		{"POST", "/requirements/:competency", teachers, changeRequirement, aComment, "requirements changed"},
		{"POST", "/people/:id/sign-off", watchers, signOff, passwords, "signed off"},
		{"POST", "/people/:id/orientation", teachers, setOrientation, fewFields, "orientation set"},
		{"POST", "/people/:id/entitle", teachers, entitle, aComment, "entitlement granted"},
		{"POST", "/people/:id/entitlements/:entitlement/end", teachers, endEntitlement, aComment, "entitlement ended"},
		{"POST", "/sign-offs/:id/withdraw", teachers, withdrawSignOff, aComment, "sign-off withdrawn"},
		{"POST", "/people/:id/account", teachers, openAccount, passwords, "account opened"},
		{"POST", "/people/:id/first-password", teachers, firstPassword, passwords, "first password given"},
		{"POST", "/people/:id/close", teachers, closeAccount, passwords, "account closed"},
		{"POST", "/people/:id/reopen", teachers, reopenAccount, passwords, "account reopened"},
		{"POST", "/clock", teachers, confirmClock, fewFields, "clock confirmed"},
		{"GET", "/parts", teachers, partsPage, noBody, ""},
		{"GET", "/annual/:file", counters, annual, noBody, "workbook exported"},
	}
}
