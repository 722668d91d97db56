package rules_test

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/action"
	"stillwet/internal/assess"
	"stillwet/internal/assess/rules"
)

// phrases of every verb; what stands in braces is filled with a word of its kind.
var phrases = []string{
	"check patient stable", "help patient out", "check patient gone", "rub hands 20s", "wash hands", "put on gloves", "put on {worn}",
	"take off gloves", "take off {worn}", "take off {item}", "take wipe w{n} of {product}", "drop wipe", "wipe {surface}", "wipe {surface} with w{n}",
	"clean {surface}", "look at station", "look at {surface}", "discard {item} in {place}", "discard {worn} in {place}", "set {item} at {place}", "hand over {item}",
	"bring {item} to {place}", "empty {item} in {place}", "put {item} back", "touch {surface}", "touch {item}", "touch phone", "leave station",
	"come back", "start internal disinfection", "tag machine out of use", "wait", "declare ready", "wipe dry {surface}", "discard wipe in {place}",
	"put {item} in sharps", "take out {item}", "recap {item}", "reach into sharps", "disconnect patient", "seat next patient", "disinfect {worn}",
	"disinfect {item}", "absorb {surface}", "cap {item}", "report machine", "go to neighbour", "helper wipe {surface}", "helper bring {item} to {place}",
	"patient leaves", "patient sits", "blood on {surface}", "dry {surface}", "still wet {surface}", "alarm", "prompted", "not seen {surface}",
	"not seen {item}", "not seen {step}", "pause", "resume", "undone {back}", "patient comes back", "patient touches {surface}",
	"patient cannot leave", "blood leak", "protector wet", "hands soiled", "wipe spent", "all dry", "not seen for {seconds}s",
	"watching from {stage}", "watcher says {mark} {verdict}", "stopped {reason}", "stepped in {cause}",
}

func randomLog(r *rand.Rand, words action.Words) string {
	pick := func(list []string) string { return list[r.IntN(len(list))] }
	witness := pick([]string{"order", "order clock", "order clock drying"})
	var b strings.Builder
	fmt.Fprintf(&b, "stillwet log %d\nprocedure between-patients -\nwitness %s\n", 1+r.IntN(action.Version), witness)
	now := 0
	for n := range 3 + r.IntN(90) {
		line := pick(phrases)
		if strings.HasPrefix(line, "undone") && (n == 0 || witness == "order") {
			line = "wait" // an undone line may not repeat; one in a while is enough
		}
		line = strings.NewReplacer("{surface}", pick(words[action.Surface]), "{item}", pick(words[action.Item]), "{place}", pick(words[action.Place]),
			"{product}", pick(words[action.Product]), "{step}", pick(words[action.Step]), "{n}", fmt.Sprint(1+r.IntN(3)), "{back}", fmt.Sprint(n),
			"{worn}", pick(action.ProtectiveEquipment), "{mark}", pick(words[action.Mark]), "{seconds}", fmt.Sprint(1+r.IntN(90)),
			"{stage}", pick(action.Stages), "{verdict}", pick(action.Verdicts), "{reason}", pick(action.Reasons), "{cause}", pick(action.Causes)).Replace(line)
		if witness != "order" {
			now += r.IntN(60)
			fmt.Fprintf(&b, "%d:%02d ", now/60, now%60)
		}
		b.WriteString(line + "\n")
	}
	return b.String()
}

// Whatever somebody does, the engine answers, the answer is the same for the
// canonical text, and the sums of the mark sheet hold.
func TestRandomLogsAreJudged(t *testing.T) {
	_, p := builtIn(t)
	total := 0
	for _, m := range p.MarkSheet.Marks {
		total += m.Worth
	}
	judged := 0
	for seed := range uint64(3000) {
		text := randomLog(rand.New(rand.NewPCG(seed, 7)), p.Words)
		log, err := action.Parse("r", text, p.Words)
		if err != nil {
			require.ErrorContains(t, err, "undone", "seed %d", seed)
			continue
		}
		judged++
		result, err := rules.Assess(p, log, "r")
		require.NoError(t, err, "seed %d\n%s", seed, text)
		m := result.Marks
		require.Equal(t, total, m.Met+m.Missed+m.NotAssessed+m.NotApplicable, "seed %d", seed)
		require.False(t, m.Pass, "seed %d: nobody passes by chance\n%s", seed, text)
		for _, f := range result.Findings {
			require.NotEmpty(t, f.Message)
			require.NotEmpty(t, f.Why)
			require.NotEmpty(t, f.Next)
			require.NotEmpty(t, f.Source)
			require.LessOrEqual(t, f.Act, len(log.Acts))
			require.Equal(t, f.AtS != nil, log.Witness.Has(action.Clock), "a time where there is a clock")
		}
		again, err := action.Parse("r", action.Format(log), p.Words)
		require.NoError(t, err)
		twice, err := rules.Assess(p, again, "r")
		require.NoError(t, err)
		require.Equal(t, result, twice, "seed %d", seed)
		_, err = assess.Spells(p, log)
		require.NoError(t, err)
	}
	require.Greater(t, judged, 2500)
}

// A new verb is tried at random as well.
func TestRandomLogsKnowEveryVerb(t *testing.T) {
	_, p := builtIn(t)
	known := map[action.Verb]bool{}
	for seed := range uint64(300) {
		text := randomLog(rand.New(rand.NewPCG(seed, 11)), p.Words)
		for line := range strings.Lines(text) {
			line = strings.TrimSpace(line)
			if _, after, ok := strings.Cut(line, " "); ok && strings.Contains(line[:min(len(line), 5)], ":") {
				line = after
			}
			if a, err := action.ParseAct(line, nil); err == nil {
				known[a.Verb] = true
			}
		}
	}
	for _, v := range action.Verbs() {
		require.True(t, known[v], "the random logs never say %q: add it to phrases", v)
	}
}

// A rule says of itself whether it speaks of single surfaces or pieces of
// protective equipment: a mark for one of a rule that never does would always be met.
func TestRulesSayOfWhatTheySpeak(t *testing.T) {
	_, p := builtIn(t)
	spoke, worn := map[string]bool{}, map[string]bool{}
	for seed := range uint64(2000) {
		log, err := action.Parse("r", randomLog(rand.New(rand.NewPCG(seed, 5)), p.Words), p.Words)
		if err != nil {
			continue
		}
		result, err := rules.Assess(p, log, "r")
		require.NoError(t, err)
		for _, f := range result.Findings {
			spoke[f.Rule] = spoke[f.Rule] || f.Surface != ""
			worn[f.Rule] = worn[f.Rule] || f.Worn != ""
		}
		for _, g := range result.NotAssessed {
			spoke[g.Rule] = spoke[g.Rule] || g.Surface != ""
			worn[g.Rule] = worn[g.Rule] || g.Worn != ""
		}
	}
	for _, r := range rules.All {
		require.Equal(t, r.OfSurfaces, spoke[r.Name], r.Name)
		require.Equal(t, r.OfWear, worn[r.Name], r.Name)
	}
}
