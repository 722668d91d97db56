package ledger

import (
	"crypto/rand"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"golang.org/x/mod/sumdb/tlog"
)

// tree is the least store there can be: a list of hashes.
type tree struct {
	leaves [][]byte
	hashes []Hash
	heads  []Head
}

func (t *tree) read(indexes []int64) ([]Hash, error) {
	out := make([]Hash, len(indexes))
	for i, x := range indexes {
		if x >= int64(len(t.hashes)) {
			return nil, fmt.Errorf("no hash %d", x)
		}
		out[i] = t.hashes[x]
	}
	return out, nil
}

// add grows the tree from what is stored, as a new transaction does.
func (t *tree) add(tb testing.TB, leaf []byte) Head {
	size := int64(len(t.leaves))
	walk, err := Resume(size, t.read)
	require.NoError(tb, err)
	require.EqualValues(tb, len(t.hashes), StoredAt(size))
	t.leaves, t.hashes = append(t.leaves, leaf), append(t.hashes, walk.Add(leaf)...)
	t.heads = append(t.heads, walk.Head())
	return walk.Head()
}

// The eight leaves and the roots after each of them are the Merkle tree test
// vectors of the Certificate Transparency reference code (RFC 6962), published
// in merkletree/merkle_tree_test.cc there and again in transparency-dev/merkle,
// testonly/constants.go.
var vectorLeaves = []string{
	"", "00", "10", "2021", "3031", "40414243", "5051525354555657", "606162636465666768696a6b6c6d6e6f",
}

var vectorRoots = []string{
	"6e340b9cffb37a989ca544e6bb780a2c78901d3fb33738768511a30617afa01d",
	"fac54203e7cc696cf0dfcb42c92a1d9dbaf70ad9e621f4bd8d98662f00e3c125",
	"aeb6bcfe274b70a14fb067a5e5578264db0fa9b51af5e0ba159158f329e06e77",
	"d37ee418976dd95753c1c73862b9398fa2a2cf9b4ff0fdfe8b30cd95209614b7",
	"4e3bbb1f7b478dcfe71fb631631519a3bca12c9aefca1612bfce4c13a86264d4",
	"76e67dadbcdf1e10e1b74ddc608abd2f98dfb16fbce75277b5232a127f2087ef",
	"ddb89be403809e325750d3d263cd78929c2942b7942a34b77e122c9594a74c8c",
	"5dc9da79a70659a9ad559cb701ded9a2ab9d823aad2f4960cfe370eff4604328",
}

func TestPublishedRoots(t *testing.T) {
	var tr tree
	for i, text := range vectorLeaves {
		leaf, err := hex.DecodeString(text)
		require.NoError(t, err)
		h := tr.add(t, leaf)
		require.Equal(t, vectorRoots[i], hex.EncodeToString(h.Root[:]), "root after %d leaves", i+1)
	}
}

// The hashes to be stored, their places and every root are those of the general
// reference library golang.org/x/mod/sumdb/tlog, whether one walks on or resumes.
func TestWalkAgreesWithTheReferenceLibrary(t *testing.T) {
	var stored []Hash
	read := Reader(func(indexes []int64) (out []Hash, err error) {
		for _, x := range indexes {
			out = append(out, stored[x])
		}
		return out, nil
	})
	walk := &Walk{}
	require.Equal(t, sha256.Sum256(nil), [32]byte(walk.Head().Root), "RFC 6962 section 2.1: the root of no leaves is the hash of nothing")
	for i := range int64(300) {
		leaf := fmt.Appendf(nil, "leaf %d", i)
		want, err := tlog.StoredHashes(i, leaf, read)
		require.NoError(t, err)
		resumed, err := Resume(i, read)
		require.NoError(t, err)
		require.Equal(t, want, resumed.Add(leaf))
		require.Equal(t, want, walk.Add(leaf))
		require.EqualValues(t, len(stored), StoredAt(i))
		stored = append(stored, want...)
		root, err := tlog.TreeHash(i+1, read)
		require.NoError(t, err)
		require.Equal(t, Head{i + 1, root}, walk.Head())
		require.Equal(t, walk.Head(), resumed.Head())
	}
}

func grown(tb testing.TB, n int) *tree {
	var tr tree
	for i := range n {
		tr.add(tb, fmt.Appendf(nil, "leaf %d", i))
	}
	return &tr
}

func TestProofs(t *testing.T) {
	tr := grown(t, 21)
	for size := int64(1); size <= 21; size++ {
		head := tr.heads[size-1]
		for i := range size {
			p, err := ProveRecord(size, i, tr.read)
			require.NoError(t, err)
			require.NoError(t, CheckRecord(p, head, i, tr.leaves[i]))
			require.Error(t, CheckRecord(p, head, i, []byte("another leaf")))
			old := tr.heads[i]
			c, err := ProveTree(size, i+1, tr.read)
			require.NoError(t, err)
			require.NoError(t, CheckTree(c, head, old))
			old.Root[3] ^= 1
			require.Error(t, CheckTree(c, head, old))
		}
	}
}

func TestHeadIsSignedAndStrict(t *testing.T) {
	k, err := NewKey(rand.Reader, "abc")
	require.NoError(t, err)
	again, err := ParseKey(k.File())
	require.NoError(t, err)
	h := grown(t, 5).heads[4]
	signed, err := again.Sign(h)
	require.NoError(t, err)
	require.True(t, strings.HasPrefix(signed, "stillwet/abc\n5\n"))
	got, err := OpenHead(signed, k.Public())
	require.NoError(t, err)
	require.Equal(t, h, got)

	_, err = OpenHead(strings.Replace(signed, "\n5\n", "\n6\n", 1), k.Public())
	require.Error(t, err, "another size under the same signature")
	other, err := NewKey(rand.Reader, "abc")
	require.NoError(t, err)
	_, err = OpenHead(signed, other.Public())
	require.Error(t, err, "another key of the same name")
	_, err = ParseKey(strings.Split(k.File(), "\n")[0] + "\n" + other.Public() + "\n")
	require.Error(t, err, "lines of two keys")

	root := strings.Split(signed, "\n")[2]
	for _, text := range []string{
		"stillwet/abc\n05\n" + root + "\n", "stillwet/abc\n-1\n" + root + "\n", "stillwet/xyz\n5\n" + root + "\n",
		"stillwet/abc\n5\n" + root + "\nmore\n", "stillwet/abc\n5\nAAAA\n", "stillwet/abc\n5\n",
	} {
		_, err := parseHead(text, "stillwet/abc")
		require.Error(t, err, text)
	}
}

func TestCanonical(t *testing.T) {
	text, err := Canonical(Fields{
		"b": "<é & e\u0301>", "a": true, "n": int64(1) << 53, "list": []string{"x"}, "ev": []Fields{{"z": 1, "y": ""}},
	})
	require.NoError(t, err)
	require.Equal(t, `{"a":true,"b":"<é & é>","ev":[{"y":"","z":1}],"list":["x"],"n":9007199254740992}`, string(text))
	for name, bad := range map[string]any{
		"float": 1.5, "null": nil, "large": int64(1)<<53 + 1, "utf8": "\xff", "key": Fields{"A": 1}, "map": map[string]any{},
	} {
		_, err := Canonical(Fields{"x": bad})
		require.Error(t, err, name)
	}
}

func BenchmarkAppend(b *testing.B) {
	tr := grown(b, 1000)
	b.ReportAllocs()
	for b.Loop() {
		tr.add(b, []byte("leaf"))
	}
}
