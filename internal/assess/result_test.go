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
