package views

import (
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/assess"
	"stillwet/internal/procedure"
)

// A breach of a pair that somebody confirmed says who and when, and asks nobody to confirm it.
func TestABreachOfAConfirmedPairSaysWhoConfirmedIt(t *testing.T) {
	own := procedure.Basis{Kind: procedure.ClinicToConfirm}
	p := &procedure.Procedure{Definition: procedure.Definition{Order: []procedure.Pair{
		{Earlier: "a", Later: "b", Why: "Our own custom.", Basis: own, Confirmed: procedure.Confirmed{By: "Mara Voss", On: "2027-01-02"}},
		{Earlier: "b", Later: "c", Why: "Not said yet.", Basis: own},
	}}}
	r := Result{Procedure: p}
	said := r.restsOn(assess.Finding{Why: "Our own custom.", Source: own.String()})
	require.Contains(t, said, "Mara Voss")
	require.Contains(t, said, "2 Jan 2027")
	require.NotContains(t, said, "confirm with")
	require.Equal(t, own.String(), r.restsOn(assess.Finding{Why: "Not said yet.", Source: own.String()}))
	require.Equal(t, "CDC", r.restsOn(assess.Finding{Why: "Our own custom.", Source: "CDC"}))
}
