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

func TestWholeRecording(t *testing.T) {
	whole := filepath.Join("..", "..", "..", "testdata", "recordings", "gated.wav")
	raw, err := os.ReadFile(whole)
	require.NoError(t, err)
	cut := filepath.Join(t.TempDir(), "cut.wav")
	require.NoError(t, os.WriteFile(cut, raw[:len(raw)/2], 0o644))
	text := filepath.Join(t.TempDir(), "text.wav")
	require.NoError(t, os.WriteFile(text, []byte("this is no sound"), 0o644))

	assert.NoError(t, wholeRecording(whole, 105670))
	assert.ErrorContains(t, wholeRecording(whole, 1<<40), "and points were heard at frame 1099511627776")
	assert.ErrorContains(t, wholeRecording(cut, 0), "is cut: it ends after")
	assert.EqualError(t, wholeRecording(cut+"x", 0), "is not there")
	assert.Error(t, wholeRecording(text, 0))
}

// A recording outside the session folder may have been put away: that is a note alone.
func TestRecordingsOutsideTheSession(t *testing.T) {
	j := logbook.Journal{}
	for i, file := range []string{"-", "take-01.wav", filepath.Join(t.TempDir(), "stick", "take.wav")} {
		j.Entries = append(j.Entries, logbook.Entry{Seq: int64(i + 1), Data: logbook.Take{Take: i + 1, File: file}})
	}
	found := recordings(t.TempDir(), j)
	require.Len(t, found, 2)
	assert.False(t, found[0].Note, found[0].What)
	assert.True(t, found[1].Note, found[1].What)
}

// A session that is being written is looked at, and not repaired.
func TestRepairWaitsForTheWriter(t *testing.T) {
	w, err := logbook.Create(t.TempDir(), "twin", logbook.Begin{}, time.Now)
	require.NoError(t, err)
	defer func() { assert.NoError(t, w.Close()) }()
	path := filepath.Join(w.Dir(), logbook.FileName)
	raw, err := os.ReadFile(path)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(path, append([]byte("{half\n"), raw...), 0o644))
	var out, errs bytes.Buffer
	env := Env{Out: &out, Err: &errs, Getenv: func(string) string { return "" }, Now: time.Now}
	code := Main(context.Background(), []string{"log", "check", "--all", "--repair", "--dir", filepath.Dir(w.Dir())}, env)
	assert.Equal(t, ExitFailed, code)
	assert.Contains(t, out.String(), "line 1: damaged")
	assert.NotContains(t, out.String(), "taken out")
	assert.Contains(t, errs.String(), "is being written by process")
	assert.Contains(t, errs.String(), "breakcue: hint: wait until that session has ended")
}
