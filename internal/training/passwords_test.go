package training_test

import (
	"testing"

	"github.com/alexedwards/argon2id"
	"github.com/stretchr/testify/require"

	"stillwet/internal/training"
)

func costOf(t *testing.T, hash string) training.HashCost {
	p, _, _, err := argon2id.DecodeHash(hash)
	require.NoError(t, err)
	require.EqualValues(t, []uint32{1, 16, 32}, []uint32{uint32(p.Parallelism), p.SaltLength, p.KeyLength})
	return training.HashCost{MemoryKiB: p.Memory, Passes: p.Iterations}
}

func TestPasswordsCostWhatTheServiceWasGivenAndEveryStoredCostIsGood(t *testing.T) {
	w := staffed(t)
	stored := func() string {
		a, err := w.Store.AccountOf(ctx, w.educator.Person.ID)
		require.NoError(t, err)
		return a.PasswordHash
	}
	cheap := w.HashCost
	require.Equal(t, cheap, costOf(t, stored()))
	require.Equal(t, cheap, costOf(t, w.UnknownHash()), "an unknown name takes as long as a known one")

	config := w.Config
	config.HashCost = training.HashCost{}
	w.Service = training.New(config)
	owasp := training.HashCost{MemoryKiB: 19456, Passes: 2}
	require.Equal(t, owasp, costOf(t, w.UnknownHash()))
	edda := w.In("edda")
	_, err := w.ChangePassword(ctx, edda, w.Key(), training.DemoPassword, long)
	require.NoError(t, err)
	require.Equal(t, owasp, costOf(t, stored()), "what a clinic gets when nobody says anything")
	_, _, err = w.SignIn(ctx, "edda", "not that one at all")
	require.ErrorIs(t, err, training.ErrPassword)
	_, _, err = w.SignIn(ctx, "nobody", long)
	require.ErrorIs(t, err, training.ErrPassword)
	_, _, err = w.SignIn(ctx, "edda", long)
	require.NoError(t, err)
}
