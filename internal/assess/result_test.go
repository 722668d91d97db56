package assess

import (
	"testing"

	"github.com/stretchr/testify/require"
)

// What was read and written once is the same ever after.
func FuzzParseResult(f *testing.F) {
	s := 1.5
	full, err := (&Result{Log: "l", Procedure: "p", ProcedureHash: "-", RulesVersion: 1,
		Findings: []Finding{{Rule: "gloved", Act: 3, AtS: &s, Chain: []string{"a", "b"}}}, NotAssessed: []Gap{{Rule: "r", Reason: "x"}},
		Notes: []Note{{Act: 1, Text: "t"}}, Marks: Marks{Met: 1, Score: 0.5, Result: Pass, Lines: []MarkLine{{ID: "m", Status: Met}}}}).JSON()
	require.NoError(f, err)
	f.Add(full)
	f.Add([]byte(`{"findings":null,"marks":{"score":1e400}}`))
	f.Add([]byte(`[]`))
	f.Fuzz(func(t *testing.T, text []byte) {
		r, err := ParseResult(text)
		require.True(t, (r == nil) == (err != nil), "either a result or an error")
		if err != nil {
			return
		}
		once, err := r.JSON()
		require.NoError(t, err)
		again, err := ParseResult(once)
		require.NoError(t, err)
		twice, err := again.JSON()
		require.NoError(t, err)
		require.JSONEq(t, string(once), string(twice))
	})
}

func TestTheSameOfSeveralSurfacesIsSaidOnce(t *testing.T) {
	left := func(surface string) Finding {
		return Finding{Rule: "every-surface", Act: 9, Surface: surface, Message: "Not wiped: " + surface + ".", Critical: true}
	}
	spoilt := left("c")
	spoilt.Chain = []string{"bucket (act 3)"}
	later := left("d")
	later.Act = 0
	groups := SaidOnce([]Finding{left("a"), {Rule: "gloved", Message: "Bare hands."}, left("b"), spoilt, later, {Rule: "gloved", Message: "Bare hands."}})
	var sizes []int
	for _, g := range groups {
		sizes = append(sizes, len(g))
	}
	require.Equal(t, []int{2, 1, 1, 1, 1}, sizes, "another act, a way of its own and no surface stand apart")
	require.Equal(t, "b", groups[0][1].Surface)
}
