package scenarios_test

import (
	"fmt"
	"sync"
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/scenarios"
)

// Sets are changed, read and proved by many at once, and each gets what is its own.
func TestSetsAreReadByManyAtOnce(t *testing.T) {
	var all sync.WaitGroup
	errs := make([]error, 6)
	for i := range errs {
		all.Go(func() {
			title := fmt.Sprintf("Display %d", i%3)
			set, err := scenarios.BuiltIn().With(scenarios.Edit{Do: "put", List: "surfaces", Row: "screen", Fields: fields{"title": title}})
			if err != nil {
				errs[i] = err
				return
			}
			outline, err := set.Outline()
			if err != nil {
				errs[i] = err
				return
			}
			whole, err := set.Load()
			if err != nil {
				errs[i] = err
				return
			}
			for _, lib := range []*scenarios.Library{outline, whole} {
				p, _ := lib.Procedure("between-patients")
				if s := p.Surfaces[p.SurfaceIndex("screen")]; s.Title != title {
					errs[i] = fmt.Errorf("%q is read where %q was written", s.Title, title)
				}
			}
		})
	}
	all.Wait()
	for _, err := range errs {
		require.NoError(t, err)
	}
}
