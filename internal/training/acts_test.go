package training_test

import (
	"database/sql"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"
	"time"

	_ "github.com/mattn/go-sqlite3"
	"github.com/stretchr/testify/require"

	"stillwet/internal/training"
)

// sending is one act under a key; its answer is what the sender is told.
type sending func(key string) (answer any, err error)

// prepared brings a clinic to the moment before an act.
type prepared func(w *world) sending

// keyed is every act under a key, by its method; some have more than one side.
var keyed = map[string]map[string]prepared{
	"CreateFirstEducator":  {"": firstEducator},
	"AddPerson":            {"": newHire},
	"OpenAccount":          {"": openAccount},
	"CorrectPerson":        {"": correctPerson},
	"LetGo":                {"": letGo},
	"Return":               {"": comeBack},
	"ConfirmRoster":        {"": confirmRoster},
	"NewFirstPassword":     {"": forgotten},
	"SetDisabled":          {"close": func(w *world) sending { return w.setDisabled(true) }, "reopen": reopened},
	"ChangePassword":       {"": ownPassword},
	"Entitle":              {"": entitled},
	"ConfirmClock":         {"": clockBehind},
	"UseLink":              {"the owner's": ownersLink, "an educator's": educatorsLink},
	"GiveLinks":            {"": giveLinks},
	"StartRun":             {"": func(w *world) sending { return w.startRun }},
	"Tap":                  {"": tap},
	"FinishBuild":          {"": finishBuild},
	"FinishFind":           {"": finishFind},
	"FinishRun":            {"": finishRun},
	"DiscardDraft":         {"": discard},
	"TakeUp":               {"": takeUp, "beside open practice": takeUpBeside},
	"Answer":               {"": answered},
	"Seen":                 {"": func(w *world) sending { return w.seen }},
	"SetOrientation":       {"": func(w *world) sending { return w.setOrientation }},
	"StartDemonstration":   {"": func(w *world) sending { return w.startDemonstration }},
	"StartWatching":        {"": func(w *world) sending { return w.startWatching }},
	"TakeOver":             {"": takeOver},
	"EndDemonstration":     {"": end},
	"AbandonDemonstration": {"": abandon},
	"Choose":               {"": choose},
	"Correct":              {"": correct},
	"Refuse":               {"": refuseToSign},
	"Keep":                 {"": keep},
	"Withdraw":             {"": withdraw},
	"Restate":              {"": restate},
	"AnswerPlan":           {"": answerPlan},
	"ClosePlan":            {"": closePlan},
	"EnterAbsence":         {"the first": enterAbsence, "its end": endAbsence},
	"ChangeRequirements":   {"the first": changeRequirements, "the second": changeRequirementsAgain},
	"SignAsLearner":        {"": learnerSigns},
	"SignAsPreceptor":      {"": preceptorSigns},
	"SignOff":              {"": signOff},
	"WithdrawSignOff":      {"": withdrawSignOff},
	"EndEntitlement":       {"": endEntitlement},
	"EnterEarlier":         {"": enterEarlier},
	"BringEarlier":         {"": bringEarlier},
	"ConfirmEarlier":       {"": confirmEarlier},
	"DiscardEarlier":       {"": discardEarlier},
	"CorrectEarlier":       {"": correctEarlier},
	"WithdrawEarlier":      {"": withdrawEarlier},
	"SaveItem":             {"a new one": func(w *world) sending { return w.saveItem }, "a change": changeItem},
	"EnterItem":            {"": enterItem},
	"CorrectItemEntry":     {"": correctEntry},
	"WithdrawItemEntry":    {"": withdrawEntry},
	"ConfirmItems":         {"": confirmItems},
	"SetObservationTarget": {"": func(w *world) sending { return w.setObservationTarget }},
	"SaveSetDraft":         {"the first": saveSet, "the second": saveSetAgain},
	"TakeVersionAsDraft":   {"": takeVersion},
	"DiscardSetDraft":      {"": discardSet},
	"ProposeSet":           {"": proposeSet},
	"WithdrawSet":          {"": withdrawSet},
	"ApproveSet":           {"here": approveSet, "by a second person": approveSetTogether, "on paper": approveSetOnPaper},
	"ConfirmFollowUp":      {"": confirmFollowUp},
	"AcknowledgeDuty":      {"": acknowledge},
	"Assign":               {"": assignTo},
	"UndoAssignment":       {"": undoAssignment},
	"TakeBackDuty":         {"": takeBackDuty, "of what was asked": takeBackAssigned},
	"MoveDuty":             {"": moveDuty},
	"AskTwoToApprove":      {"two": askTwo, "one again": askOneAgain},
}

// setActs need a clinic whose set lies in its data file.
var setActs = strings.Fields("SaveSetDraft TakeVersionAsDraft DiscardSetDraft ProposeSet WithdrawSet ApproveSet AskTwoToApprove ConfirmFollowUp AcknowledgeDuty TakeBackDuty MoveDuty")

// unkeyed is every other exported method: it reads, opens a door, or can be
// done twice without harm.
var unkeyed = strings.Fields(`Doubts InUse PreviewRoster OwnersRoster ImportRoster Annual AnnualFor AnnualOn Recheck Attempt Begin Choices ClockBehind AccountChanges LinkHolder OwnerLink Enter EndOwnSession MustProve Named OwnSessions Prove Remember SecondEducators SignedAs VerifyWith CitedProcedure CitedScenario CourseModule CoursePart CourseWays Demonstration DemoPeople Draft FirstRunToken Hints Home
	Learners MaySignOff Names NextTry Batch Received Recorded OpenDraft People Person Preceptors Probe Record Resume SaveSteps Shown SignIn SignInDemo SignInName
	ClinicDesk Survey TodayFor Zone RestatedAs WhoseWork Changes WaitingAccounts Corrected HandOver TakeBack Plan PlanOf PlansOf PlansWaiting EndingsBy ToSign
	PreviewEarlier OwnersEarlier ImportEarlier EarlierWaiting EarlierOf EarlierSignOff
	PreviewItems OwnersItems ImportItems Items Item ItemsOfPerson ItemEntry
	Requirements RequirementsFor PreviewRequirements AbsencesOf
	Askable Assignment Assignments PreviewAssignment
	ObservedIn ObservedNow EverCalled DeskCounts DueByInterval
	AskedDemonstrations ChangeDesk DutiesOf Duty Following Overtaken
	Effect ExportSet ImportSet SetDraft SetFiles SetLibrary Sets SetVersionAt VersionInForce Stock SignOut Today Told Unfinished UnknownHash Verify Watching`)

func firstEducator(w *world) sending {
	token, _, err := w.FirstRunToken(ctx)
	require.NoError(w.T, err)
	return func(key string) (any, error) {
		return w.CreateFirstEducator(ctx, token, key, training.FirstEducator{Name: "Edda Invented", Username: "edda", Password: training.DemoPassword})
	}
}

func giveLinks(w *world) sending {
	id := w.imported("Name,Role\nNora,staff\n")[0].ID
	return func(key string) (any, error) { // the links are told to one of the two
		_, err := w.GiveLinks(ctx, w.educator, key, []training.WantedLink{{PersonID: id, Username: "nora"}, {PersonID: w.trainee.Person.ID}})
		return nil, err
	}
}

func educatorsLink(w *world) sending {
	given, err := w.GiveLinks(ctx, w.educator, w.Key(), []training.WantedLink{{PersonID: w.trainee.Person.ID}})
	require.NoError(w.T, err)
	return func(key string) (any, error) { return w.UseLink(ctx, given[0].Token, key, long) }
}

func newHire(w *world) sending {
	return func(key string) (any, error) { // the password is told to one of the two
		p, _, err := w.AddPerson(ctx, w.educator, key, training.Person{Name: "Nora", Role: training.Trainee, StaffNo: "8"}, "nora")
		return p, err
	}
}

func openAccount(w *world) sending {
	id := w.imported("Name,Role\nNora,staff\n")[0].ID
	return func(key string) (any, error) {
		_, err := w.OpenAccount(ctx, w.educator, key, id, "nora")
		return nil, err
	}
}

func correctPerson(w *world) sending {
	is := w.trainee.Person
	is.Name = "Tessa Invented"
	return func(key string) (any, error) {
		return nil, w.CorrectPerson(ctx, w.educator, key, is, training.SeenPerson(w.trainee.Person), "")
	}
}

func letGo(w *world) sending {
	return func(key string) (any, error) {
		return nil, w.LetGo(ctx, w.educator, key, w.trainee.Person.ID, "2026-03-01", "")
	}
}

func comeBack(w *world) sending {
	_, err := letGo(w)(w.Key())
	require.NoError(w.T, err)
	return func(key string) (any, error) {
		return nil, w.Return(ctx, w.educator, key, w.trainee.Person.ID, "2026-03-02", "")
	}
}

func confirmRoster(w *world) sending {
	f := w.roster("Name,Role\nNora,staff\n")
	plan, err := w.PreviewRoster(ctx, w.educator, f)
	require.NoError(w.T, err)
	return func(key string) (any, error) { return w.ConfirmRoster(ctx, w.educator, key, f, plan.Seen, nil) }
}

func forgotten(w *world) sending {
	return func(key string) (any, error) {
		_, err := w.NewFirstPassword(ctx, w.educator, key, w.trainee.Person.ID)
		return nil, err
	}
}

func (w *world) setDisabled(closed bool) sending {
	return func(key string) (any, error) {
		return nil, w.SetDisabled(ctx, w.educator, key, w.trainee.Person.ID, closed)
	}
}

func reopened(w *world) sending {
	_, err := w.setDisabled(true)(w.Key())
	require.NoError(w.T, err)
	return w.setDisabled(false)
}

func ownPassword(w *world) sending {
	return func(key string) (any, error) {
		_, err := w.ChangePassword(ctx, w.trainee, key, training.DemoPassword, long)
		return nil, err
	}
}

func entitled(w *world) sending {
	return func(key string) (any, error) {
		return w.Entitle(ctx, w.educator, key, w.entitlement(w.preceptor, "2026-02-01", "2028-01-31"), training.SecondPerson{})
	}
}

func clockBehind(w *world) sending {
	w.Pass(-24 * time.Hour)
	return func(key string) (any, error) { return nil, w.ConfirmClock(ctx, w.educator, key) }
}

func ownersLink(w *world) sending {
	token, _, err := w.OwnerLink(ctx, "")
	require.NoError(w.T, err)
	return func(key string) (any, error) { return w.UseLink(ctx, token, key, long) }
}

func (w *world) startRun(key string) (any, error) {
	return w.StartRun(ctx, w.trainee, key, "against-the-clock", 1, false)
}

// running is a run with one step done.
func (w *world) running() string {
	d, err := w.startRun(w.Key())
	require.NoError(w.T, err)
	w.Pass(time.Minute)
	_, err = w.Tap(ctx, w.trainee, d.(training.Draft).ID, w.Key(), "check-stable", 10_000)
	require.NoError(w.T, err)
	return d.(training.Draft).ID
}

func tap(w *world) sending {
	id := w.running()
	return func(key string) (any, error) { return w.Tap(ctx, w.trainee, id, key, "help-out", 20_000) }
}

func finishRun(w *world) sending {
	id := w.running()
	return func(key string) (any, error) { return w.FinishRun(ctx, w.trainee, key, id, 20_000) }
}

func discard(w *world) sending {
	id := w.running()
	return func(key string) (any, error) { return nil, w.DiscardDraft(ctx, w.trainee, key, id) }
}

// answered is a lesson whose last question is still to be answered.
func answered(w *world) sending {
	for _, q := range []string{"first", "then"} {
		_, err := w.Answer(ctx, w.trainee, w.Key(), "first", "read-hands", q, 2)
		require.NoError(w.T, err)
	}
	return func(key string) (any, error) { return w.Answer(ctx, w.trainee, key, "first", "read-hands", "row", 5) }
}

func (w *world) seen(key string) (any, error) {
	return nil, w.Seen(ctx, w.trainee, key, "first", "watch-ordinary-turnover")
}

func (w *world) setOrientation(key string) (any, error) {
	return w.SetOrientation(ctx, w.educator, key, training.Orientation{PersonID: w.trainee.Person.ID, PreceptorID: w.preceptor.Person.ID, LastDay: "2026-04-30"})
}

func finishBuild(w *world) sending {
	d, err := w.OpenDraft(ctx, w.trainee, "ordinary-turnover", false)
	require.NoError(w.T, err)
	_, err = w.SaveSteps(ctx, w.trainee, d.ID, 0, []string{"rub-hands"})
	require.NoError(w.T, err)
	return func(key string) (any, error) { return w.FinishBuild(ctx, w.trainee, key, d.ID, 1) }
}

// takeUp is of an order that did not pass.
func takeUp(w *world) sending {
	done, err := finishBuild(w)(w.Key())
	require.NoError(w.T, err)
	return func(key string) (any, error) {
		d, kept, err := w.TakeUp(ctx, w.trainee, key, done.(training.Attempt).ID)
		return []any{d, kept}, err
	}
}

func takeUpBeside(w *world) sending {
	again := takeUp(w)
	_, err := w.OpenDraft(ctx, w.trainee, "ordinary-turnover", true)
	require.NoError(w.T, err)
	return again
}

func (w *world) startDemonstration(key string) (any, error) {
	return w.StartDemonstration(ctx, w.preceptor, key, w.trainee.Person.ID, turnover, "station-wipe")
}

func (w *world) startWatching(key string) (any, error) {
	return w.StartWatching(ctx, w.preceptor, key, training.Start{Competency: turnover, Product: "station-wipe",
		Setting: training.Setting{Purpose: training.ForRoutine, Announced: "no", Discipline: "nurse", Shift: "early"}})
}

// recorded is a demonstration under way with one tap.
func (w *world) recorded() string {
	d, err := w.startDemonstration(w.Key())
	require.NoError(w.T, err)
	id := d.(training.Demonstration).ID
	_, err = w.Observe(ctx, w.preceptor, id, training.Observed{Key: w.Key(), Step: "wipe-controls"})
	require.NoError(w.T, err)
	return id
}

func takeOver(w *world) sending {
	id := w.recorded()
	return func(key string) (any, error) { return w.TakeOver(ctx, w.preceptor, key, id, "another-tablet") }
}

func end(w *world) sending {
	id := w.recorded()
	return func(key string) (any, error) { return w.EndDemonstration(ctx, w.preceptor, key, id, 0, "Seen.") }
}

func abandon(w *world) sending {
	id := w.recorded()
	return func(key string) (any, error) { return w.AbandonDemonstration(ctx, w.preceptor, key, id) }
}

// ended is a demonstration that waits for its signatures.
func (w *world) ended() string {
	id := w.recorded()
	_, err := w.EndDemonstration(ctx, w.preceptor, w.Key(), id, 0, "")
	require.NoError(w.T, err)
	return id
}

func choose(w *world) sending {
	id := w.ended()
	return func(key string) (any, error) {
		return w.Service.Choose(ctx, w.preceptor, key, id, training.WatchedPractice, "Stopped.")
	}
}

func correct(w *world) sending {
	id := w.ended()
	return func(key string) (any, error) {
		return w.Correct(ctx, w.preceptor, key, id, "It was not so.", []training.Correction{{Struck: 1}})
	}
}

func refuseToSign(w *world) sending {
	id := w.ended()
	w.Choose(w.preceptor, id, training.WatchedPractice)
	return func(key string) (any, error) { return w.Refuse(ctx, w.preceptor, key, id, "Went home.") }
}

func keep(w *world) sending {
	id := w.routine(training.Start{TraineeID: w.trainee.Person.ID})
	return func(key string) (any, error) { return w.Keep(ctx, w.preceptor, key, id) }
}

func withdraw(w *world) sending {
	id := w.ended()
	return func(key string) (any, error) {
		return w.Withdraw(ctx, w.preceptor, key, id, "The wrong person was chosen.", training.DemoPassword)
	}
}

func restate(w *world) sending {
	id := w.ended()
	return func(key string) (any, error) {
		return w.Restate(ctx, w.preceptor, key, id, training.Restated{TraineeID: w.other.Person.ID, Product: "station-wipe", Why: "The wrong name was tapped."}, training.DemoPassword)
	}
}

func answerPlan(w *world) sending {
	p := w.planned()
	return func(key string) (any, error) {
		return w.AnswerPlan(ctx, w.educator, key, p.ID, training.PlanOpened, w.Today().AddDays(7), "Hands.")
	}
}

func closePlan(w *world) sending {
	p := w.planned()
	_, err := w.AnswerPlan(ctx, w.educator, w.Key(), p.ID, training.PlanOpened, w.Today().AddDays(7), "Hands.")
	require.NoError(w.T, err)
	return func(key string) (any, error) {
		return w.ClosePlan(ctx, w.educator, key, p.ID, "Shown at the skills day.")
	}
}

func enterAbsence(w *world) sending {
	return func(key string) (any, error) {
		return w.EnterAbsence(ctx, w.educator, key, training.Absence{PersonID: w.trainee.Person.ID, From: w.Today()})
	}
}

func endAbsence(w *world) sending {
	a := w.leave(w.Today(), "")
	return func(key string) (any, error) {
		return w.EnterAbsence(ctx, w.educator, key, training.Absence{ID: a.ID, PersonID: a.PersonID, From: a.From, Until: w.Today().AddDays(30)})
	}
}

func changeRequirements(w *world) sending {
	draft := w.draft(func(t *training.Terms) { t.NoticeDays = 60 })
	return func(key string) (any, error) { return w.ChangeRequirements(ctx, w.educator, key, 0, draft) }
}

func changeRequirementsAgain(w *world) sending {
	w.required(func(t *training.Terms) { t.NoticeDays = 60 })
	draft := w.draft(func(t *training.Terms) { t.NoticeDays = 45 })
	return func(key string) (any, error) { return w.ChangeRequirements(ctx, w.educator, key, 2, draft) }
}

func learnerSigns(w *world) sending {
	id := w.ended()
	w.Choose(w.preceptor, id, training.WatchedPractice)
	return func(key string) (any, error) {
		return w.SignAsLearner(ctx, w.preceptor, key, id, training.Learner{Username: "tess", Password: training.DemoPassword})
	}
}

func preceptorSigns(w *world) sending {
	id := w.ended()
	w.Choose(w.preceptor, id, training.WatchedPractice)
	_, err := w.SignAsLearner(ctx, w.preceptor, w.Key(), id, training.Learner{Username: "tess", Password: training.DemoPassword})
	require.NoError(w.T, err)
	return func(key string) (any, error) {
		return w.SignAsPreceptor(ctx, w.preceptor, key, id, training.WatchedPractice, training.DemoPassword)
	}
}

func signOff(w *world) sending {
	w.Modules(w.trainee)
	for range 2 {
		w.signBoth(w.preceptor, w.watch(w.preceptor, w.GoodWork()), training.WatchedMet)
		w.Pass(24 * time.Hour)
	}
	return w.signingOff
}

func withdrawSignOff(w *world) sending {
	o := w.signedOff()
	return func(key string) (any, error) {
		return w.WithdrawSignOff(ctx, w.educator, key, o.ID, "The second demonstration was of somebody else.", training.DemoPassword)
	}
}

func endEntitlement(w *world) sending {
	all, err := w.Store.Entitlements(ctx, w.preceptor.Person.ID)
	require.NoError(w.T, err)
	return func(key string) (any, error) {
		return nil, w.EndEntitlement(ctx, w.educator, key, w.preceptor.Person.ID, all[0].ID, "He moves to another unit.")
	}
}

func (w *world) signingOff(key string) (any, error) {
	return w.SignOff(ctx, w.preceptor, key, w.trainee.Person.ID, turnover, training.DemoPassword)
}

func eachAct(t *testing.T, test func(t *testing.T, w *world, send sending)) {
	for method, sides := range keyed {
		for side, prepare := range sides {
			t.Run(strings.TrimSpace(method+" "+side), func(t *testing.T) {
				if method == "CreateFirstEducator" {
					w := newWorld(t)
					test(t, w, prepare(w))
					return
				}
				w := newWorld(t)
				switch {
				case method == "FinishFind":
					w = living(t)
				case slices.Contains(setActs, method):
					w = withSets(t)
				}
				if w.educator.Person.ID == "" {
					w.staff()
				}
				test(t, w, prepare(w))
			})
		}
	}
}

func TestATwinThatIsDoneFirstGivesBothTheSameAnswer(t *testing.T) {
	eachAct(t, func(t *testing.T, w *world, send sending) {
		key, before := w.Key(), w.dump()
		var twin any
		var afterTwin string
		w.Probe(func(string) {
			w.Probe(nil)
			var err error
			twin, err = send(key)
			require.NoError(t, err)
			afterTwin = w.dump()
		})
		answer, err := send(key)
		require.NoError(t, err)
		require.NotEmpty(t, afterTwin, "the act asked for its key")
		require.Equal(t, twin, answer)
		require.NotEqual(t, before, afterTwin)
		require.Equal(t, afterTwin, w.dump(), "done once")
		later, err := send(key)
		require.NoError(t, err)
		require.Equal(t, twin, later)
		require.Equal(t, afterTwin, w.dump())
	})
}

// dump is every stored row but the tries of passwords: the second sending of a
// changed password is a try that failed.
func (w *world) dump() string {
	db, err := sql.Open("sqlite3", "file:"+filepath.Join(w.Dir, "stillwet.db")+"?mode=ro")
	require.NoError(w.T, err)
	defer func() { require.NoError(w.T, db.Close()) }()
	column := func(query string) (all []string) {
		rows, err := db.Query(query)
		require.NoError(w.T, err, query)
		defer func() { require.NoError(w.T, rows.Close()) }()
		for rows.Next() {
			var s string
			require.NoError(w.T, rows.Scan(&s))
			all = append(all, s)
		}
		require.NoError(w.T, rows.Err())
		return all
	}
	var b strings.Builder
	for _, table := range column(`SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite_%' AND name <> 'tries' ORDER BY 1`) {
		columns := column(fmt.Sprintf(`SELECT 'quote("' || name || '")' FROM pragma_table_info('%s')`, table))
		rows := column(fmt.Sprintf(`SELECT %s FROM %s ORDER BY 1`, strings.Join(columns, " || ', ' || "), table))
		fmt.Fprintf(&b, "%s:\n%s\n", table, strings.Join(rows, "\n"))
	}
	return b.String()
}

// A new method of the service is put into one of the two lists, and one that
// takes a key into the first.
func TestEveryActIsInTheTable(t *testing.T) {
	var methods, listed []string
	for m := range reflect.TypeFor[*training.Service]().Methods() {
		methods = append(methods, m.Name)
	}
	for name := range keyed {
		listed = append(listed, name)
	}
	listed = append(listed, unkeyed...)
	require.ElementsMatch(t, methods, listed)
	for _, name := range methodsWithAKey(t) {
		require.Contains(t, keyed, name)
	}
}

// methodsWithAKey are those whose source names a parameter "key".
func methodsWithAKey(t *testing.T) (names []string) {
	files, err := filepath.Glob("*.go")
	require.NoError(t, err)
	for _, file := range files {
		if strings.HasSuffix(file, "_test.go") {
			continue
		}
		f, err := parser.ParseFile(token.NewFileSet(), file, nil, 0)
		require.NoError(t, err)
		for _, d := range f.Decls {
			if m, ok := d.(*ast.FuncDecl); ok && m.Recv != nil && m.Name.IsExported() && takesKey(m) {
				names = append(names, m.Name.Name)
			}
		}
	}
	require.Contains(t, names, "Tap")
	return names
}

func takesKey(m *ast.FuncDecl) bool {
	return slices.ContainsFunc(m.Type.Params.List, func(p *ast.Field) bool {
		return slices.ContainsFunc(p.Names, func(n *ast.Ident) bool { return n.Name == "key" })
	})
}

// rounds is how often what depends on luck is tried: $ROUNDS, or a few.
func rounds(t *testing.T) int {
	text := os.Getenv("ROUNDS")
	if text == "" {
		return 20
	}
	n, err := strconv.Atoi(text)
	require.NoError(t, err, "ROUNDS")
	return n
}

func TestSignedActsSentTwiceAtOnceAreDoneOnce(t *testing.T) {
	w := staffed(t)
	w.Modules(w.trainee)
	for range rounds(t) {
		w.signedTwice()
		for w.MaySignOff(ctx, w.preceptor, w.trainee.Person.ID, turnover) != nil {
			w.signedTwice()
		}
		w.twice(w.signingOff)
	}
	report, err := w.Verify(ctx)
	require.NoError(t, err)
	require.Empty(t, report.Faults)
}

// signedTwice is a day's clean demonstration, each signature sent twice.
func (w *world) signedTwice() {
	d := w.watchedQuickly()
	w.Choose(w.preceptor, d, training.WatchedMet)
	w.twice(func(key string) (any, error) {
		return w.SignAsLearner(ctx, w.preceptor, key, d, training.Learner{Username: "tess", Password: training.DemoPassword})
	})
	w.twice(func(key string) (any, error) {
		return w.SignAsPreceptor(ctx, w.preceptor, key, d, training.WatchedMet, training.DemoPassword)
	})
	w.Pass(24 * time.Hour)
}

// twice sends an act twice at once: both get the same answer, and one leaf is kept.
func (w *world) twice(send sending) {
	key, before := w.Key(), w.leaves()
	var answers [2]any
	var errs [2]error
	var all sync.WaitGroup
	begin := make(chan struct{})
	for i := range answers {
		all.Go(func() { <-begin; answers[i], errs[i] = send(key) })
	}
	close(begin)
	all.Wait()
	require.Equal(w.T, [2]error{}, errs)
	require.Equal(w.T, answers[0], answers[1])
	require.Equal(w.T, before+1, w.leaves())
}

// watchedQuickly is a clean demonstration whose lines came in one act.
func (w *world) watchedQuickly() string {
	d, err := w.startDemonstration(w.Key())
	require.NoError(w.T, err)
	id := d.(training.Demonstration).ID
	var lines []training.Observed
	for i, o := range w.GoodWork() {
		lines = append(lines, training.Observed{Key: w.Key(), Seq: i + 1, AtMs: int64(o.At), Text: o.Text, SentAt: training.InstantOf(w.Now())})
	}
	require.NoError(w.T, w.Store.Write(ctx, func(u training.Unit) error { return u.AddObserved(ctx, id, lines) }))
	last := lines[len(lines)-1].AtMs
	w.Pass(time.Duration(last) * time.Millisecond)
	_, err = w.EndDemonstration(ctx, w.preceptor, w.Key(), id, last, "")
	require.NoError(w.T, err)
	return id
}

func finishFind(w *world) sending {
	d, err := w.OpenDraft(ctx, w.trainee, found, false)
	require.NoError(w.T, err)
	return func(key string) (any, error) {
		return w.FinishFind(ctx, w.trainee, key, d.ID, 0, []string{"1", "4"})
	}
}
