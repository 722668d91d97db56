package training

import (
	"context"
	"fmt"
	"runtime"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"
)

func TestNewPasswords(t *testing.T) {
	words := []string{"Tess O'Invented", "tess.inv", "Lakeside Invented Clinic"}
	for _, good := range []string{
		DemoPassword, "fifteen letters", "aaaaaaaaaaaaaab", strings.Repeat("ä🙂", 8), "tess likes long walks at night", strings.Repeat("x y z ", 42),
	} {
		require.NoError(t, checkNewPassword(good, words...), good)
	}
	for _, bad := range []string{
		"", "short", "fourteen chars", strings.Repeat("🙂", 14), strings.Repeat("abcdefghi", 29), strings.Repeat("🙂", 257), "passwordpassword", "Pass Word Pass Word",
		"123456123456123456", "aaaaaaaaaaaaaaa", "abcdefghijklmnop", "098765432109876", "The Quick Brown Fox", "stillwet-stillwet",
		"Lakeside Invented 1", "tess.inv-Invented!", "dialysis clinic 1", "\xff\xffaaaaaaaaaaaaabcd",
	} {
		err := checkNewPassword(bad, words...)
		require.ErrorIs(t, err, ErrInvalid, bad)
	}
	require.NoError(t, checkNewPassword(newFirstPassword()))
	require.NotEqual(t, newFirstPassword(), newFirstPassword())
}

func TestEveryBlockedPasswordIsRefused(t *testing.T) {
	require.Greater(t, len(blocked), 60)
	for p := range blocked {
		for len(p) < minPassword {
			p += p
		}
		require.ErrorIs(t, checkNewPassword(strings.ToUpper(p)), ErrInvalid, p)
	}
}

func TestWaitsGrowAndEnd(t *testing.T) {
	last := Instant("2026-03-01T09:30:00.000Z")
	for failures, want := range map[int]time.Duration{4: 0, 5: time.Second, 6: 2 * time.Second, 10: 32 * time.Second, 14: 512 * time.Second, 15: longestWait, 99: longestWait} {
		require.Equal(t, want, max(0, Tries{failures, last}.wait(last)), "%d failures", failures)
		require.Equal(t, time.Duration(0), max(0, Tries{failures, last}.wait(last.Add(want))))
	}
	for after, want := range map[time.Duration]int{0: 20, forgiveOne - 1: 20, forgiveOne: 19, 10 * forgiveOne: 10, time.Hour: 0} {
		require.Equal(t, want, Tries{20, last}.forgiven(last.Add(after), forgiveOne), "after %s", after)
	}
	for failures, want := range map[int]int{0: 30, 1: 15, 5: 15, 6: 7, 10: 7, 15: 3, 25: 0, 999: 0} {
		require.Equal(t, want, Tries{failures, last}.keptFor(last.Add(cleanAfter)), "%d failures", failures)
		require.Equal(t, 30, Tries{failures, last}.keptFor(last.Add(cleanAfter+time.Millisecond)))
	}
	for wait, words := range map[time.Duration]string{time.Millisecond: "1 second", time.Second: "2 seconds", longestWait: "16 minutes"} {
		require.Equal(t, words, inWords(wait))
	}
}

// A full queue of strangers refuses at once, and is not in the way of those inside.
func TestStrangersWaitInAQueueWithAnEnd(t *testing.T) {
	g, lane := newGates(), strings.Repeat("a", 64)
	leave, err := g.outside.enter(t.Context(), lane, "192.0.2.1")
	require.NoError(t, err)
	stop, cancel := context.WithCancel(t.Context())
	ended := make(chan error)
	join := func(from string, places int) {
		was := g.outside.queue.length()
		for range places {
			go func() {
				_, err := g.outside.enter(stop, lane, from)
				ended <- err
			}()
		}
		for g.outside.queue.length() < was+places {
			runtime.Gosched()
		}
	}
	join("192.0.2.1", waitingFrom-1)
	_, err = g.outside.enter(t.Context(), lane, "192.0.2.1")
	require.ErrorIs(t, err, ErrThrottled, "one address has its share")
	for i := range waiting/waitingFrom - 1 {
		join(fmt.Sprintf("192.0.2.%d", 2+i), waitingFrom)
	}
	_, err = g.outside.enter(t.Context(), lane, "10.0.0.1")
	require.ErrorIs(t, err, ErrThrottled, "refused, not kept waiting")
	within, err := g.inside.enter(t.Context(), lane, "10.0.0.1")
	require.NoError(t, err)
	within()
	cancel()
	for range waiting - 1 {
		require.ErrorIs(t, <-ended, context.Canceled)
	}
	leave()
	leave, err = g.outside.enter(t.Context(), lane, "192.0.2.1")
	require.NoError(t, err, "whoever gave up left the queue")
	leave()
	require.Empty(t, g.outside.queue.from, "and is not remembered")
	require.Equal(t, 1, cap(g.outside.hashing), "strangers hash one at a time")
}

func (q *queue) length() int {
	q.mu.Lock()
	defer q.mu.Unlock()
	return q.all
}

func TestPatientDataIsNoticed(t *testing.T) {
	for _, text := range []string{
		"Patient Miller was still in the chair", "pt. J. Smith left late", "Mr Brown's chair", "Mrs. Green waited", "told Ms O'Hara",
		"MRN 12", "chart checked", "number 4471-220", "born in May", "DOB unknown", "seen 03/04/1951", "since 1951-04-03",
	} {
		require.NotEmpty(t, PatientDataWarning(text), text)
	}
	for _, text := range []string{
		"", "Calm and complete.", "The patient was still in the chair at 2:10.", "Patient left before she began", "Station 12, second shift",
		"Wiped the screen twice; 2:00 reached.", "Ask Pia about the bucket", "3 of 14 surfaces", "patients wait outside",
	} {
		require.Empty(t, PatientDataWarning(text), text)
	}
}

func TestFreeTextIsTidied(t *testing.T) {
	got, err := tidy("The comment", "  e\u0301te\u0301\r\nok\x00\x07\u202e  ", 20)
	require.NoError(t, err)
	require.Equal(t, "été\nok", got)
	for _, unshown := range []string{
		"\u200b", "\u2060", "\ufeff", "\u00ad", "\u034f", "\u061c", "\u180e", "\u200e", "\u2063", "\u3164", "\u115f", "\uffa0", "\ufe0f", "\ufff9", "\U000e0041", "\U000e0100",
	} {
		got, err = tidy("The name", unshown+"Te"+unshown+"ss Inve"+unshown+"\u0301nted"+unshown, 20)
		require.NoError(t, err)
		require.Equal(t, "Tess Invénted", got, "%q", unshown)
	}
	for _, shown := range []string{"می\u200cنا", "ක්\u200dෂ", "\u06dd7", "O'Neill-2", "李 明"} {
		got, err = tidy("The name", shown, 20)
		require.NoError(t, err)
		require.Equal(t, shown, got)
	}
	_, err = tidy("The comment", strings.Repeat("ä", 21), 20)
	require.EqualError(t, err, "The comment has 21 characters; 20 is the most.")
	_, err = tidy("The comment", "\xff", 20)
	require.ErrorIs(t, err, ErrInvalid)
}

// The invisible letters and fillers are those of Unicode's PropList.txt
// (Other_Default_Ignorable_Code_Point) and, blank by its picture, U+2800.
func TestNamesThatLookEmptyAreRefused(t *testing.T) {
	for _, name := range []string{"\u3164", "\u115f\u1160", "\uffa0 \uffa0", "\u200b\u200d", "\u2800", "\u00ad", "\u034f", "\ufe0f", "\U000e0041", "\u0301", "...", "\u3000"} {
		require.False(t, legible(name), "%q", name)
	}
	for _, name := range []string{"Ilse", "Ø", "李 明", "김", "نادية", "می\u200cنا", "O'Neill-2"} {
		require.True(t, legible(name), "%q", name)
	}
}
