package main

import (
	"context"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"stillwet/internal/store"
)

func listFile(t *testing.T, text string) string {
	t.Helper()
	name := filepath.Join(t.TempDir(), "staff.csv")
	require.NoError(t, os.WriteFile(name, []byte(text), 0o600))
	return name
}

// clinicWithEducator makes a clinic as its owner does: a first start, and its link.
func clinicWithEducator(t *testing.T, dir string) (stop func()) {
	t.Helper()
	s, stop := serving(t, "serve", "--new", "--data", dir, "--listen", "127.0.0.1:0", "--clinic", "Invented", "--zone", "UTC")
	link := firstLink.FindStringSubmatch(s.said)
	require.NotNil(t, link, s.said)
	form := url.Values{"key": {"key-of-a-test"}, "name": {"Edda Invented"}, "username": {"edda"}, "password": {"a long invented phrase"}, "again": {"a long invented phrase"}}
	request, err := http.NewRequest(http.MethodPost, s.url+"/first/"+link[1], strings.NewReader(form.Encode()))
	require.NoError(t, err)
	request.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	request.Header.Set("Sec-Fetch-Site", "same-origin")
	answer, err := http.DefaultClient.Do(request)
	require.NoError(t, err)
	require.NoError(t, answer.Body.Close())
	require.Less(t, answer.StatusCode, 400)
	return stop
}

const twoPeople = "Staff number,Name,Role,Hired\n0042,Ann Lee,staff,2024-03-15\n7,=Bo Ek,Preceptor,25/12/2023\n"

func TestImportPeople(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "clinic")
	good, bad := listFile(t, twoPeople), listFile(t, twoPeople+"8,Cy Nil,staff,03/04/2024\n")
	code, _, errs := stillwet(t, "import", "people", good, "--data", dir)
	require.Equal(t, 2, code)
	require.Contains(t, errs, "holds no clinic")
	require.NoDirExists(t, dir, "no clinic is begun by it")

	stop := clinicWithEducator(t, dir)
	stopped := false
	defer func() {
		if !stopped {
			stop()
		}
	}()
	// Beside the running server.
	code, out, errs := stillwet(t, "import", "people", bad, "--data", dir, "--json")
	require.Equal(t, 1, code, errs)
	require.Equal(t, `{"new":2,"changed":0,"same":0,"errors":[{"row":4,"column":"Hired","value":"03/04/2024","do":"This could be 3 April 2024 or 4 March 2024. Say which comes first in this file, the day or the month, or write it as 2024-04-03."}]}`+"\n", out)
	code, out, _ = stillwet(t, "import", "people", bad, "--data", dir)
	require.Equal(t, 1, code)
	require.Contains(t, out, "row 4, Hired, \"03/04/2024\": This could be 3 April 2024")
	require.Contains(t, out, "--dates day-month")
	require.Contains(t, out, "Nothing was changed. Mend the file and import it again.")
	code, out, _ = stillwet(t, "import", "people", bad, "--data", dir, "--json", "--dry-run", "--dates", "day-month")
	require.Equal(t, 0, code)
	require.Equal(t, `{"new":3,"changed":0,"same":0,"errors":[]}`+"\n", out)
	for _, want := range []string{`{"new":2,"changed":0,"same":0,"errors":[]}`, `{"new":0,"changed":0,"same":2,"errors":[]}`} {
		code, out, errs = stillwet(t, "import", "people", good, "--data", dir, "--json")
		require.Equal(t, 0, code, errs)
		require.Equal(t, want+"\n", out)
	}
	for _, args := range [][]string{{"people", good, "--data", dir, "--dates", "year-day"}, {"people", good + "x", "--data", dir}, {"people"}, {"person", good}} {
		code, _, errs = stillwet(t, append([]string{"import"}, args...)...)
		require.Equal(t, 2, code, args)
		require.NotEmpty(t, errs)
	}
	stop()
	stopped = true

	// Without a server.
	code, out, errs = stillwet(t, "import", "people", listFile(t, strings.ReplaceAll(twoPeople, "Ann Lee", "Ann Lee-Berg")), "--data", dir)
	require.Equal(t, 0, code, errs)
	require.Equal(t, "0 new, 1 changed, 1 the same, 0 faults. Done.\n  changed: 0042 Ann Lee: name Ann Lee → Ann Lee-Berg\n1 here and not in the file (nothing becomes of them):\n  Edda Invented\n", out)
	code, out, errs = stillwet(t, "verify", "--data", dir)
	require.Equal(t, 0, code, out+errs)
	_, again := serving(t, "serve", "--data", dir, "--listen", "127.0.0.1:0")
	again()

	s, err := store.OpenToRead(context.Background(), dir)
	require.NoError(t, err)
	defer func() { require.NoError(t, s.Close()) }()
	people, err := s.People(context.Background())
	require.NoError(t, err)
	var names []string
	for _, p := range people {
		names = append(names, p.Name+" "+p.StaffNo)
	}
	require.Equal(t, []string{"=Bo Ek 7", "Ann Lee-Berg 0042", "Edda Invented "}, names)
}

// An item's list is entered at once; a list of papers waits for an educator.
func TestImportItemsAndEarlier(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "clinic")
	clinicWithEducator(t, dir)()
	code, _, errs := stillwet(t, "import", "people", listFile(t, twoPeople), "--data", dir)
	require.Equal(t, 0, code, errs)
	items := listFile(t, "Staff number,Item,Date,Evidence\n0042,Fit test,2026-01-05,Blue folder\n")
	code, out, _ := stillwet(t, "import", "items", items, "--data", dir, "--json")
	require.Equal(t, 1, code)
	require.JSONEq(t, `{"new":0,"same":0,"errors":[{"row":2,"column":"Item","value":"Fit test","do":"There is no such item here. Write its title as it is here, or add the item first."}]}`, out)

	papers := listFile(t, "Staff number,Competency,Date,Signed by,Where the paper lies\n0042,turnover-between-patients,2024-01-05,Ulla Before,Green folder\n")
	code, out, errs = stillwet(t, "import", "earlier", papers, "--data", dir, "--dry-run")
	require.Equal(t, 0, code, errs)
	require.Contains(t, out, "1 new, 0 here already, 0 faults. Nothing was changed: this was a dry run.")
	for _, want := range []string{`{"new":1,"same":0,"errors":[]}`, `{"new":0,"same":1,"errors":[]}`} {
		code, out, errs = stillwet(t, "import", "earlier", papers, "--data", dir, "--json")
		require.Equal(t, 0, code, errs)
		require.JSONEq(t, want, out)
	}
	code, out, errs = stillwet(t, "verify", "--data", dir)
	require.Equal(t, 0, code, out+errs)
}
