package action_test

import (
	"slices"
	"strings"
	"testing"
	"unicode"
	"unicode/utf8"

	"github.com/stretchr/testify/require"

	"stillwet/internal/action"
)

// maxMessage is more than any message of this package needs, in characters.
const maxMessage = 800

// wordsIf are the words of a procedure, or none.
func wordsIf(known bool) action.Words {
	if known {
		return words
	}
	return nil
}

// plain fails unless a message can be shown on one line as it is.
func plain(t *testing.T, message string) {
	t.Helper()
	require.NotEmpty(t, message)
	require.True(t, utf8.ValidString(message), "%q", message)
	require.Less(t, utf8.RuneCountInString(message), maxMessage, "%q", message)
	require.Negative(t, strings.IndexFunc(message, unicode.IsControl), "%q", message)
}

// lineCount is how many lines an editor shows for a text, 1 for an empty one.
func lineCount(text string) int {
	text = strings.NewReplacer("\r\n", "\n", "\r", "\n").Replace(text)
	return strings.Count(strings.TrimSuffix(text, "\n"), "\n") + 1
}

func seedLogs(f *testing.F) {
	seeds := []string{
		"", "\ufeff", "\xff\xfe", encoded(head+"0:01 wait\n", false), encoded(head+"0:01 wait\n", true), head + "0:01 \xe4\n",
		"stillwet log 1\nprocedure p -\nwitness order\nrub hands 20.5s # c\n\nwait\n",
		"stillwet log 3\nprocedure p -\nwitness order drying\nwait\n",
		"stillwet log 2\nwitness order clock\nprocedure p " + strings.Repeat("0a", 32) + "\n0:01 wait\n",
		"stillwet log 2\nprocedure p abc\nwitness smell\n0:01 wait\n", head + head, "hello\n" + head,
		"\ufeff" + strings.ReplaceAll(head+"0:01 wait\n0:02 undone 1\n", "\n", "\r\n"), strings.ReplaceAll(head+"0:01 wait\n", "\n", "\r"),
		head + "0:01\twa\x00it\u200b\n", head + "0:01 wait # \x07\n", head + "0:01 " + strings.Repeat("ß", 50) + "\n",
		head + strings.Repeat("0:01 hop\n", 103), head + "0:02 wait\n0:01 undone 1\n0:03 undone 1\n0:04 undone 2\n",
	}
	for _, at := range []string{"1:75", "1:60", "1:5", "-0:10", "1:02.1234", "12345:00", "1:02,5", ":30", "90", "0:01 0:02", "9999:59.999"} {
		seeds = append(seeds, head+at+" wait\n", headless+at+" wait\n")
	}
	for _, line := range slices.Concat(acts, events) {
		seeds = append(seeds, heads[0]+"0:01 "+line+"\n", head+"0:00 wait\n0:01.5 helper "+line+"\n", headless+line+"\r\n")
	}
	for _, text := range seeds {
		f.Add(text, true)
		f.Add(text, false)
	}
}

// FuzzParse: whatever is read is written canonically, and the canonical text
// reads as the same log; whatever is not has faults with their places.
func FuzzParse(f *testing.F) {
	seedLogs(f)
	f.Fuzz(func(t *testing.T, text string, known bool) {
		log, err := action.Parse("f", text, wordsIf(known))
		if err != nil {
			checkFaults(t, text, err)
			return
		}
		require.LessOrEqual(t, log.ProcedureLine, lineCount(text))
		canonical := action.Format(log)
		again, err := action.Parse("f", canonical, wordsIf(known))
		require.NoError(t, err, canonical)
		require.Equal(t, canonical, action.Format(again))
		require.Equal(t, unplaced(log), unplaced(again), "the same log but for its lines")
	})
}

func checkFaults(t *testing.T, text string, err error) {
	last := 1
	for _, fault := range faultsOf(t, err) {
		require.Equal(t, "f", fault.File)
		require.GreaterOrEqual(t, fault.Line, last, "in the order of the lines")
		last = fault.Line
		plain(t, fault.Text)
	}
	require.LessOrEqual(t, last, lineCount(text))
	require.LessOrEqual(t, len(faultsOf(t, err)), 101)
}

// unplaced is a log without the lines of its source.
func unplaced(log *action.Log) action.Log {
	bare := *log
	bare.ProcedureLine = 0
	bare.Acts = slices.Clone(log.Acts)
	for i := range bare.Acts {
		bare.Acts[i].Line = 0
	}
	return bare
}

// FuzzParseAct: an act that is read is written so that it reads as the same act.
func FuzzParseAct(f *testing.F) {
	seeds := []string{
		"", "helper", "helper helper wait", "wipe", "wipe dry", "wipe dry with", "wipe dry with w1", "wipe spent with w1", "put on back", "put lines away",
		"put lines in bin", "not seen for", "not seen fro 20s", "discard wipe", "take wipe w1 off soap", "patient goes", "patint sits", "0:01 wait",
		"watching from home", "watcher says hands-clean maybe", "stopped bored", "undone 0", "undone 01", "rub hands 0s", "wash hands 0.001s",
		"wipe\x00screen", "wipe scr\xffeen", "wipe\u2028screen", "wipe " + strings.Repeat("w", 61), strings.Repeat("ß", 50), "wait # c", "wait\nwait",
	}
	for _, line := range slices.Concat(seeds, acts, events) {
		f.Add(line, true)
		f.Add("helper "+line, false)
	}
	f.Fuzz(func(t *testing.T, text string, known bool) {
		a, err := action.ParseAct(text, wordsIf(known))
		if err != nil {
			plain(t, err.Error())
			return
		}
		again, err := action.ParseAct(a.Text(), wordsIf(known))
		require.NoError(t, err, a.Text())
		require.Equal(t, a, again)
		require.Equal(t, a.Text(), again.Text())
	})
}
