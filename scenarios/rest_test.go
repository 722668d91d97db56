package scenarios_test

import (
	"fmt"
	"os"
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/simulate"
	"stillwet/scenarios"
)

// changed is the built-in set with words of its files changed.
func changed(t *testing.T, change map[string]func(string) string) *scenarios.Set {
	t.Helper()
	s, err := scenarios.ReadSet(files(t, change))
	require.NoError(t, err)
	return s
}

// resting are the ids of what rests of a kind, with the reasons told.
func resting(t *testing.T, lib *scenarios.Library, of string) (ids []string) {
	t.Helper()
	for _, r := range lib.Resting() {
		if r.Of == of {
			ids = append(ids, r.ID)
			t.Logf("%s %s rests: %s", of, r.ID, r.Why)
		}
		require.NotEmpty(t, r.Why)
		require.NotEmpty(t, r.Title)
	}
	return ids
}

func TestNothingOfTheBuiltInSetRests(t *testing.T) {
	lib, err := scenarios.BuiltIn().Load()
	require.NoError(t, err)
	require.Empty(t, lib.Resting())
	strict, err := scenarios.Load()
	require.NoError(t, err)
	require.Len(t, lib.Scenarios(), len(strict.Scenarios()))
	for i, s := range strict.Scenarios() {
		require.Equal(t, s.Hash, lib.Scenarios()[i].Hash)
		require.Equal(t, s.Model, lib.Scenarios()[i].Model, "what gets full marks stays as it is")
	}
	require.Len(t, lib.Modules(), len(strict.Modules()))
}

func all(changes ...func(string) string) func(string) string {
	return func(s string) string {
		for _, c := range changes {
			s = c(s)
		}
		return s
	}
}

// thorough asks for what every change does without: $ROUNDS is set by make soak.
func thorough() bool { return os.Getenv("ROUNDS") != "" }

// What changes in a procedure, and how few scenarios cannot follow.
func TestModelsFollow(t *testing.T) {
	label := func(s int) map[string]func(string) string {
		return map[string]func(string) string{"products.parts.yaml": replace("label_s: 120", fmt.Sprintf("label_s: %d", s))}
	}
	const machine = "machine.parts.yaml"
	for _, c := range []struct {
		name   string
		change map[string]func(string) string
		rest   []string
		usual  bool // with every change; the others with make soak
	}{
		{"1 minute", label(60), nil, false}, // the pole has its minute then: a colleague's wet times are wrong in four ways, not five
		{"3 minutes", label(180), nil, false},
		{"5 minutes", label(300), nil, true},
		{"10 minutes", label(600), nil, false},
		{"right side dropped", map[string]func(string) string{machine: replace("{id: right,", "{id: right, off: true,")}, nil, false},
		{"call light dropped", map[string]func(string) string{"chair-side.parts.yaml": replace("{id: call-light,", "{id: call-light, off: true,")}, nil, false},
		{"counter dropped", map[string]func(string) string{"chair-side.parts.yaml": replace("{id: counter,", "{id: counter, off: true,")}, nil, false},
		{"chair dropped", map[string]func(string) string{"chair-side.parts.yaml": replace("{id: chair,", "{id: chair, off: true,")}, nil, true},
		{"hoses and clamps there", map[string]func(string) string{machine: all(replace("{id: hose, title: Dialysate hoses outside, face: hoses, role: station, off: true", "{id: hose, title: Dialysate hoses outside, face: hoses, role: station"),
			replace("{id: clamps, title: Clamps that stay at the station, face: clamps, role: station, off: true", "{id: clamps, title: Clamps that stay at the station, face: clamps, role: station"))}, nil, false},
		{"tubing there", map[string]func(string) string{machine: replace("face: pole and parts, role: station, off: true", "face: pole and parts, role: station")}, nil, false},
		{"surface called otherwise", map[string]func(string) string{"bucket.parts.yaml": replace("title: Prime bucket inside", "title: Waste jug inside")}, nil, true},
		{"bleach dropped", map[string]func(string) string{"products.parts.yaml": replace("{id: bleach-dilution,", "{id: bleach-dilution, off: true,")}, nil, false},
		{"blood wipe dropped", map[string]func(string) string{"products.parts.yaml": replace("{id: blood-wipe,", "{id: blood-wipe, off: true,")},
			[]string{"blood-on-the-floor", "blood-on-the-machine", "blood-on-the-screen", "spill-on-the-side-table", "three-minutes-wet", "a-colleague-and-the-blood"}, true},
		{"pair confirmed", map[string]func(string) string{machine: replace("already done., basis: common practice", "already done., basis: common practice, confirmed: {by: Mara Voss, on: \"2027-01-02\"}")}, nil, false},
	} {
		if !c.usual && !thorough() {
			continue
		}
		t.Run(c.name, func(t *testing.T) {
			lib, err := changed(t, c.change).Load()
			require.NoError(t, err)
			require.ElementsMatch(t, c.rest, resting(t, lib, "scenario"))
			for _, of := range []string{"lesson", "question", "part", "module", "competency"} {
				resting(t, lib, of)
			}
			for _, s := range lib.Scenarios() {
				p, ok := lib.Procedure(s.Procedure)
				require.True(t, ok)
				if s.Kind != simulate.FindWrong {
					require.Empty(t, scenarios.Prove(s, p), s.ID)
				}
			}
		})
	}
}
