package cli

import (
	"context"
	"errors"
	"io"
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// A pipe may never open, and may never deliver: neither keeps the program.
func TestSpoolEndsWithItsContext(t *testing.T) {
	dir := t.TempDir()
	t.Setenv("TMPDIR", dir) // where os.CreateTemp goes; elsewhere than on Unix the last check finds nothing
	why := errors.New("enough")
	for name, open := range map[string]func(<-chan struct{}, func()) (io.ReadCloser, error){
		"opening": func(never <-chan struct{}, begun func()) (io.ReadCloser, error) {
			begun()
			<-never
			return nil, io.ErrClosedPipe
		},
		"reading": func(_ <-chan struct{}, begun func()) (io.ReadCloser, error) {
			r, _ := io.Pipe()
			begun()
			return r, nil
		},
	} {
		t.Run(name, func(t *testing.T) {
			ctx, cancel := context.WithCancelCause(t.Context())
			never := make(chan struct{})
			defer close(never)
			_, _, err := spool(ctx, func() (io.ReadCloser, error) { return open(never, func() { cancel(why) }) })
			require.ErrorIs(t, err, why)
			left, err := os.ReadDir(dir)
			require.NoError(t, err)
			assert.Empty(t, left)
		})
	}
}
