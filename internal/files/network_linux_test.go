package files

import (
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/require"
)

func TestNetwork(t *testing.T) {
	kind, err := Network(t.TempDir())
	require.NoError(t, err)
	require.Empty(t, kind, "tests are not run on another machine's disk")
	_, err = Network(filepath.Join(t.TempDir(), "missing"))
	require.Error(t, err)
	for kind, magic := range map[string]int64{"NFS": 0x6969, "CIFS": -0xACB2BE, "SMB": 0xFE534D42, "FUSE, such as sshfs": 0x65735546, "9P": 0x01021997} {
		require.Equal(t, kind, networkOf(magic))
	}
	for _, local := range []int64{0xEF53, 0x58465342, 0x9123683E, 0x01021994, 0x2FC12FC1} { // ext4, XFS, Btrfs, tmpfs, ZFS
		require.Empty(t, networkOf(local))
	}
}
