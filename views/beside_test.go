package views

import (
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/procedure"
)

func TestTheModelStandsBesideOnesOwnOrder(t *testing.T) {
	says := func(rows []besideRow) (all []string) {
		for _, r := range rows {
			all = append(all, r.Says)
		}
		return all
	}
	p := &procedure.Procedure{}
	b := NewBeside(p, []string{"rub", "on", "look", "off", "rub", "extra"}, []string{"look", "rub", "on", "off", "rub", "ready"})
	require.Equal(t, []string{"", "", "elsewhere in the model", "", "", "not in the model"}, says(b.Own))
	require.Equal(t, []string{"elsewhere in yours", "", "", "", "", "not in yours"}, says(b.Model))
	require.Contains(t, b.sentence(), "2 steps of yours and 2 of the model's")

	b = NewBeside(p, []string{"rub", "rub"}, []string{"rub"})
	require.Equal(t, []string{"", "not in the model"}, says(b.Own), "twice is not once")
	b = NewBeside(p, []string{"rub", "on"}, []string{"rub", "on"})
	require.Equal(t, "Yours is the model's order, step by step.", b.sentence())
	require.Empty(t, NewBeside(p, nil, nil).Own)
}
