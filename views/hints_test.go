package views

import (
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/assess"
	"stillwet/internal/course"
	"stillwet/internal/procedure"
)

func TestHintsOfManySurfacesAreOneWithAFewNames(t *testing.T) {
	p := &procedure.Procedure{}
	var found []course.Located
	for _, id := range []string{"a", "b", "c", "d", "e"} {
		found = append(found, course.Located{Finding: assess.Finding{Rule: "every-surface", Act: 9, Surface: id, Message: "Not wiped: " + id + "."}, Rows: []int{4}})
	}
	found = append(found, course.Located{Finding: assess.Finding{Rule: "gloved", Act: 2, Acts: []int{2, 5, 6}, Message: "Bare hands."}, Rows: []int{1, 3, 3}})
	hints := Hints(p, found)
	require.Len(t, hints, 2, "what is said in the same words is one")
	require.Equal(t, Hint{Row: 2, Message: "Bare hands.", Again: "step 4"}, hints[0], "in the order of the rows, as the learner counts them")
	require.Equal(t, 5, hints[1].Row)
	require.Regexp(t, `^Not wiped: .*; and 2 more\.$`, hints[1].Message)
}
