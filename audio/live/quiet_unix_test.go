//go:build cgo && !nolive && unix

package live

import (
	"errors"
	"io"
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/sys/unix"
)

func TestQuietlyDropsStderrAndBringsItBack(t *testing.T) {
	// A pipe stands in for the screen on descriptor 2.
	r, w, err := os.Pipe()
	require.NoError(t, err)
	defer r.Close()
	screen, err := unix.Dup(2)
	require.NoError(t, err)
	require.NoError(t, unix.Dup2(int(w.Fd()), 2))

	boom := errors.New("boom")
	_, before := unix.Write(2, []byte("before "))
	got := quietly(func() error {
		unix.Write(2, []byte("noise "))
		return boom
	})
	_, after := unix.Write(2, []byte("after"))

	require.NoError(t, unix.Dup2(screen, 2))
	require.NoError(t, unix.Close(screen))
	require.NoError(t, w.Close())
	assert.Equal(t, boom, got)
	assert.NoError(t, errors.Join(before, after))
	seen, err := io.ReadAll(r)
	require.NoError(t, err)
	assert.Equal(t, "before after", string(seen))
}
