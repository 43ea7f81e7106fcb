//go:build unix

package profiles

import (
	"io/fs"
	"os"
	"path/filepath"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"breakcue/cmd/internal/leads"
)

// What never ends, and what nobody writes to, is refused at once; so is more than any profile has. All else in the folder is found.
func TestReadsNothingThatHoldsItUp(t *testing.T) {
	s, dir := home(t)
	good := kept("cable", leads.InLine)
	_, err := s.Save(good)
	require.NoError(t, err)
	pipe, long := filepath.Join(dir, "pipe.json"), filepath.Join(dir, "long.json")
	require.NoError(t, syscall.Mkfifo(pipe, 0o600))
	require.NoError(t, os.WriteFile(long, make([]byte, most+1), 0o600))
	for _, path := range []string{pipe, "/dev/zero", "/dev/full", dir} {
		_, err := Read(path)
		assert.ErrorContains(t, err, path+": got a folder, a device or a pipe, want a file")
		assert.ErrorAs(t, err, new(*fs.PathError))
	}
	_, err = Read(long)
	assert.ErrorContains(t, err, "got more than 1048576 bytes, want a profile")
	list, err := s.All()
	assert.Equal(t, []Kept{good}, list)
	assert.ErrorContains(t, err, "moved to "+long+".damaged")
	_, err = os.Lstat(pipe)
	assert.NoError(t, err, "it is left where it is")
}
