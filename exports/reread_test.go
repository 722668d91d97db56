package exports

import (
	"bytes"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"github.com/xuri/excelize/v2"

	"stillwet/internal/training"
)

// What was exported agrees with the records it was made of, and each altered cell of a
// signed row is named with its place.
func TestAKeptWorkbookIsComparedCellByCell(t *testing.T) {
	a := invented(t)
	text := bookText(t, a)
	kept, err := Reread(bytes.NewReader(text))
	require.NoError(t, err)
	require.Equal(t, a.Year, kept.Year)
	require.Equal(t, a.Ledger.Note, kept.Head)
	require.Equal(t, a.Ledger.Key, kept.Key)
	none, err := kept.Against(a)
	require.NoError(t, err)
	require.Empty(t, none)

	later := invented(t)
	later.MadeAt = "2027-06-02T15:04:00.000Z"
	later.SignOffs[0].Due = "2029-03-08"
	differences, err := kept.Against(later)
	require.NoError(t, err)
	require.Len(t, differences, 1)
	require.Equal(t, "Sign-offs", differences[0].Sheet)
	require.Contains(t, differences[0].Cell, "(Due)")

	gone := invented(t)
	gone.SignOffs = nil
	differences, err = kept.Against(gone)
	require.NoError(t, err)
	require.Len(t, differences, 1)
	require.Contains(t, differences[0].String(), "the records have nothing there")
}

// Every cell of the signed rows counts, but those of rows that nobody had signed.
func TestEveryAlteredCellOfASignedRowIsNamed(t *testing.T) {
	a := invented(t)
	f, err := excelize.OpenReader(bytes.NewReader(bookText(t, a)))
	require.NoError(t, err)
	defer func() { require.NoError(t, f.Close()) }()
	rows, err := f.GetRows("Sign-offs")
	require.NoError(t, err)
	for c, title := range rows[0] {
		if strings.HasSuffix(title, "Sign-off id") {
			continue
		}
		cell, err := excelize.CoordinatesToCellName(c+1, 2)
		require.NoError(t, err)
		was, err := f.GetCellValue("Sign-offs", cell, excelize.Options{RawCellValue: true})
		require.NoError(t, err)
		require.NoError(t, f.SetCellValue("Sign-offs", cell, was+" changed"))
		var b bytes.Buffer
		require.NoError(t, f.Write(&b))
		kept, err := Reread(&b)
		require.NoError(t, err)
		differences, err := kept.Against(a)
		require.NoError(t, err)
		require.Len(t, differences, 1, title)
		require.Contains(t, differences[0].Cell, cell)
		require.NoError(t, f.SetCellValue("Sign-offs", cell, was))
	}
}

func TestAFileThatIsNoWorkbookIsRefused(t *testing.T) {
	_, err := Reread(strings.NewReader("no workbook"))
	require.ErrorContains(t, err, "cannot be read as a workbook")
	_, err = Reread(bytes.NewReader(make([]byte, mostBookBytes+1)))
	require.ErrorContains(t, err, "larger than 32 MB")
	other := excelize.NewFile()
	var b bytes.Buffer
	require.NoError(t, other.Write(&b))
	require.NoError(t, other.Close())
	_, err = Reread(&b)
	require.ErrorContains(t, err, "no annual workbook")
}

// bookText is a workbook as a file.
func bookText(t testing.TB, a training.Annual) []byte {
	var b bytes.Buffer
	require.NoError(t, Annual(&b, a))
	return b.Bytes()
}

func FuzzReread(f *testing.F) {
	f.Add(bookText(f, invented(f)))
	f.Add([]byte("PK\x03\x04"))
	f.Fuzz(func(t *testing.T, text []byte) {
		kept, err := Reread(bytes.NewReader(text))
		require.True(t, err != nil || kept.Year != 0)
	})
}
