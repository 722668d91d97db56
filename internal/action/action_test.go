package action_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/action"
)

var words = action.Words{
	action.Surface: {"screen", "side-table"},
	action.Item:    {"lines", "bucket"},
	action.Thing:   {"screen", "side-table", "lines", "bucket", action.Station},
	action.Worn:    {"lines", "bucket", "gloves", "eye-protection", "gown", "mask"},
	action.Place:   {"drain", "side-table"},
	action.Product: {"two-minute-wipe"},
	action.Step:    {"screen", "lines", "rub-hands"},
}

const head = "stillwet log 1\nprocedure p -\nwitness order clock\n"

func TestEveryActRoundTrips(t *testing.T) {
	lines := []string{
		"0:00 check patient stable", "0:01 help patient out", "0:02 check patient gone", "0:03 rub hands", "0:04 rub hands 20s",
		"0:05 wash hands 40.5s", "0:06 put on gloves", "0:07 take off gloves", "0:08 take off lines", "0:09 take wipe w1 of two-minute-wipe",
		"0:10 drop wipe", "0:11 wipe screen", "0:12.250 wipe screen with w1", "0:13 clean screen with w1", "0:14 look at station",
		"0:15 discard lines in drain", "0:16 set lines at side-table", "0:17 bring bucket to side-table", "0:18 empty bucket in drain",
		"0:19 put bucket back", "0:20 touch screen", "0:21 leave station", "0:22 come back", "0:23 start internal disinfection",
		"0:24 tag machine out of use", "0:25 wait", "0:26 declare ready", "0:27 patient leaves", "0:28 patient sits", "0:29 blood on screen",
		"0:30 dry screen", "0:31 still wet screen", "0:32 alarm", "0:33 prompted", "0:34 not seen rub-hands", "0:35 pause", "61:00 resume", "61:00 undone 1",
	}
	text := head + strings.Join(lines, "\n") + "\n"
	log, err := action.Parse("x.log", text, words)
	require.NoError(t, err)
	require.Len(t, log.Acts, len(lines))
	require.Equal(t, text, action.Format(log), "canonical text comes back as it was")
	require.Equal(t, action.Millis(12_250), log.Acts[12].At)
	require.Equal(t, action.Millis(61*60_000), log.Acts[37].At)
	require.Equal(t, action.Millis(40_500), log.Acts[5].Millis)
	require.Equal(t, "side-table", log.Acts[16].Place)
}

func TestFaultsNameFileLineAndTheNearestWords(t *testing.T) {
	for _, c := range []struct{ line, want string }{
		{"0:01 wip screen", `x.log:4: unknown act "wip screen"; nearest: wipe SURFACE`},
		{"0:01 wipe scren", `x.log:4: unknown surface "scren"; nearest: screen`},
		{"0:01 wipe screen wiht w1", `x.log:4: "wiht" where "with" was expected`},
		{"0:01 wipe", `x.log:4: "wipe" is not complete`},
		{"0:01 wipe screen with", `is not complete`},
		{"0:01 wipe screen with w1 now", `x.log:4: unexpected "now" after`},
		{"wipe screen", `x.log:4: the log witnesses a clock, so every line needs a time`},
		{"0:61 wipe screen", `x.log:4:`},
		{"0:01", `x.log:4: a time without an act`},
		{"0:01 put on hat", `unknown protective equipment "hat"; known: gloves`},
		{"0:01 take off shoes", `unknown protective equipment or item "shoes"`},
		{"0:01 take wipe w1 of soap", `unknown product "soap"; nearest: two-minute-wipe`},
		{"0:01 discard lines in river", `unknown place "river"`},
		{"0:01 wipe Screen", `"Screen" cannot be a name`},
		{"0:01 rub hands 20", `"20" is no number of seconds; write it as 20s`},
		{"0:01 rub hands 0s", `0s is no time`},
		{"0:01 undone 1", `undone 1 names no earlier act`},
		{"0:01 undone -1", `"-1" is no act number`},
	} {
		_, err := action.Parse("x.log", head+c.line+"\n", words)
		require.ErrorContains(t, err, c.want, c.line)
	}
}

func TestAllFaultsAtOnce(t *testing.T) {
	_, err := action.Parse("x.log", head+"0:05 wipe scren\n0:04 wipe screen\n0:06 hop\n", words)
	require.ErrorContains(t, err, "x.log:4:")
	require.ErrorContains(t, err, "x.log:5: time 0:04 is before the line above it (0:05)")
	require.ErrorContains(t, err, "x.log:6:")
}

func TestHeaderFaults(t *testing.T) {
	for text, want := range map[string]string{
		"":                                  `x.log:1: the log ends before its "stillwet log" line`,
		"stillwet log 2\n":                  `x.log:1: expected "stillwet log 1"`,
		"stillwet log 1\nprocedure p abc\n": `x.log:2: expected "procedure NAME HASH`,
		"stillwet log 1\nprocedure p -\n":   `the log ends before its "witness" line`,
		head + "witness order drying":       `unknown act`,
		"stillwet log 1\nprocedure p -\nwitness order smell\n":    `x.log:3: unknown witness "smell"`,
		"stillwet log 1\nprocedure p -\nwitness order drying\n":   `cannot witness drying without a clock`,
		"stillwet log 1\nprocedure p -\nwitness order\n0:01 wait": `x.log:4: a time in a log that does not witness a clock`,
	} {
		_, err := action.Parse("x.log", text, nil)
		require.ErrorContains(t, err, want, text)
	}
	_, err := action.Parse("x.log", strings.Repeat("#", action.MaxBytes+1), nil)
	require.ErrorContains(t, err, "larger than")
	_, err = action.Parse("x.log", head+strings.Repeat("0:01 wait\n", action.MaxActs+5), nil)
	require.ErrorContains(t, err, "more than 5000 lines")
	require.Equal(t, 1, strings.Count(err.Error(), "more than"), "said once")
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
	require.ErrorContains(t, err, "was undone already")
	_, err = action.Parse("x.log", head+"0:01 wait\n0:02 undone 1\n0:03 undone 2\n", words)
	require.ErrorContains(t, err, "undone line")
}

// FuzzParse: whatever is read is written canonically, and the canonical text
// reads as the same log.
func FuzzParse(f *testing.F) {
	f.Add(head + "0:01 wipe screen with w1\n0:02 undone 1\n")
	f.Add("stillwet log 1\nprocedure p -\nwitness order\nrub hands 20.5s # c\n\nwait\n")
	f.Add(head + "0:01.5 take off gloves\r\n")
	f.Fuzz(func(t *testing.T, text string) {
		log, err := action.Parse("f", text, nil)
		if err != nil {
			require.Contains(t, err.Error(), "f:", "every fault has its place")
			return
		}
		canonical := action.Format(log)
		again, err := action.Parse("f", canonical, nil)
		require.NoError(t, err, canonical)
		require.Equal(t, canonical, action.Format(again))
		require.Len(t, again.Acts, len(log.Acts))
	})
}
