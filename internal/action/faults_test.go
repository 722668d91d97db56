package action_test

import (
	"errors"
	"fmt"
	"runtime"
	"strings"
	"testing"
	"time"
	"unicode/utf16"
	"unicode/utf8"

	"github.com/stretchr/testify/require"

	"stillwet/internal/action"
)

// faultsOf takes an error of Parse apart; anything but joined faults fails.
func faultsOf(t *testing.T, err error) []*action.Fault {
	t.Helper()
	joined, ok := err.(interface{ Unwrap() []error })
	require.True(t, ok, "%T", err)
	var all []*action.Fault
	for _, err := range joined.Unwrap() {
		fault, ok := err.(*action.Fault)
		require.True(t, ok, "%T", err)
		all = append(all, fault)
	}
	return all
}

func TestFaultsNameFileLineAndTheNearestWords(t *testing.T) {
	for _, c := range []struct{ line, want string }{
		{"0:01 wipe scren", `unknown surface "scren"; nearest: screen, side-table`},
		{"0:01 wipe screen wiht w1", `"wiht" where "with" was expected, in "wipe SURFACE [with WIPE]"`},
		{"0:01 wipe screen with", `"wipe screen with" is not complete; missing: wipe; expected "wipe SURFACE [with WIPE]"`},
		{"0:01 wipe screen with w1 now", `unexpected "now" after "wipe screen with w1"`},
		{"0:01 put on hat", `unknown protective equipment "hat"; known: gloves, eye-protection, gown, mask`},
		{"0:01 take off shoes", `unknown protective equipment or item "shoes"; nearest: `},
		{"0:01 disinfect shoes", `unknown item or protective equipment "shoes"; nearest: `},
		{"0:01 take wipe w1 of soap", `unknown product "soap"; nearest: two-minute-wipe`},
		{"0:01 discard lines in river", `unknown place "river"; nearest: drain, side-table`},
		{"0:01 wipe Screen", `"Screen" cannot be a name: use lower-case letters, digits and single hyphens`},
		{"0:01 take wipe " + strings.Repeat("w", 61) + " of two-minute-wipe", `cannot be a name: it is longer than 60 characters`},
		{"0:01 rub hands 20", `"20" is no number of seconds; write it as 20s`},
		{"0:01 not seen for 0s", `0s is no time`},
		{"0:01 undone -1", `"-1" is no act number`},
		{"0:01 undone 99999999999999999999", `"99999999999999999999" is no act number`},
		{"0:01", `a time without an act`},
		{"wipe screen", `the log witnesses a clock, so every line needs a time (m:ss or m:ss.mmm) before the act`},
	} {
		_, err := action.Parse("x.log", head+c.line+"\n", words)
		require.ErrorContains(t, err, "x.log:4: ", c.line)
		require.ErrorContains(t, err, c.want, c.line)
		require.Len(t, faultsOf(t, err), 1, c.line)
	}
}

// Slots with words that are the same in every procedure name them all, with and
// without a procedure.
func TestClosedSlotsNameTheirWords(t *testing.T) {
	for line, want := range map[string]string{
		"watching from home":             `unknown stage "home"; known: connected, in-chair, gone, lines-off`,
		"watching from Gone":             `unknown stage "Gone"; known: connected, in-chair, gone, lines-off`,
		"watcher says hands-clean maybe": `unknown verdict "maybe"; known: met, missed, not-seen`,
		"watcher says hands-clean":       `"watcher says hands-clean" is not complete; missing: verdict (met, missed, not-seen); expected "watcher says MARK VERDICT"`,
		"stopped bored":                  `unknown reason "bored"; known: patient-safety, staff-safety, called-away, equipment, watching-ended`,
	} {
		for _, w := range []action.Words{nil, words} {
			_, err := action.ParseAct(line, w)
			require.EqualError(t, err, want)
		}
	}
	_, err := action.ParseAct("watcher says hand-clean met", words)
	require.EqualError(t, err, `unknown mark of the watcher "hand-clean"; nearest: hands-clean`)
	_, err = action.ParseAct("watcher says hands-clean met", action.Words{})
	require.EqualError(t, err, `unknown mark of the watcher "hands-clean"; the procedure has none`)
}

func TestDidYouMean(t *testing.T) {
	for line, want := range map[string]string{
		"patient goes":    `unknown act "patient goes"; known with "patient": patient leaves, patient sits, patient comes back, patient touches SURFACE, patient cannot leave`,
		"check the chair": `unknown act "check the chair"; known with "check": check patient stable, check patient gone`,
		"wip screen":      `unknown act "wip screen"; nearest: wipe SURFACE [with WIPE], wipe dry SURFACE, wipe spent`,
		"patent leaves":   `unknown act "patent leaves"; nearest: patient leaves, patient sits, patient comes back, `,
		"wipe": `"wipe" is not complete; missing: surface, "dry" or "spent"; ` +
			`expected "wipe SURFACE [with WIPE]", "wipe dry SURFACE" or "wipe spent"`,
		"wipe dry":            `"wipe dry" is not complete; missing: surface; expected "wipe dry SURFACE"`,
		"not seen":            `missing: step, surface or item or "for"; expected "not seen STEP" or "not seen for SECONDS"`,
		"not seen for":        `"not seen for" is not complete; missing: seconds; expected "not seen for SECONDS"`,
		"discard wipe":        `missing: "in"; expected "discard wipe in PLACE"`,
		"put lines":           `missing: "back" or "in"; expected "put ITEM back" or "put ITEM in sharps"`,
		"put lines away":      `"away" where "back" or "in" was expected, in "put ITEM back" or "put ITEM in sharps"`,
		"put lines in bin":    `"bin" where "sharps" was expected, in "put ITEM in sharps"`,
		"come":                `missing: "back"; expected "come back"`,
		"helper":              `"helper" is not complete; missing: what the second person did`,
		"helper helper wait":  `"helper" stands twice in "helper helper wait"`,
		"helper wip screen":   `unknown act "wip screen"; nearest: wipe SURFACE [with WIPE]`,
		"helper patient goes": `unknown act "patient goes"; known with "patient": patient leaves`,
		"0:02 wait":           `"0:02" where an act was expected`,
		"":                    `an act is missing`,
		" \t":                 `an act is missing`,
	} {
		_, err := action.ParseAct(line, words)
		require.ErrorContains(t, err, want, line)
	}
	_, err := action.ParseAct(strings.Repeat(" ", action.MaxBytes+1), words)
	require.ErrorContains(t, err, "larger than")
}

func TestBadTimesSayWhatIsWrong(t *testing.T) {
	for at, want := range map[string]string{
		"1:75": "seconds go to 59", "1:60": "seconds go to 59", "1:5": "seconds have two digits", "1:": "seconds have two digits",
		"1:005": "seconds have two digits", "-0:10": "the clock of a log begins at 0:00, so a time has no sign",
		"+0:10": "the clock of a log begins at 0:00, so a time has no sign", "−0:10": "the clock of a log begins at 0:00, so a time has no sign",
		"1:02.1234": "up to three digits after the point", "1:02.": "digits are missing after the point",
		"1:02,5": "write a point before the thousandths, not a comma", "12345:00": "minutes go to 9999",
		":30": "the minutes are missing; half a minute is 0:30", "90": "write it as m:ss or m:ss.mmm",
		"1:02:03": "write it as m:ss or m:ss.mmm", "1.30": "write it as m:ss or m:ss.mmm", "20s": "write it as m:ss or m:ss.mmm",
	} {
		for _, head := range []string{head, headless} {
			_, err := action.Parse("x.log", head+at+" wipe screen\n", words)
			require.EqualError(t, err, fmt.Sprintf("x.log:4: %q is no time: %s", at, want))
		}
		_, ok := action.ParseTime(at)
		require.False(t, ok, at)
	}
	_, err := action.Parse("x.log", head+"1:75 wipe scren\n", words)
	require.Len(t, faultsOf(t, err), 2, "the act is read all the same")
	last, ok := action.ParseTime("9999:59.999")
	require.True(t, ok)
	require.Equal(t, action.Millis(9999*60_000+59_999), last)
}

func TestTimesDoNotGoBack(t *testing.T) {
	_, err := action.Parse("x.log", head+"0:05 wipe scren\n0:04 wipe screen\n0:06 hop\n", words)
	all := faultsOf(t, err)
	require.Len(t, all, 3, "all faults at once")
	require.Equal(t, &action.Fault{File: "x.log", Line: 5, Text: "time 0:04 is before the line above it (0:05)"}, all[1])
	require.Equal(t, []int{4, 6}, []int{all[0].Line, all[2].Line})
	_, err = action.Parse("x.log", headless+"0:01 wait", words)
	require.ErrorContains(t, err, `x.log:4: a time in a log that does not witness a clock; add "clock" to the witness line or remove the time`)
}

func TestHeaderFaults(t *testing.T) {
	hash := strings.Repeat("0a", 32)
	for text, want := range map[string]string{
		"":                                      `x.log:1: the log ends before its "stillwet log" line`,
		"# nothing\n\n":                         `x.log:2: the log ends before its "stillwet log" line`,
		"stillwet log 2\nprocedure p -\n":       `x.log:2: the log ends before its "witness" line`,
		"stillwet log 3\nprocedure p -\n":       `x.log:1: version "3" of the format is not known; versions 1 to 2 are read`,
		"stillwet log 0\n":                      `x.log:1: version "0" of the format is not known; versions 1 to 2 are read`,
		"stillwet log\n":                        `x.log:1: expected "stillwet log 2", found "stillwet log"`,
		"stillwet log two\n":                    `x.log:1: expected "stillwet log 2", found "stillwet log two"`,
		"hello\n" + head:                        `x.log:1: expected "stillwet log 2", found "hello"`,
		"stillwet log 1\nprocedure p\n":         `x.log:2: expected "procedure NAME HASH (64 hex digits, or -)", found "procedure p"`,
		"stillwet log 1\nprocedure P -\n":       `x.log:2: "P" cannot be a name`,
		"stillwet log 1\nprocedure p abc\n":     `x.log:2: "abc" is no hash of a procedure: 64 hex digits (0-9 and a-f), or - for the present one`,
		"stillwet log 2\nprocedure p " + hash:   `x.log:2: the log ends before its "witness" line`,
		headless + "procedure p " + hash + "\n": `x.log:4: the "procedure" line is there twice; the first is line 2`,
		head + "0:01 wait\nwitness order\n":     `x.log:5: the "witness" line is there twice; the first is line 3`,
		head + head:                             `x.log:4: the "stillwet log" line is there twice; the first is line 1`,
		"stillwet log 2\nstillwet log 1\n":      `x.log:2: the "stillwet log" line is there twice; the first is line 1`,
		"stillwet log 2\nwitness order clock\nprocedure p -\n0:01 wait\n":  `x.log:3: the "procedure" line stands after the "witness" line (line 2); their order is stillwet log, procedure, witness`,
		"procedure p -\nwitness order clock\nstillwet log 2\n0:01 wait\n":  `x.log:3: the "stillwet log" line stands after the "procedure" line (line 1)`,
		"stillwet log 2\nwitness order clock\n0:01 wait\n0:02 wait\n":      `x.log:3: expected "procedure NAME HASH (64 hex digits, or -)", found "0:01 wait"`,
		"stillwet log 2\nprocedure p -\n0:01 wait\n0:02 wait\n0:03 wait\n": `x.log:3: expected "witness order [clock] [drying]", found "0:01 wait"`,
		"stillwet log 2\nprocedure p -\nwitness\n0:01 wait\n":              `x.log:3: expected "witness order [clock] [drying]", found "witness"`,
		"stillwet log 2\nprocedure p -\nwitness order smell\n0:01 wait\n":  `x.log:3: unknown witness "smell"; known: order, clock, drying`,
		"stillwet log 2\nprocedure p -\nwitness order drying\n0:01 wait\n": `x.log:3: a log cannot witness drying without a clock`,
	} {
		_, err := action.Parse("x.log", text, nil)
		require.ErrorContains(t, err, want, text)
	}
	for _, once := range []string{
		"hello\n" + head,
		"stillwet log 2\nwitness order clock\nprocedure p -\n0:01 wait\n",
		"stillwet log 2\nprocedure p -\n0:01 wait\n0:02 wait\n0:03 wait\n",
		"stillwet log 2\nprocedure p -\nwitness order smell\n0:01 wait\n",
	} {
		_, err := action.Parse("x.log", once, nil)
		require.Len(t, faultsOf(t, err), 1, "one mistake is one fault: %s", once)
	}
}

// encoded is a text in UTF-16, the high byte first or last.
func encoded(text string, highFirst bool) string {
	var b []byte
	for _, u := range utf16.Encode([]rune(text)) {
		if highFirst {
			b = append(b, byte(u>>8), byte(u))
		} else {
			b = append(b, byte(u), byte(u>>8))
		}
	}
	return string(b)
}

func TestTextThatIsNotUTF8IsOneFault(t *testing.T) {
	text := head + "0:01 wipe screen # ärztlich\n0:02 wait\n"
	for name, wide := range map[string]string{
		"low first":                       encoded(text, false),
		"high first":                      encoded(text, true),
		"low first, with its mark":        encoded("\ufeff"+text, false),
		"high first, with its mark":       encoded("\ufeff"+text, true),
		"nothing but the mark":            "\xff\xfe",
		"a mark before words of any kind": "\xfe\xff" + text,
	} {
		_, err := action.Parse("x.log", wide, words)
		require.EqualError(t, err, "x.log:1: the file is not UTF-8 text (it looks like UTF-16): save it as UTF-8", name)
		require.Len(t, faultsOf(t, err), 1, name)
	}
	_, err := action.Parse("x.log", head+"0:01 wait\r# \xe4rztlich\r\n\xff", words)
	require.EqualError(t, err, "x.log:1: the file is not UTF-8 text (line 5 is the first that is not): save it as UTF-8")
	require.Len(t, faultsOf(t, err), 1)
	_, err = action.Parse("x.log", head+strings.Repeat("\x00", 200), words)
	require.EqualError(t, err, "x.log:4: character 1 of the line is U+0000, which does not show: delete it", "NUL in both halves is no UTF-16")
	_, err = action.Parse("x.log", strings.Repeat("\x00", 200)+"\n"+head, words)
	require.EqualError(t, err, "x.log:1: character 1 of the line is U+0000, which does not show: delete it")
}

func TestCharactersThatDoNotShowAreTold(t *testing.T) {
	for line, want := range map[string]string{
		"0:01 wa\x00it":               "character 8 of the line is U+0000",
		"0:01 wait\v":                 "character 10 of the line is U+000B",
		"0:01\fwait":                  "character 5 of the line is U+000C",
		"0:01 \x1bwait\x07 # \x07":    "character 6 of the line is U+001B",
		"0:01\u0085wait":              "character 5 of the line is U+0085",
		"\ufeff0:01 wait":             "character 1 of the line is U+FEFF",
		"0:01 wipe\u2028scr\u00adeen": "character 10 of the line is U+2028",
		"0:01 wipe scr\u200been":      "character 14 of the line is U+200B",
	} {
		_, err := action.Parse("x.log", head+line+"\n", words)
		require.EqualError(t, err, "x.log:4: "+want+", which does not show: delete it", "the line is read without it: %q", line)
	}
	log, err := action.Parse("x.log", head+"\t0:01\u00a0wait\t# \U0001f469\u200d\u2695\ufe0f of any kind\n", words)
	require.NoError(t, err, "tabs, hard spaces and comments are no fault")
	require.Equal(t, head+"0:01 wait\n", action.Format(log))
}

// A message repeats no more than some forty characters of a text, and never half
// a character.
func TestMessagesStayShort(t *testing.T) {
	const fold = "ß"
	huge := strings.Repeat(fold, 100_000)
	want := `"` + strings.Repeat(fold, 40) + `…"`
	for _, line := range []string{
		huge, "0:01 " + huge, "0:01 wipe " + huge, "0:01 wipe screen " + huge, "0:01 wait " + huge, "0:01 rub hands " + huge, "0:01 undone " + huge,
		"0:01 put on " + huge, "0:01 watching from " + huge, "0:01 take wipe w of " + huge, "0:01 helper helper " + huge, "0:01 patient " + huge,
		"1:" + huge, "0:01 1:" + huge, "0:01 take wipe " + strings.Repeat("w", 1000) + " of", "0:01 wipe " + strings.Repeat("w", 1000),
	} {
		_, err := action.Parse("x.log", head+line+"\n", words)
		require.Error(t, err)
		require.Less(t, utf8.RuneCountInString(err.Error()), 400, line[:20])
		require.Contains(t, err.Error(), "…", line[:20])
		require.True(t, utf8.ValidString(err.Error()), line[:20])
	}
	_, err := action.Parse("x.log", head+"0:01 wipe "+huge, words)
	require.ErrorContains(t, err, "x.log:4: "+want+" cannot be a name")
	for _, text := range []string{huge, "stillwet log " + huge, "stillwet log " + strings.Repeat("9", 1000),
		"stillwet log 2\nprocedure " + huge, "stillwet log 2\nprocedure p " + huge, "stillwet log 2\nprocedure p -\nwitness " + huge} {
		_, err := action.Parse("x.log", text, words)
		require.ErrorContains(t, err, "…")
		require.Less(t, utf8.RuneCountInString(err.Error()), 400)
	}
	_, err = action.ParseAct(strings.Repeat("w", 40), words)
	require.NotContains(t, err.Error(), "…", "what is short enough stays whole")
}

func TestLimits(t *testing.T) {
	_, err := action.Parse("x.log", strings.Repeat("#", action.MaxBytes+1), nil)
	require.EqualError(t, err, fmt.Sprintf("x.log:1: the log is larger than %d bytes", action.MaxBytes))
	_, err = action.Parse("x.log", strings.Repeat("\xff", action.MaxBytes+1), nil)
	require.EqualError(t, err, fmt.Sprintf("x.log:1: the log is larger than %d bytes", action.MaxBytes), "the size is looked at first")
	full := head + strings.Repeat("0:01 wait\n", action.MaxActs)
	log, err := action.Parse("x.log", full, nil)
	require.NoError(t, err)
	require.Len(t, log.Acts, action.MaxActs)
	_, err = action.Parse("x.log", full+strings.Repeat("0:01 wait\n", 5), nil)
	require.EqualError(t, err, "x.log:5004: the log has more than 5000 lines", "said once")
	whole := head + strings.Repeat(" ", action.MaxBytes-len(head))
	_, err = action.Parse("x.log", whole, nil)
	require.NoError(t, err, "as large as may be")
}

func TestAHundredFaultsAreToldAndTheRestCounted(t *testing.T) {
	_, err := action.Parse("x.log", head+strings.Repeat("0:01 hop\n", 100), nil)
	require.Len(t, faultsOf(t, err), 100)
	_, err = action.Parse("x.log", head+strings.Repeat("0:01 hop\n", 103), nil)
	all := faultsOf(t, err)
	require.Len(t, all, 101)
	require.Equal(t, &action.Fault{File: "x.log", Line: 103, Text: `unknown act "hop"; nearest: help patient out, drop wipe, cap ITEM`}, all[99])
	require.Equal(t, &action.Fault{File: "x.log", Line: 104, Text: "and 3 more from this line on"}, all[100])
}

// hostile are texts of nothing but faults, as large as a log may be.
var hostile = map[string]string{
	"unknown acts":    head + strings.Repeat("0:01 q\n", (action.MaxBytes-len(head))/7),
	"unknown words":   head + strings.Repeat("0:01 wipe q\n", (action.MaxBytes-len(head))/12),
	"repeated header": head + strings.Repeat("witness\n", (action.MaxBytes-len(head))/8),
	"hidden":          head + strings.Repeat("\x01\n", (action.MaxBytes-len(head))/2),
	"undone":          head + strings.Repeat("0:01 undone 1\n", (action.MaxBytes-len(head))/14),
	"one line":        head + strings.Repeat("q ", (action.MaxBytes-len(head))/2),
	"CR":              strings.Repeat("\r", action.MaxBytes),
	"witness words":   "stillwet log 2\nprocedure p -\nwitness" + strings.Repeat(" q", (action.MaxBytes-100)/2),
}

// Of a text of faults no message is made that is not told: what is left is some
// words for each line. The limits are round numbers far above what it takes.
func TestHostileTextsCostLittle(t *testing.T) {
	for name, text := range hostile {
		require.LessOrEqual(t, len(text), action.MaxBytes)
		var before, after runtime.MemStats
		runtime.ReadMemStats(&before)
		start := time.Now()
		_, err := action.Parse("x.log", text, words)
		took := time.Since(start)
		runtime.ReadMemStats(&after)
		require.LessOrEqual(t, len(faultsOf(t, err)), 101, name)
		require.Less(t, after.TotalAlloc-before.TotalAlloc, uint64(64*action.MaxBytes), name)
		require.Less(t, took, 10*time.Second, name)
	}
}

func BenchmarkHostileTexts(b *testing.B) {
	for name, text := range hostile {
		b.Run(name, func(b *testing.B) {
			b.SetBytes(int64(len(text)))
			for b.Loop() {
				if _, err := action.Parse("x.log", text, words); err == nil {
					b.Fatal("no fault")
				}
			}
		})
	}
}

func TestFaultIsFoundInAWrappedError(t *testing.T) {
	_, err := action.Parse("x.log", head+"0:01 hop\n", words)
	var fault *action.Fault
	require.True(t, errors.As(fmt.Errorf("reading: %w", err), &fault))
	require.Equal(t, 4, fault.Line)
}
