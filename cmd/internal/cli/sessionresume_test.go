package cli

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"breakcue/audio"
	"breakcue/audio/audiotest"
	"breakcue/audio/live"
	"breakcue/cmd/internal/session"
	"breakcue/timing/logbook"
)

// stopped runs a session that the sound card ends after the first of two readings for the right cylinder, and returns its
// folder.
func stopped(t *testing.T) (s *shop, root, dir string) {
	s = newShop(t, fourTimes...)
	s.typedAt(map[float64]string{0.5: "# right as_found", 1.6: "2.28/2.25", 2.6: "2.31/2.28"})
	inner := s.wrap
	s.wrap = func(src audio.Source) audio.Source {
		return inner(audiotest.FailAfter(src, 48000*3, &live.DeviceError{Device: "line box", What: "no sound for 2 s"}))
	}
	code, dir := s.session(t, "--plain")
	require.Equal(t, ExitAudio, code, s.errs.String())
	return s, filepath.Dir(dir), dir
}

// goOn resumes with a new sound, a reading for its first opening, and returns the report.
func goOn(t *testing.T, s *shop, root string, args ...string) session.Report {
	s.out.Reset()
	s.errs.Reset()
	s.sound.Frames = 48000 * 5
	s.typedAt(map[float64]string{1.6: "2.30/2.27", 4.8: "q"})
	require.Equal(t, ExitOK, s.run(t, append([]string{"session", "--plain", "--dir", root}, args...)...), s.errs.String())
	said := s.errs.String()
	s.out.Reset()
	dirs, err := filepath.Glob(filepath.Join(root, "*"))
	require.NoError(t, err)
	require.Len(t, dirs, 1, "no new session was begun")
	require.Equal(t, ExitOK, s.run(t, "log", "show", dirs[0], "--json"), said)
	var r session.Report
	require.NoError(t, json.Unmarshal(s.out.Bytes(), &r))
	assert.Contains(t, said, "going on with "+dirs[0]+": 2 passes so far, at right, as found")
	return r
}

func TestResumeGoesOnWhereItStopped(t *testing.T) {
	s, root, dir := stopped(t)
	first, err := os.ReadFile(filepath.Join(dir, "take-01.wav"))
	require.NoError(t, err)
	r := goOn(t, s, root, "--resume")
	right := r.Cylinders[1].Phases[0]
	require.Len(t, right.Passes, 3)
	assert.Equal(t, 3, right.N)
	assert.Equal(t, []int{1, 1, 2}, []int{right.Passes[0].Edge.Take, right.Passes[1].Edge.Take, right.Passes[2].Edge.Take})
	assert.InDelta(t, 1.0, right.Passes[2].Edge.TimeS, 1e-4, "in the second recording; two frames")
	again, err := os.ReadFile(filepath.Join(dir, "take-01.wav"))
	require.NoError(t, err)
	assert.True(t, bytes.Equal(first, again), "the first recording is as it was")

	// Finished now: the newest that is not is none, but by its name it can be gone on with.
	s.errs.Reset()
	assert.Equal(t, ExitFailed, s.run(t, "session", "--resume", "--dir", root))
	assert.Contains(t, s.errs.String(), "was left unfinished")
	s.out.Reset()
	s.typedAt(map[float64]string{1.6: "2.29/2.26", 4.8: "q"})
	require.Equal(t, ExitOK, s.run(t, "session", "--plain", "--dir", root, "--resume="+filepath.Base(dir)), s.errs.String())
	assert.Contains(t, s.out.String(), "take 3, 1.0")
	assert.FileExists(t, filepath.Join(dir, "take-03.wav"))
}

// After kill -9 there is no end in the journal, perhaps half a line, and a recording that no entry tells of.
func TestResumeAfterAKill(t *testing.T) {
	s, root, dir := stopped(t)
	path := filepath.Join(dir, logbook.FileName)
	data, err := os.ReadFile(path)
	require.NoError(t, err)
	lines := bytes.SplitAfter(data, []byte("\n"))
	at := len(lines) - 1
	for ; bytes.Contains(lines[at], []byte(`"end"`)) || bytes.Contains(lines[at], []byte(`"result"`)) || len(lines[at]) == 0; at-- {
	}
	cut := append(bytes.Join(lines[:at+1], nil), []byte(`{"schema":"breakcue.journal/1","seq":9`)...)
	require.NoError(t, os.WriteFile(path, cut, 0o644))
	require.NoError(t, os.WriteFile(filepath.Join(dir, "take-02.wav"), []byte("RIFF"), 0o644))
	r := goOn(t, s, root, "--resume")
	assert.Len(t, r.Cylinders[1].Phases[0].Passes, 3)
	kept, err := os.ReadFile(filepath.Join(dir, "take-02.wav"))
	require.NoError(t, err)
	assert.Equal(t, "RIFF", string(kept))
	assert.FileExists(t, filepath.Join(dir, "take-03.wav"))
}

func TestResumeRefuses(t *testing.T) {
	s, root, dir := stopped(t)
	w, err := logbook.OpenAppend(dir, s.env.Now)
	require.NoError(t, err)
	for _, tt := range []struct {
		args []string
		code int
		says string
	}{
		{[]string{"--resume", "--engine", "x.toml"}, ExitUsage, "--engine is given together with --resume"},
		{[]string{"--resume", "--name", "x"}, ExitUsage, "--name is given together with --resume"},
		{[]string{"--resume", "--input", "x.wav"}, ExitUsage, "--input is given together with --resume"},
		{[]string{"--resume", "twin"}, ExitUsage, "write --resume=twin"},
		{[]string{"--resume=none"}, ExitFailed, `no session "none"`},
		{[]string{"--resume"}, ExitFailed, "end the other program"}, // that holds the lock
	} {
		s.errs.Reset()
		assert.Equal(t, tt.code, s.run(t, append([]string{"session", "--dir", root}, tt.args...)...), "%v", tt.args)
		assert.Contains(t, s.errs.String(), tt.says)
	}
	require.NoError(t, w.Close())
	require.NoError(t, os.WriteFile(filepath.Join(dir, logbook.FileName), []byte("nothing\n"), 0o644))
	s.errs.Reset()
	assert.Equal(t, ExitFailed, s.run(t, "session", "--dir", root, "--resume"))
	assert.Contains(t, s.errs.String(), "cannot be gone on with")
}

// A last closed reading typed before the stop is completed after it.
func TestResumeKeepsAHalfReading(t *testing.T) {
	s, root, dir := stopped(t)
	w, err := logbook.OpenAppend(dir, s.env.Now)
	require.NoError(t, err)
	_, err = w.Append(logbook.LastClosed{Text: "2.33/", Cylinder: "right", Phase: logbook.AsFound})
	require.NoError(t, err)
	require.NoError(t, w.Close())
	s.out.Reset()
	s.typedAt(map[float64]string{1.6: "2.30", 4.8: "q"})
	s.sound.Frames = 48000 * 5
	require.Equal(t, ExitOK, s.run(t, "session", "--plain", "--dir", root, "--resume"), s.errs.String())
	assert.Contains(t, s.out.String(), "2.33/; first open? right, as found")
	texts, _ := readingsIn(t, root)
	assert.Equal(t, "2.33/2.30", texts[len(texts)-1])
}
