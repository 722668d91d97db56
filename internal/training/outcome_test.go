package training_test

import (
	"errors"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillwet/internal/assess"
	"stillwet/internal/clinictest"
	"stillwet/internal/training"
)

// routine is a routine observation that has ended.
func (w *world) routine(in training.Start) string {
	in.Competency, in.Product, in.Purpose = turnover, "station-wipe", training.ForRoutine
	d, err := w.StartWatching(ctx, w.preceptor, w.Key(), in)
	require.NoError(w.T, err)
	require.NoError(w.T, w.Send(ctx, w.preceptor, d.ID, training.Watched{Key: w.Key(), Step: "wipe-controls"}))
	_, err = w.EndDemonstration(ctx, w.preceptor, w.Key(), d.ID, 0, "")
	require.NoError(w.T, err)
	return d.ID
}

// planned is the plan that an unmet demonstration proposed.
func (w *world) planned() training.Plan {
	id := w.ended()
	d, err := w.Demonstration(ctx, w.preceptor, id)
	require.NoError(w.T, err)
	w.signBoth(w.preceptor, d, training.WatchedNotMet)
	plans, err := w.Store.Plans(ctx, training.PlanQuery{DemonstrationID: id})
	require.NoError(w.T, err)
	require.Len(w.T, plans, 1)
	return plans[0]
}

// stage brings a demonstration to a state. What the learner has signed ends in "signed".
func (w *world) stage(name string) string {
	if to, ok := strings.CutPrefix(name, "routine "); ok {
		return w.routineAt(to)
	}
	switch name {
	case "recording":
		return w.recorded()
	case "abandoned":
		id := w.recorded()
		_, err := w.AbandonDemonstration(ctx, w.preceptor, w.Key(), id)
		require.NoError(w.T, err)
		return id
	}
	id := w.ended()
	meaning := map[string]training.Meaning{"practice": training.WatchedPractice}[name]
	if meaning == "" {
		meaning = training.WatchedNotMet
	}
	if name == "ended" {
		return id
	}
	if name == "withdrawn" {
		_, err := w.Withdraw(ctx, w.educator, w.Key(), id, "The wrong person.", training.DemoPassword)
		require.NoError(w.T, err)
		return id
	}
	w.Choose(w.preceptor, id, meaning)
	if name == "reviewed" {
		return id
	}
	if name == "refused" {
		_, err := w.Refuse(ctx, w.trainee, w.Key(), id, "I see it otherwise.")
		require.NoError(w.T, err)
		return id
	}
	_, err := w.SignAsLearner(ctx, w.preceptor, w.Key(), id, training.Learner{Username: "tess", Password: training.DemoPassword})
	require.NoError(w.T, err)
	if name == "reviewed signed" {
		return id
	}
	_, err = w.SignAsPreceptor(ctx, w.preceptor, w.Key(), id, meaning, training.DemoPassword)
	require.NoError(w.T, err)
	return id
}

func (w *world) routineAt(to string) string {
	id := w.routine(training.Start{TraineeID: w.trainee.Person.ID})
	var err error
	switch to {
	case "kept":
		_, err = w.Keep(ctx, w.preceptor, w.Key(), id)
	case "withdrawn":
		_, err = w.Withdraw(ctx, w.preceptor, w.Key(), id, "Not the station.", training.DemoPassword)
	}
	require.NoError(w.T, err)
	return id
}

// moves are all acts on a demonstration, as anybody may try them.
var moves = map[string]func(w *world, by training.Actor, id string) error{
	"record": func(w *world, by training.Actor, id string) error {
		kept, _, err := w.Batch(ctx, by, id, "the-tablet", []training.Watched{{Key: w.Key(), N: 77, Wall: "2026-03-02T09:00:00.000Z", Step: "wipe-controls"}})
		if err == nil && kept[0].As != training.KeptStored {
			err = errors.New(kept[0].Why) // late: kept beside the record
		}
		return err
	},
	"end": func(w *world, by training.Actor, id string) error {
		_, err := w.EndDemonstration(ctx, by, w.Key(), id, 0, "")
		return err
	},
	"abandon": func(w *world, by training.Actor, id string) error {
		_, err := w.AbandonDemonstration(ctx, by, w.Key(), id)
		return err
	},
	"correct": func(w *world, by training.Actor, id string) error {
		_, err := w.Correct(ctx, by, w.Key(), id, "It was not so.", []training.Correction{{Struck: 1}})
		return err
	},
	"choose": func(w *world, by training.Actor, id string) error {
		_, err := w.Service.Choose(ctx, by, w.Key(), id, training.WatchedPractice, "Stopped.")
		return err
	},
	"refuse": func(w *world, by training.Actor, id string) error {
		_, err := w.Refuse(ctx, by, w.Key(), id, "No.")
		return err
	},
	"learner": func(w *world, by training.Actor, id string) error {
		_, err := w.SignAsLearner(ctx, by, w.Key(), id, training.Learner{Username: "tess", Password: training.DemoPassword, Said: "I would do it so again."})
		return err
	},
	"preceptor": func(w *world, by training.Actor, id string) error {
		_, err := w.SignAsPreceptor(ctx, by, w.Key(), id, training.WatchedNotMet, training.DemoPassword)
		return err
	},
	"keep": func(w *world, by training.Actor, id string) error {
		_, err := w.Keep(ctx, by, w.Key(), id)
		return err
	},
	"withdraw": func(w *world, by training.Actor, id string) error {
		_, err := w.Withdraw(ctx, by, w.Key(), id, "The wrong station.", training.DemoPassword)
		return err
	},
	"hand over": func(w *world, by training.Actor, id string) error { return w.HandOver(ctx, by, id) },
}

// legal is who may do what to a demonstration in a state, written by hand from the issue:
// O who watched, L the learner, E an educator. Whatever is not here is refused.
var legal = map[string]map[string]string{
	"recording":         {"record": "O", "end": "O", "abandon": "O"},
	"ended":             {"correct": "O", "choose": "O", "withdraw": "OE"},
	"reviewed":          {"correct": "O", "choose": "O", "refuse": "OL", "learner": "OL", "withdraw": "OE", "hand over": "O"},
	"reviewed signed":   {"preceptor": "O", "withdraw": "OE"},
	"refused":           {"correct": "O", "choose": "O", "learner": "OL", "preceptor": "O", "withdraw": "OE", "hand over": "O"},
	"not met":           {"withdraw": "E"},
	"practice":          {"withdraw": "E"},
	"withdrawn":         {},
	"abandoned":         {},
	"routine ended":     {"correct": "O", "keep": "O", "withdraw": "OE"},
	"routine kept":      {"withdraw": "E"},
	"routine withdrawn": {},
}

// Every act by everybody in every state is done or refused as the table says, and what is
// refused leaves nothing behind.
func TestEveryIllegalMoveIsRefused(t *testing.T) {
	for state, may := range legal {
		t.Run(state, func(t *testing.T) {
			w := staffed(t)
			people := map[string]training.Actor{"O": w.preceptor, "L": w.trainee, "E": w.educator, "other": w.other, "stranger": w.hire("Nora Invented", "nora", training.Trainee)}
			id := w.stage(state)
			for act, try := range moves {
				for who, by := range people {
					if len(who) == 1 && strings.Contains(may[act], who) {
						continue
					}
					before := w.dump()
					require.Error(t, try(w, by, id), "%s by %s", act, who)
					if act == "record" && (who == "O") {
						continue // what comes late is kept beside the record
					}
					require.Equal(t, before, w.dump(), "%s by %s", act, who)
				}
			}
			for act, who := range may {
				for _, one := range who {
					require.NoError(t, moves[act](w, people[string(one)], w.stage(state)), "%s by %c", act, one)
				}
			}
			report, err := w.Verify(ctx)
			require.NoError(t, err)
			require.Empty(t, report.Faults)
		})
	}
}

// The program and the file agree on which state may follow which.
func TestTheFileHasTheSameMoves(t *testing.T) {
	w := newWorld(t)
	db := raw(t, w.Dir)
	defer func() { require.NoError(t, db.Close()) }()
	rows, err := db.Query("SELECT was, next, purpose FROM demonstration_moves")
	require.NoError(t, err)
	defer func() { require.NoError(t, rows.Close()) }()
	var found []training.Move
	for rows.Next() {
		var m training.Move
		require.NoError(t, rows.Scan(&m.Was, &m.Next, &m.Purpose))
		found = append(found, m)
	}
	require.NoError(t, rows.Err())
	require.ElementsMatch(t, training.Moves, found)
}

// Each signs from their own sign-in, days apart; what the learner says is signed with it,
// and so is the outcome that they read.
func TestEachSignsFromTheirOwnSignIn(t *testing.T) {
	w := staffed(t)
	d := w.watch(w.preceptor, w.GoodWork())
	waiting := func(by training.Actor) (ids []string) {
		all, err := w.ToSign(ctx, by)
		require.NoError(t, err)
		for _, d := range all {
			ids = append(ids, d.ID)
		}
		return ids
	}
	require.Empty(t, waiting(w.trainee), "nothing is chosen yet")
	w.Choose(w.preceptor, d.ID, training.WatchedMet)
	require.Equal(t, []string{d.ID}, waiting(w.trainee))
	w.Pass(24 * time.Hour)
	signed, err := w.SignAsLearner(ctx, w.trainee, w.Key(), d.ID, training.Learner{Password: training.DemoPassword, Said: "  The light was poor.  "})
	require.NoError(t, err)
	require.Equal(t, "The light was poor.", signed.Signatures[0].Said)
	require.Empty(t, waiting(w.trainee))
	_, err = w.SignAsLearner(ctx, w.preceptor, w.Key(), d.ID, training.Learner{Password: training.DemoPassword})
	require.ErrorIs(t, err, training.ErrPassword, "without a name it is nobody's in another's session")
	w.Pass(24 * time.Hour)
	d, err = w.SignAsPreceptor(ctx, w.preceptor, w.Key(), d.ID, training.WatchedMet, training.DemoPassword)
	require.NoError(t, err)
	require.True(t, d.Met())
	require.Equal(t, training.MetStandard, d.Stage)
	for what, statement := range map[string]string{
		"said":   "UPDATE signatures SET said = 'All was well.' WHERE meaning = 'learner'",
		"chosen": "UPDATE demonstration_events SET meaning = 'watched-practice' WHERE seq = 3",
		"why":    "UPDATE demonstration_events SET why = 'x' WHERE seq = 4",
		"state":  "UPDATE demonstration_events SET state = 'not met' WHERE seq = 4",
	} {
		w.Close()
		require.Contains(t, fieldsOf(w.tampered(t, statement)), what)
		w.Open()
	}
}

// Whoever will not sign is heard; what says nothing good of them is signed all the same.
func TestTheLearnerMayRefuse(t *testing.T) {
	w := staffed(t)
	d := w.watch(w.preceptor, w.GoodWork())
	w.Choose(w.preceptor, d.ID, training.WatchedMet)
	_, err := w.Refuse(ctx, w.trainee, w.Key(), d.ID, " ")
	require.ErrorContains(t, err, "Say why")
	_, err = w.Refuse(ctx, w.trainee, w.Key(), d.ID, "I did not do that part.")
	require.NoError(t, err)
	_, err = w.SignAsPreceptor(ctx, w.preceptor, w.Key(), d.ID, training.WatchedMet, training.DemoPassword)
	require.ErrorContains(t, err, "cannot be signed as met")
	w.Choose(w.preceptor, d.ID, training.WatchedNotMet)
	_, err = w.Refuse(ctx, w.preceptor, w.Key(), d.ID, "She says that she does not agree.")
	require.NoError(t, err)
	d, err = w.SignAsPreceptor(ctx, w.preceptor, w.Key(), d.ID, training.WatchedNotMet, training.DemoPassword)
	require.NoError(t, err)
	require.Equal(t, training.NotMet, d.Stage)
	require.Len(t, d.Signatures, 1)

	d = w.watch(w.preceptor, w.GoodWork())
	w.Choose(w.preceptor, d.ID, training.WatchedMet)
	_, err = w.Refuse(ctx, w.trainee, w.Key(), d.ID, "I have not read it.")
	require.NoError(t, err)
	d = w.signAfterAll(d.ID)
	require.True(t, d.Met(), "after all")
	w.verifies()
}

func (w *world) signAfterAll(id string) training.Demonstration {
	_, err := w.SignAsLearner(ctx, w.trainee, w.Key(), id, training.Learner{Password: training.DemoPassword})
	require.NoError(w.T, err)
	d, err := w.SignAsPreceptor(ctx, w.preceptor, w.Key(), id, training.WatchedMet, training.DemoPassword)
	require.NoError(w.T, err)
	return d
}

// What was left open can be signed as what it is, and as nothing else without a reason.
func TestWhatIsLeftOpenCanBeSignedAsSuch(t *testing.T) {
	w := staffed(t)
	var lines []clinictest.Seen
	for _, l := range w.GoodWork() { // nobody saw whether anything stayed wet
		if !strings.HasPrefix(l.Text, "still wet") {
			lines = append(lines, l)
		}
	}
	d := w.watch(w.preceptor, lines)
	require.Equal(t, assess.Incomplete, d.Outcome)
	_, err := w.Service.Choose(ctx, w.preceptor, w.Key(), d.ID, training.WatchedNotMet, "")
	require.ErrorContains(t, err, "Say why: by the log it is open")
	d = w.signBoth(w.preceptor, d, training.WatchedOpen)
	require.Equal(t, training.NotAssessed, d.Stage)
	require.False(t, d.Met())
	plans, err := w.Store.Plans(ctx, training.PlanQuery{})
	require.NoError(t, err)
	require.Empty(t, plans)
	good := w.watch(w.preceptor, w.GoodWork())
	_, err = w.Service.Choose(ctx, w.preceptor, w.Key(), good.ID, training.WatchedOpen, "")
	require.ErrorContains(t, err, "Nothing that decides it was left open")
	_, err = w.Service.Choose(ctx, w.preceptor, w.Key(), good.ID, training.WatchedNotMet, "")
	require.ErrorContains(t, err, "Say why: by the log it passed")
}

// A correction strikes or puts, is judged anew, keeps what was recorded, and asks for the
// outcome once more.
func TestALogIsCorrectedWithAReason(t *testing.T) {
	w := staffed(t)
	good := w.GoodWork()
	wipe := slices.IndexFunc(good, func(s clinictest.Seen) bool { return s.Text == "wipe screen" }) // a critical mark
	missed := good[wipe]
	d := w.watch(w.preceptor, slices.Delete(slices.Clone(good), wipe, wipe+1))
	require.NotEqual(t, assess.Pass, d.Outcome)
	w.Choose(w.preceptor, d.ID, training.WatchedNotMet)
	_, recorded, err := w.Observations(ctx, w.preceptor, d.ID)
	require.NoError(t, err)
	fix := func(why string, c ...training.Correction) (training.Demonstration, error) {
		return w.Correct(ctx, w.preceptor, w.Key(), d.ID, why, c)
	}
	for what, c := range map[string]training.Correction{
		"could not be read": {AtMs: int64(missed.At), Text: "wipe moon"}, "no step": {AtMs: 1, Step: "juggle"}, "no line 9999": {Struck: 9999},
		"lasts until": {AtMs: int64(good[len(good)-1].At) + 1, Text: missed.Text},
	} {
		_, err := fix("It was so.", c)
		require.ErrorContains(t, err, what)
	}
	_, err = fix("", training.Correction{Struck: 1})
	require.ErrorContains(t, err, "Say why the log is corrected")
	_, err = fix("Nothing.")
	require.ErrorContains(t, err, "1 to 40 places")
	before, err := w.Demonstration(ctx, w.preceptor, d.ID)
	require.NoError(t, err)
	require.Equal(t, training.Reviewed, before.Stage, "nothing of all that was kept")

	fixed, err := fix("I forgot to tap it.", training.Correction{AtMs: int64(missed.At), Text: missed.Text})
	require.NoError(t, err)
	require.Equal(t, assess.Pass, fixed.Outcome)
	require.Equal(t, training.Ended, fixed.Stage)
	require.Empty(t, fixed.Chosen(), "the outcome is chosen once more")
	require.Equal(t, d.EndedAt, fixed.EndedAt)
	_, now, err := w.Observations(ctx, w.preceptor, d.ID)
	require.NoError(t, err)
	require.Equal(t, recorded, now, "what was recorded stays")
	lines, err := w.Corrected(ctx, w.trainee, fixed)
	require.NoError(t, err)
	at := slices.IndexFunc(lines, func(l training.CorrectedLine) bool { return l.By > 0 })
	require.Equal(t, missed.Text, lines[at].Text)
	require.Equal(t, int64(missed.At), lines[at].AtMs)

	struck, err := fix("It was another one.", training.Correction{Struck: lines[at].Seq})
	require.NoError(t, err)
	require.Equal(t, d.Outcome, struck.Outcome, "a correction can be struck as well")
	require.Contains(t, struck.Log, "undone")
	_, err = fix("Twice.", training.Correction{Struck: lines[at].Seq})
	require.ErrorContains(t, err, "taken back before")
	_, err = fix("It was so.", training.Correction{AtMs: int64(missed.At), Text: missed.Text})
	require.NoError(t, err)
	d = w.signBoth(w.preceptor, d, training.WatchedMet)
	require.True(t, d.Met())
	_, err = fix("Once more.", training.Correction{Struck: 1})
	require.ErrorContains(t, err, "signed as it stands")
	w.verifies()
	for what, statement := range map[string]string{
		"corrections": "UPDATE demonstration_corrections SET text = 'wipe keyboard' WHERE n = 1 AND event = 4",
		"event":       "DELETE FROM demonstration_events WHERE seq = 5; UPDATE demonstration_events SET seq = seq - 1 WHERE seq > 5",
	} {
		w.Close()
		require.NotEmpty(t, w.tampered(t, statement), what)
		w.Open()
	}
	report, err := w.Recheck(ctx, nil)
	require.NoError(t, err)
	require.Zero(t, report.Different)
}

// What was withdrawn counts for nothing and stays where it is.
func TestWhatIsWithdrawnCountsForNothing(t *testing.T) {
	w := staffed(t)
	w.Modules(w.trainee)
	d := w.signBoth(w.preceptor, w.watch(w.preceptor, w.GoodWork()), training.WatchedMet)
	clean := func() int { return len(w.standing(w.trainee.Person.ID).Clean) }
	require.Equal(t, 1, clean())
	_, err := w.Withdraw(ctx, w.preceptor, w.Key(), d.ID, "It was somebody else.", training.DemoPassword)
	require.ErrorIs(t, err, training.ErrForbidden)
	_, err = w.Withdraw(ctx, w.educator, w.Key(), d.ID, "It was somebody else.", "not her password")
	require.ErrorIs(t, err, training.ErrPassword)
	require.Equal(t, 1, clean())
	d, err = w.Withdraw(ctx, w.educator, w.Key(), d.ID, "It was somebody else.", training.DemoPassword)
	require.NoError(t, err)
	require.False(t, d.Met())
	require.Len(t, d.Signatures, 2)
	require.Zero(t, clean())
	w.verifies()
}

// A routine observation counts for nobody, may name nobody, and proposes no plan.
func TestARoutineObservationCountsForNobody(t *testing.T) {
	w := staffed(t)
	w.Modules(w.trainee)
	start := func(in training.Start) error {
		in.Competency, in.Product = turnover, "station-wipe"
		_, err := w.StartWatching(ctx, w.preceptor, w.Key(), in)
		return err
	}
	for what, in := range map[string]training.Start{
		"Choose who is doing it":           {Setting: training.Setting{Purpose: training.ForReturn, Discipline: "nurse"}},
		"Say whose work it is":             {Setting: training.Setting{Purpose: training.ForRoutine}},
		"not both":                         {TraineeID: w.trainee.Person.ID, Setting: training.Setting{Purpose: training.ForRoutine, Discipline: "nurse"}},
		"Choose what it is watched for":    {TraineeID: w.trainee.Person.ID},
		"yes or no":                        {TraineeID: w.trainee.Person.ID, Setting: training.Setting{Purpose: training.ForReturn, Announced: "perhaps"}},
		"There is no product":              {TraineeID: w.trainee.Person.ID, Setting: training.Setting{Purpose: training.ForReturn, InUse: []training.ProductInUse{{ID: "lemonade"}}}},
		"Write the time as 14:05":          {TraineeID: w.trainee.Person.ID, Setting: training.Setting{Purpose: training.ForReturn, InUse: []training.ProductInUse{{ID: "station-wipe", MadeAt: "25:00"}}}},
		"stands twice":                     {TraineeID: w.trainee.Person.ID, Setting: training.Setting{Purpose: training.ForReturn, InUse: []training.ProductInUse{{ID: "station-wipe"}, {ID: "station-wipe"}}}},
		"is not the one of the wipes":      {TraineeID: w.trainee.Person.ID, Setting: training.Setting{Purpose: training.ForReturn, InUse: []training.ProductInUse{{ID: "blood-wipe"}}}},
		"The discipline has 61 characters": {Setting: training.Setting{Purpose: training.ForRoutine, Discipline: strings.Repeat("n", 61)}},
	} {
		require.ErrorContains(t, start(in), what)
	}
	named := w.routine(training.Start{TraineeID: w.trainee.Person.ID, Setting: training.Setting{Announced: "no"}})
	bare := w.routine(training.Start{Setting: training.Setting{Announced: "yes", Discipline: " patient  care technician ", Shift: "early",
		InUse: []training.ProductInUse{{ID: "station-wipe"}, {ID: "blood-wipe", MadeAt: "06:30"}}}})
	for _, id := range []string{named, bare} {
		d, err := w.Keep(ctx, w.preceptor, w.Key(), id)
		require.NoError(t, err)
		require.Equal(t, training.Filed, d.Stage)
	}
	_, err := w.Demonstration(ctx, w.trainee, bare)
	require.ErrorIs(t, err, training.ErrNotFound, "nobody can be traced")
	d, err := w.Demonstration(ctx, w.other, bare)
	require.NoError(t, err)
	require.Equal(t, "patient care technician", d.Setting.Discipline)
	require.Equal(t, "06:30", d.Setting.InUse[1].MadeAt)
	st := w.standing(w.trainee.Person.ID)
	require.Empty(t, st.Clean)
	plans, err := w.Store.Plans(ctx, training.PlanQuery{})
	require.NoError(t, err)
	require.Empty(t, plans)
	w.verifies()
	for what, statement := range map[string]string{
		"discipline": "UPDATE demonstrations SET discipline = 'nurse' WHERE trainee_id IS NULL", "announced": "UPDATE demonstrations SET announced = 'no' WHERE announced = 'yes'",
		"in_use": `UPDATE demonstrations SET in_use = replace(in_use, '06:30', '16:30')`, "purpose": "UPDATE demonstrations SET purpose = 'return' WHERE trainee_id IS NOT NULL",
		"shift": "UPDATE demonstrations SET shift = 'late' WHERE shift = 'early'",
	} {
		w.Close()
		require.Contains(t, fieldsOf(w.tampered(t, statement)), what)
		w.Open()
	}
}

// An unmet demonstration proposes what to practise; an educator opens it or declines it.
func TestAnUnmetDemonstrationProposesAPlan(t *testing.T) {
	w := staffed(t)
	p := w.planned()
	require.Equal(t, w.trainee.Person.ID, p.PersonID)
	require.NotEmpty(t, p.Marks)
	require.NotEmpty(t, p.Scenarios)
	c := w.Competency
	for _, id := range p.Scenarios {
		require.Contains(t, c.Scenarios, id)
	}
	require.Equal(t, training.PlanProposed, p.Last().State)
	answer := func(by training.Actor, state training.PlanState, due training.Day, why string) error {
		_, err := w.AnswerPlan(ctx, by, w.Key(), p.ID, state, due, why)
		return err
	}
	week := w.Today().AddDays(7)
	require.ErrorIs(t, answer(w.preceptor, training.PlanOpened, week, "Hands."), training.ErrForbidden)
	require.ErrorContains(t, answer(w.educator, training.PlanOpened, week, ""), "Say what it is opened for")
	require.ErrorContains(t, answer(w.educator, training.PlanOpened, "2020-01-01", "Hands."), "no day for this")
	require.ErrorContains(t, answer(w.educator, training.PlanDeclined, "", ""), "Say why no plan is needed")
	require.ErrorContains(t, answer(w.educator, "perhaps", "", "x"), "Open the plan or decline it")
	require.NoError(t, answer(w.educator, training.PlanOpened, week, "Hands after gloves."))
	require.ErrorContains(t, answer(w.educator, training.PlanDeclined, "", "No."), "Edda Invented answered this plan already")
	got, err := w.Plan(ctx, w.trainee, p.ID)
	require.NoError(t, err)
	require.Equal(t, week, got.Last().Due)
	nora := w.hire("Nora Invented", "nora", training.Trainee)
	_, err = w.Plan(ctx, nora, p.ID)
	require.ErrorIs(t, err, training.ErrNotFound)
	w.verifies()
	for what, statement := range map[string]string{
		"marks": `UPDATE plans SET marks = '[]'`, "scenarios": `UPDATE plans SET scenarios = '[]'`, "due": "UPDATE plan_events SET due = '2027-01-01' WHERE seq = 2",
		"by_name": "UPDATE plan_events SET by_name = 'x' WHERE seq = 1",
	} {
		w.Close()
		require.NotEmpty(t, w.tampered(t, statement), what)
		w.Open()
	}
}

// While a learner signs on the preceptor's device the session is theirs to sign in only.
func TestADeviceIsHandedOver(t *testing.T) {
	w := staffed(t)
	d := w.watch(w.preceptor, w.GoodWork())
	cookie := w.entered("pia")
	pia := func() training.Actor {
		a, err := w.Resume(ctx, cookie)
		require.NoError(t, err)
		return a
	}
	require.ErrorIs(t, w.HandOver(ctx, pia(), d.ID), training.ErrConflict, "nothing is chosen yet")
	w.Choose(w.preceptor, d.ID, training.WatchedMet)
	require.NoError(t, w.HandOver(ctx, pia(), d.ID))
	require.Equal(t, d.ID, pia().Handed)
	require.ErrorIs(t, w.TakeBack(ctx, pia(), "not her password"), training.ErrPassword)
	require.Equal(t, d.ID, pia().Handed)
	require.NoError(t, w.TakeBack(ctx, pia(), training.DemoPassword))
	require.Empty(t, pia().Handed)
	require.NoError(t, w.HandOver(ctx, pia(), d.ID))
	_, err := w.SignAsLearner(ctx, pia(), w.Key(), d.ID, training.Learner{Username: "tess", Password: training.DemoPassword})
	require.NoError(t, err)
	require.Equal(t, d.ID, pia().Handed, "the learner still has it in her hands")
	_, err = w.SignAsPreceptor(ctx, pia(), w.Key(), d.ID, training.WatchedMet, training.DemoPassword)
	require.NoError(t, err)
	require.Empty(t, pia().Handed)
}

func (w *world) entered(username string) (cookie string) {
	_, cookie, err := w.SignIn(ctx, username, training.DemoPassword)
	require.NoError(w.T, err)
	return cookie
}

// A record that names somebody without an account can be signed, also by whoever was given a
// new password by another.
func TestWhoHasNoAccountHindersNobodysSignature(t *testing.T) {
	w := staffed(t)
	id := w.NewID()
	require.NoError(t, w.Records.Write(ctx, func(u training.Unit) error {
		return u.AddPerson(ctx, training.Person{ID: id, Name: "Imported Invented", Role: training.Trainee}, w.Service.Now())
	}))
	first, err := w.NewFirstPassword(ctx, w.educator, w.Key(), w.preceptor.Person.ID)
	require.NoError(t, err)
	pia, _, err := w.SignIn(ctx, "pia", first)
	require.NoError(t, err)
	_, err = w.ChangePassword(ctx, pia, w.Key(), first, long)
	require.NoError(t, err)
	pia, _, err = w.SignIn(ctx, "pia", long)
	require.NoError(t, err)
	d, err := w.StartDemonstration(ctx, pia, w.Key(), id, turnover, "station-wipe")
	require.NoError(t, err)
	require.NoError(t, w.Send(ctx, pia, d.ID, training.Watched{Key: w.Key(), Step: "wipe-controls"}))
	_, err = w.EndDemonstration(ctx, pia, w.Key(), d.ID, 0, "")
	require.NoError(t, err)
	w.Choose(pia, d.ID, training.WatchedNotMet)
	_, err = w.Refuse(ctx, pia, w.Key(), d.ID, "There is no account to sign with yet.")
	require.NoError(t, err)
	_, err = w.SignAsPreceptor(ctx, pia, w.Key(), d.ID, training.WatchedNotMet, long)
	require.NoError(t, err)
}
