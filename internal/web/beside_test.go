package web

import (
	"errors"
	"testing"

	"github.com/stretchr/testify/require"
)

// Both are waited for; an error or a panic of either is one of the request.
func TestBeside(t *testing.T) {
	first, second := errors.New("the first"), errors.New("the second")
	fine, done := func() error { return nil }, 0
	require.NoError(t, beside(fine, func() error { done++; return nil }))
	require.Equal(t, 1, done)
	require.Equal(t, first, beside(func() error { return first }, fine))
	require.Equal(t, second, beside(func() error { return first }, func() error { return second }))
	require.PanicsWithValue(t, "broken", func() { _ = beside(func() error { panic("broken") }, fine) })
}
