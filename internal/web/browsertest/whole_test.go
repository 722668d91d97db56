package browsertest

import (
	"bytes"
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"github.com/xuri/excelize/v2"

	"stillwet/internal/training"
)

// A turnover is recorded with the server away for half of it, over a reload; its outcome is
// chosen, both sign from their own sign-ins, and the workbook shows it.
func TestAWholeDemonstrationWithTheServerAwayForHalf(t *testing.T) {
	c := living(t)
	w := c.watching()
	w.ready()
	model, _ := c.Taps("against-the-clock")
	n := len(model)
	w.work(model[:n/4])
	before := len(c.recorded(w.id))
	c.away()
	w.alone = true
	w.work(model[n/4 : 3*n/4])
	waiting := eval[int](w.tab, `Number(/(\d+) waiting/.exec(document.getElementById("sent").textContent)[1])`)
	require.Greater(t, waiting, n/4, "the taps of half of it wait")
	require.Equal(t, before, len(c.recorded(w.id)))
	c.back()
	w.alone = false
	w.sent()
	w.see(0)
	w.work(model[3*n/4:])
	asked, r := w.finish()
	require.Empty(t, asked)
	require.Empty(t, r.Findings)
	require.Contains(t, w.text("h1"), "Passed, with nothing to change")

	w.click(fmt.Sprintf("input[value=%q]", training.WatchedMet))
	w.click(`form[action*="/outcome"] button`)
	w.until(`document.querySelector('form[action*="/hand-over"]') !== null`, "the outcome is not chosen")
	tess := c.tab(desktop)
	c.signApart(w.tab, tess)

	edda := c.signedIn("edda", desktop)
	edda.open("/people")
	f, err := excelize.OpenReader(bytes.NewReader(edda.workbook(2026)), excelize.Options{UnzipSizeLimit: 32 << 20})
	require.NoError(t, err)
	defer func() { require.NoError(t, f.Close()) }()
	rows, err := f.GetRows("Demonstrations")
	require.NoError(t, err)
	row := slices.IndexFunc(rows, func(row []string) bool { return slices.Contains(row, "Tess Invented") })
	require.Positive(t, row)
	said := strings.Join(rows[row], " | ")
	for _, word := range []string{"Pia Invented", training.WatchedMet.Words()} {
		require.Contains(t, said, word)
	}
	report, err := c.Verify(t.Context())
	require.NoError(t, err)
	require.Empty(t, report.Faults)
}
