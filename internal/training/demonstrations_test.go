package training_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"stillwet/internal/assess"
	"stillwet/internal/training"
)

func texts(lines []training.Observed) (out []string) {
	for _, o := range lines {
		out = append(out, o.Text)
	}
	return out
}

func TestOnlyTheEntitledMayWatch(t *testing.T) {
	w := staffed(t)
	start := func(a training.Actor, trainee, competency, product string) error {
		_, err := w.StartDemonstration(ctx, a, w.Key(), trainee, competency, product)
		return err
	}
	id := w.trainee.Person.ID
	require.NoError(t, start(w.preceptor, id, turnover, "station-wipe"))
	require.ErrorIs(t, start(w.preceptor, w.preceptor.Person.ID, turnover, "station-wipe"), training.ErrInvalid, "oneself")
	require.ErrorIs(t, start(w.preceptor, "nobody", turnover, "station-wipe"), training.ErrNotFound)
	require.ErrorIs(t, start(w.preceptor, id, "juggling", "station-wipe"), training.ErrInvalid)
	require.ErrorIs(t, start(w.preceptor, id, turnover, "lemonade"), training.ErrInvalid)
	require.ErrorIs(t, start(w.trainee, w.other.Person.ID, turnover, "station-wipe"), training.ErrForbidden)
	require.ErrorIs(t, start(w.educator, id, turnover, "station-wipe"), training.ErrForbidden, "an educator needs it too")
	w.Set(time.Date(2027, 12, 31, 23, 0, 0, 0, time.UTC))
	require.NoError(t, start(w.preceptor, id, turnover, "station-wipe"), "the last day is included")
	w.Set(time.Date(2028, 1, 1, 5, 59, 0, 0, time.UTC))
	require.NoError(t, start(w.preceptor, id, turnover, "station-wipe"), "it is still that day in Chicago")
	w.Pass(time.Minute)
	require.ErrorIs(t, start(w.preceptor, id, turnover, "station-wipe"), training.ErrForbidden)
}

func TestRecorderKeepsEveryTap(t *testing.T) {
	w := staffed(t)
	d, err := w.StartDemonstration(ctx, w.preceptor, w.Key(), w.trainee.Person.ID, turnover, "blood-wipe")
	require.NoError(t, err)
	w.Pass(20 * time.Second)
	put := func(o training.Observed) []training.Observed {
		o.Key = w.Key()
		lines, err := w.Observe(ctx, w.preceptor, d.ID, o)
		require.NoError(t, err)
		return lines
	}
	require.Equal(t, []string{"check patient stable"}, texts(put(training.Observed{AtMs: 3000, Step: "check-stable"})))
	require.Equal(t, []string{"take wipe w1 of blood-wipe"}, texts(put(training.Observed{AtMs: 4000, Step: "fresh-wipe"})))
	face := put(training.Observed{AtMs: 5000, Step: "wipe-controls"})
	require.Equal(t, []string{"wipe screen", "wipe buttons", "wipe keyboard"}, texts(face))
	require.Equal(t, 5, face[2].Seq)
	require.Equal(t, []string{"take wipe w2 of blood-wipe"}, texts(put(training.Observed{AtMs: 6000, Text: "take wipe"})))

	undone, err := w.Undo(ctx, w.preceptor, d.ID, w.Key(), 4, 7000)
	require.NoError(t, err)
	require.Equal(t, []string{"undone 3", "undone 4", "undone 5"}, texts(undone), "the whole tap is taken back")
	for seq, why := range map[int]string{3: "it was taken back before", 7: "an undone line"} {
		undone, err = w.Undo(ctx, w.preceptor, d.ID, w.Key(), seq, 7000)
		require.NoError(t, err, "it is kept")
		require.Empty(t, undone, why)
	}
	require.NoError(t, w.Send(ctx, w.preceptor, d.ID, training.Watched{Key: w.Key(), AtMs: 7000, Undo: "never-made"}), "what it takes back may come yet")

	late := put(training.Observed{AtMs: 3000, Text: "prompted"})
	require.EqualValues(t, 7000, late[0].AtMs, "a clock that went back is set to the time before")
	w.refusesTaps(d)
	o := training.Observed{Key: w.Key(), AtMs: 8000, Text: "not seen wipe-top"}
	for range 3 {
		lines, err := w.Observe(ctx, w.preceptor, d.ID, o)
		require.NoError(t, err)
		require.Equal(t, []string{"not seen wipe-top"}, texts(lines))
	}
	o.Text = "alarm"
	_, err = w.Observe(ctx, w.preceptor, d.ID, o)
	require.ErrorContains(t, err, "under the same key before")
	_, err = w.Observe(ctx, w.other, d.ID, training.Observed{Key: w.Key(), AtMs: 8000, Text: "alarm"})
	require.ErrorIs(t, err, training.ErrForbidden, "another preceptor's recorder")

	w.Close()
	w.Open()
	_, lines, err := w.Observations(ctx, w.preceptor, d.ID)
	require.NoError(t, err)
	require.Len(t, lines, 11)
	d, err = w.EndDemonstration(ctx, w.preceptor, w.Key(), d.ID, 9000, "  Stopped early.  ")
	require.NoError(t, err)
	require.Equal(t, training.Ended, d.State)
	require.True(t, d.Prompted)
	require.Equal(t, "Stopped early.", d.Comment)
	require.NotEqual(t, assess.Pass, d.Outcome)
	require.Contains(t, d.Log, "0:07 undone 4\n")
	_, err = w.Observe(ctx, w.preceptor, d.ID, training.Observed{Key: w.Key(), AtMs: 9000, Text: "alarm"})
	require.ErrorIs(t, err, training.ErrConflict)
	_, err = w.EndDemonstration(ctx, w.preceptor, w.Key(), d.ID, 9000, "")
	require.ErrorIs(t, err, training.ErrConflict)
}

// refusesTaps sends what a recorder at 0:07 of 0:20 may not send.
func (w *world) refusesTaps(d training.Demonstration) {
	for name, o := range map[string]training.Observed{
		"longer than any": {AtMs: 5 * 3_600_000, Text: "prompted"}, "before zero": {AtMs: -1, Text: "alarm"},
		"nonsense": {AtMs: 8000, Text: "wipe moon"}, "nothing": {AtMs: 8000}, "unknown step": {AtMs: 8000, Step: "juggle"},
		"undo by hand": {AtMs: 8000, Text: "undone 1"}, "another act than the step's": {AtMs: 8000, Step: "wipe-top", Text: "not seen wipe-top"},
		"a wash timed as a rub": {AtMs: 8000, Step: "wash-hands", Text: "rub hands 21s"}, "seconds of no cleaning": {AtMs: 8000, Step: "wipe-top", Text: "rub hands 21s"},
	} {
		o.Key = w.Key()
		_, err := w.Observe(ctx, w.preceptor, d.ID, o)
		require.ErrorIs(w.T, err, training.ErrInvalid, name)
	}
}

// What a watcher does not measure is not written (ruling: no tap writes a value that
// was not seen).
func TestATapTellsNoSecondsUnlessTheyWereTimed(t *testing.T) {
	w := staffed(t)
	d, err := w.StartDemonstration(ctx, w.preceptor, w.Key(), w.trainee.Person.ID, turnover, "station-wipe")
	require.NoError(t, err)
	w.Pass(2 * time.Minute)
	at := int64(0)
	put := func(step, text string) []string {
		at += 1000
		lines, err := w.Observe(ctx, w.preceptor, d.ID, training.Observed{Key: w.Key(), AtMs: at, Step: step, Text: text})
		require.NoError(t, err)
		for _, l := range lines {
			require.Equal(t, step, l.Step, "the tap keeps its step")
		}
		return texts(lines)
	}
	require.Equal(t, []string{"rub hands"}, put("rub-hands", ""))
	require.Equal(t, []string{"wash hands"}, put("wash-hands", ""))
	require.Equal(t, []string{"rub hands 21s"}, put("rub-hands", "rub hands 21s"))
	require.Equal(t, []string{"wash hands 8s"}, put("wash-hands", "wash hands 8s"), "too short is written as it was")
	require.Equal(t, []string{"rub hands 5s"}, put("", "rub hands 5s"), "a line alone stands as it was written")
	p, _ := w.Library.Procedure(w.Competency.Procedure)
	i := p.StepIndex("rub-hands")
	require.Positive(t, p.Steps[i].Acts[0].Millis, "the procedure itself still says how long")

	d, err = w.EndDemonstration(ctx, w.preceptor, w.Key(), d.ID, at, "")
	require.NoError(t, err)
	require.Contains(t, d.Log, "0:01 rub hands\n")
	require.Contains(t, string(d.ResultJSON), "Nobody measured how long hands were cleaned.")
}

func TestNothingRecordedIsAbandonedNotJudged(t *testing.T) {
	w := staffed(t)
	d, err := w.StartDemonstration(ctx, w.preceptor, w.Key(), w.trainee.Person.ID, turnover, "station-wipe")
	require.NoError(t, err)
	_, err = w.EndDemonstration(ctx, w.preceptor, w.Key(), d.ID, 0, "")
	require.ErrorIs(t, err, training.ErrInvalid)
	d, err = w.AbandonDemonstration(ctx, w.preceptor, w.Key(), d.ID)
	require.NoError(t, err)
	require.Equal(t, training.Abandoned, d.State)
	_, err = w.SignAsLearner(ctx, w.preceptor, w.Key(), d.ID, training.Learner{Username: "tess", Password: training.DemoPassword})
	require.ErrorIs(t, err, training.ErrConflict)
	rec, err := w.Record(ctx, w.educator, w.trainee.Person.ID)
	require.NoError(t, err)
	require.Equal(t, training.NotStarted, rec.Standings[0].Word, "an abandoned recording is no start")
}
