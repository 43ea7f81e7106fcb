package cli

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"breakcue/timing/logbook"
)

// A session that is being recorded is not corrected, and what was written stays byte for byte.
func TestAmendWaitsForTheWriter(t *testing.T) {
	w, err := logbook.Create(t.TempDir(), "twin", logbook.Begin{}, time.Now)
	require.NoError(t, err)
	before, err := os.ReadFile(filepath.Join(w.Dir(), logbook.FileName))
	require.NoError(t, err)
	var out, errs bytes.Buffer
	env := Env{Out: &out, Err: &errs, Getenv: func(string) string { return "" }, Now: time.Now}
	code := Main(context.Background(), []string{"log", "amend", w.Dir(), "--entry", "1", "--field", "name", "--to", "x", "--why", "x", "--dir", filepath.Dir(w.Dir())}, env)
	assert.Equal(t, ExitFailed, code)
	assert.Contains(t, errs.String(), "is being written by process")
	assert.Contains(t, errs.String(), "breakcue: hint: wait until that session has ended")
	require.NoError(t, w.Close())
	after, err := os.ReadFile(filepath.Join(w.Dir(), logbook.FileName))
	require.NoError(t, err)
	assert.Equal(t, before, after)
}
