package action_test

import (
	"fmt"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/action"
)

var words = action.Words{
	action.Surface: {"screen", "side-table"},
	action.Item:    {"lines", "bucket"},
	action.Thing:   {"screen", "side-table", "lines", "bucket", action.Station, action.Phone},
	action.Worn:    {"lines", "bucket", "gloves", "eye-protection", "gown", "mask"},
	action.Wearing: {"lines", "bucket", "gloves", "eye-protection", "gown", "mask"},
	action.Place:   {"drain", "side-table"},
	action.Product: {"two-minute-wipe"},
	action.Step:    {"screen", "lines", "rub-hands"},
	action.Mark:    {"hands-clean"},
}

// heads are the header lines of the versions that are read.
var heads = []string{
	"stillwet log 1\nprocedure p -\nwitness order clock\n",
	"stillwet log 2\nprocedure p -\nwitness order clock\n",
}

const (
	head     = "stillwet log 2\nprocedure p -\nwitness order clock\n"
	headless = "stillwet log 2\nprocedure p -\nwitness order\n" // of a clock
)

// acts are a line of every act, and events of every event.
var (
	acts = []string{
		"check patient stable", "help patient out", "check patient gone", "rub hands", "rub hands 20s",
		"wash hands 40.5s", "put on gloves", "take off gloves", "take off lines", "take wipe w1 of two-minute-wipe",
		"drop wipe", "wipe screen", "wipe screen with w1", "clean screen with w1", "look at station",
		"discard lines in drain", "discard gloves in drain", "set lines at side-table", "bring bucket to side-table", "empty bucket in drain",
		"put bucket back", "touch screen", "touch phone", "leave station", "come back", "start internal disinfection",
		"tag machine out of use", "wait", "declare ready", "wipe dry screen", "discard wipe in drain", "put lines in sharps",
		"take out lines", "recap lines", "reach into sharps", "disconnect patient", "seat next patient", "disinfect bucket",
		"disinfect eye-protection", "absorb screen", "cap lines", "report machine", "go to neighbour", "hand over station",
	}
	events = []string{
		"patient leaves", "patient sits", "blood on screen", "dry screen", "still wet screen", "alarm", "prompted",
		"not seen rub-hands", "pause", "resume", "undone 1", "patient comes back", "patient touches screen", "patient cannot leave",
		"blood leak", "protector wet", "hands soiled", "wipe spent", "all dry", "not seen for 12.25s",
		"watching from lines-off", "watcher says hands-clean not-seen", "stopped called-away", "stepped in breach",
	}
)

func TestEveryVerbRoundTrips(t *testing.T) {
	for _, head := range heads {
		text, n := head, 0
		for _, line := range slices.Concat(acts, events) {
			text += fmt.Sprintf("%d:%02d %s\n", n/60, n%60, line)
			n++
		}
		log, err := action.Parse("x.log", text, words)
		require.NoError(t, err)
		require.Equal(t, text, action.Format(log), "canonical text comes back as it was")
		seen := map[action.Verb]bool{}
		for i, a := range log.Acts {
			require.Equal(t, i+1, a.Number)
			require.Equal(t, i+4, a.Line)
			require.Equal(t, action.Millis(i*1000), a.At)
			require.Equal(t, i >= len(acts), a.Verb.Event(), a.Text())
			seen[a.Verb] = true
		}
		require.Len(t, seen, len(action.Verbs()), "no verb is left out")
	}
}

func TestWordsGoToTheirFields(t *testing.T) {
	for line, want := range map[string]action.Act{
		"wipe screen with w1":                {Verb: action.Wipe, Object: "screen", With: "w1"},
		"wipe dry screen":                    {Verb: action.WipeDry, Object: "screen"},
		"wipe spent":                         {Verb: action.WipeSpent},
		"discard wipe in drain":              {Verb: action.DiscardWipe, Place: "drain"},
		"discard gown in drain":              {Verb: action.Discard, Object: "gown", Place: "drain"},
		"put lines in sharps":                {Verb: action.PutInSharps, Object: "lines"},
		"put lines back":                     {Verb: action.PutBack, Object: "lines"},
		"set lines at side-table":            {Verb: action.SetAt, Object: "lines", Place: "side-table"},
		"take wipe w2 of two-minute-wipe":    {Verb: action.TakeWipe, With: "w2", Of: "two-minute-wipe"},
		"wash hands 40.5s":                   {Verb: action.WashHands, Millis: 40_500},
		"not seen for 9999.001s":             {Verb: action.NotSeenFor, Millis: 9_999_001},
		"not seen screen":                    {Verb: action.NotSeen, Object: "screen"},
		"watching from gone":                 {Verb: action.WatchingFrom, Object: action.FromGone},
		"watcher says hands-clean missed":    {Verb: action.WatcherSays, Object: "hands-clean", Of: action.VerdictMissed},
		"stopped patient-safety":             {Verb: action.Stopped, Object: "patient-safety"},
		"undone 7":                           {Verb: action.Undone, Undoes: 7},
		"helper wipe screen":                 {Verb: action.Wipe, Object: "screen", Helper: true},
		"  helper\tbring lines  to drain \t": {Verb: action.Bring, Object: "lines", Place: "drain", Helper: true},
	} {
		want.At = action.Untimed
		got, err := action.ParseAct(line, words)
		require.NoError(t, err, line)
		require.Equal(t, want, got, line)
	}
}

// A second person does acts; what happens by itself nobody does.
func TestAHelperDoesActsAndNoEvents(t *testing.T) {
	for _, line := range acts {
		a, err := action.ParseAct("helper "+line, words)
		require.NoError(t, err, line)
		require.True(t, a.Helper)
		require.Equal(t, "helper "+line, a.Text())
	}
	for _, line := range events {
		_, err := action.ParseAct("helper "+line, words)
		require.EqualError(t, err, fmt.Sprintf("%q is no act, so no helper does it", line))
	}
	log, err := action.Parse("x.log", head+"0:01 helper wipe screen\n0:02 wipe screen\n", words)
	require.NoError(t, err)
	require.True(t, log.Acts[0].Helper)
	require.False(t, log.Acts[1].Helper)
	require.Equal(t, head+"0:01 helper wipe screen\n0:02 wipe screen\n", action.Format(log))
}

// A word is reserved exactly when a phrase with it in place of a name reads as
// another phrase.
func TestOwnWordsAreThoseThatAPhraseTakesForItsOwn(t *testing.T) {
	literal := regexp.MustCompile(`\b[a-z]+\b`)
	own := map[string]bool{}
	for _, v := range action.Verbs() {
		for _, w := range literal.FindAllString(v.String(), -1) {
			own[w] = false
		}
	}
	for _, v := range action.Verbs() {
		for i, slot := range v.Slots() {
			if !named(slot) {
				continue
			}
			for w := range own {
				own[w] = own[w] || !readsAs(v, i, w)
			}
		}
	}
	var want []string
	for w, taken := range own {
		if taken {
			want = append(want, w)
		}
	}
	require.ElementsMatch(t, want, action.OwnWords)
}

// named reports whether a slot takes names of the procedure.
func named(s action.SlotUse) bool {
	return !slices.Contains([]string{"STAGE", "VERDICT", "REASON", "CAUSE", "NUMBER", "SECONDS"}, s.Word) && s.Word != "WORN"
}

// sample are words that fit the slots whose words are the same everywhere.
var sample = map[string]string{"STAGE": "gone", "VERDICT": "met", "REASON": "equipment", "CAUSE": "breach", "NUMBER": "1", "SECONDS": "20s", "WORN": "gloves"}

// readsAs fills the slot-th slot of a phrase with a word, with and without what
// may be left out, and reports whether it is read as this phrase and written back.
func readsAs(v action.Verb, slot int, word string) bool {
	phrases := []string{strings.NewReplacer("[", "", "]", "").Replace(v.String())}
	if short, _, cut := strings.Cut(v.String(), " ["); cut && !v.Slots()[slot].Optional {
		phrases = append(phrases, short)
	}
	for _, line := range phrases {
		for i, s := range v.Slots() {
			fill := word
			if i != slot {
				fill = "x"
				if fixed, ok := sample[s.Word]; ok {
					fill = fixed
				}
			}
			line = strings.Replace(line, s.Word, fill, 1)
		}
		a, err := action.ParseAct(line, nil)
		if err != nil || a.Verb != v || a.Text() != line {
			return false
		}
	}
	return true
}

func TestALogSaysItsVersionAndTheLineOfItsProcedure(t *testing.T) {
	for version := 1; version <= action.Version; version++ {
		text := fmt.Sprintf("# a comment\n\nstillwet log %d\n# another\n  procedure\tp   -\nwitness order\nwait\n", version)
		log, err := action.Parse("x.log", text, words)
		require.NoError(t, err)
		require.Equal(t, version, log.Version)
		require.True(t, log.Since(version))
		require.False(t, log.Since(version+1))
		require.Equal(t, 5, log.ProcedureLine)
		require.Equal(t, 7, log.Acts[0].Line)
	}
	built := &action.Log{Procedure: "p", Hash: "-", Witness: action.Order}
	require.Zero(t, built.ProcedureLine)
	require.Equal(t, headless, action.Format(built), "a log that was built is of the present version")
}

// The same said in other ways has one canonical text, in the version it was
// written in.
func TestFormatIsCanonicalForBothVersions(t *testing.T) {
	for _, head := range heads {
		want := head + "0:01.500 rub hands 20.5s\n1:00 wipe screen with w1\n61:00 undone 2\n"
		loose := strings.Replace(head, "witness order clock", "witness  clock order clock # told twice", 1) +
			"\n0:01.5   rub\thands 20.50s # c\n   # c\n01:00.000 wipe screen with w1\n0061:00.0 undone 2"
		for _, end := range []string{"\n", "\r\n", "\r"} {
			for _, mark := range []string{"", "\ufeff"} {
				log, err := action.Parse("x.log", mark+strings.ReplaceAll(loose, "\n", end), words)
				require.NoError(t, err, "%q", end)
				require.Equal(t, want, action.Format(log), "%q", end)
				require.Equal(t, []int{5, 7, 8}, []int{log.Acts[0].Line, log.Acts[1].Line, log.Acts[2].Line}, "%q", end)
			}
		}
	}
}

func TestUndoneActsDoNotCountButStay(t *testing.T) {
	log, err := action.Parse("x.log", head+"0:01 prompted\n0:02 wait\n0:03 undone 1\n", words)
	require.NoError(t, err)
	require.False(t, log.Prompted())
	live := log.Live()
	require.Len(t, live, 1)
	require.Equal(t, 2, live[0].Number, "numbers stay as they were")
	require.Contains(t, action.Format(log), "prompted")
	_, err = action.Parse("x.log", head+"0:01 wait\n0:02 undone 1\n0:03 undone 1\n", words)
	require.EqualError(t, err, "x.log:6: act 1 is an undone line or was undone already")
	_, err = action.Parse("x.log", head+"0:01 wait\n0:02 undone 1\n0:03 undone 2\n", words)
	require.EqualError(t, err, "x.log:6: act 2 is an undone line or was undone already")
	_, err = action.Parse("x.log", head+"0:01 undone 1\n", words)
	require.EqualError(t, err, "x.log:4: undone 1 names no earlier act; this is act 1")
}
