package cli

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"breakcue/audio/bench"
	"breakcue/cmd/internal/session"
	"breakcue/timing/logbook"
)

// bothRecorded is a recording of two sets of points in one channel: the first opens at 0.5, 2 and 3.5 s, the second at 1, 2.5 and 4 s.
func bothRecorded(t *testing.T) (file string) {
	opens := func(from float64) (out []bench.Change) {
		for i := range 3 {
			at := from + 1.5*float64(i)
			out = append(out, bench.Change{At: at}, bench.Change{At: at + 0.8, Closed: true})
		}
		return out
	}
	src, err := bench.New(bench.Config{SampleRate: 48000, Channels: 1, Frames: 48000 * 5, Tone: 1010, Level: -12, Closed: 0.5, Open: 0.001, Noise: 1e-3,
		BandLimited: true, Changes: opens(0.5),
		Second: &bench.Second{Tone: 2730, Level: -12, Closed: 0.4, Open: 0.001, Changes: opens(1)}})
	require.NoError(t, err)
	file = filepath.Join(t.TempDir(), "both.wav")
	require.NoError(t, copyTo(file, src))
	return file
}

// run runs a command that has nothing at its standard input but what is given.
func runWith(t *testing.T, in string, tty bool, args ...string) (code int, out, errs string) {
	var o, e bytes.Buffer
	env := OSEnv()
	env.In, env.Out, env.Err, env.InTTY, env.OutTTY = strings.NewReader(in), &o, &e, tty, false
	code = Main(t.Context(), args, env)
	return code, o.String(), e.String()
}

// idsOf are the openings that the passes of a cylinder, as found, belong to.
func idsOf(r session.Report, cylinder string) (ids []int64) {
	ph, _ := r.Phase(logbook.Place{Cylinder: cylinder, Phase: logbook.AsFound})
	for _, p := range ph.Passes {
		if p.Edge != nil {
			ids = append(ids, p.Edge.ID)
		}
	}
	return ids
}

// From a recording of both sets a reading belongs to the next opening of the points that serve its cylinder. Everything that the log does
// understands the journal.
func TestASessionFromARecordingOfTwoSets(t *testing.T) {
	file, root := bothRecorded(t), t.TempDir()
	readings := filepath.Join(t.TempDir(), "readings.txt")
	require.NoError(t, os.WriteFile(readings, []byte("# left as_found\n2.20/2.14\n2.18/2.15\n# right as_found\n2.03/1.98\n-\n2.02/1.98\n"), 0o644))
	sheets := []string{"--engine", "../../../testdata/sheets/twin.toml", "--dial", "../../../testdata/sheets/dial.toml", "--dir", root}
	code, out, errs := runWith(t, "", false, append([]string{"session", "--input", file, "--tone", "1010", "--tone", "2730", "--readings", readings, "--json"}, sheets...)...)
	require.Equal(t, ExitOK, code, errs)
	var r session.Report
	require.NoError(t, json.Unmarshal([]byte(out), &r))
	assert.Equal(t, []int64{1, 3}, idsOf(r, "left"))
	assert.Equal(t, []int64{2, 4, 6}, idsOf(r, "right"))
	require.Len(t, r.Unread, 1)
	assert.EqualValues(t, 5, r.Unread[0].ID)
	assert.Equal(t, 1, r.Unread[0].Set)
	for _, c := range r.Cylinders {
		for _, p := range c.Phases[0].Passes {
			assert.Equal(t, map[string]int{"left": 1, "right": 2}[c.Name], p.Edge.Set)
		}
	}

	dirs, err := filepath.Glob(filepath.Join(root, "*"))
	require.NoError(t, err)
	require.Len(t, dirs, 1)
	name := filepath.Base(dirs[0])
	page := filepath.Join(t.TempDir(), "page.html")
	for _, args := range [][]string{
		{"log", "check", name}, {"log", "show", name}, {"log", "show", name, "--json"}, {"log", "export", name}, {"log", "report", name, "--out", page},
		{"log", "amend", name, "--opening", "5", "--reading", "2.19/2.15", "--place", "left as_found", "--why", "found on paper", "--who", "me"},
	} {
		code, out, errs := runWith(t, "", false, append(args, "--dir", root)...)
		assert.Equal(t, ExitOK, code, "%v: %s%s", args, out, errs)
	}
	j, err := logbook.Read(dirs[0])
	require.NoError(t, err)
	r, err = session.FromJournal(j)
	require.NoError(t, err)
	assert.Equal(t, []int64{1, 3, 5}, idsOf(r, "left"))
	assert.Empty(t, r.Unread)
}

// Asked for, each cylinder is asked for the openings of its own points; what is left of the others is told.
func TestASessionOfTwoSetsAsks(t *testing.T) {
	root := t.TempDir()
	code, _, errs := runWith(t, "# left as_found\n2.20/2.14\n2.18/2.15\n-\n# right as_found\n2.03/1.98\n2.02/1.98\n2.01/1.98\n", true,
		"session", "--input", bothRecorded(t), "--tone", "1010", "--tone", "2730", "--engine", "../../../testdata/sheets/twin.toml",
		"--dial", "../../../testdata/sheets/dial.toml", "--dir", root)
	require.Equal(t, ExitOK, code, errs)
	for _, want := range []string{
		"opening 1 of 6, points open at 0.500 s, next at 1.000 s; left, as found: ", "opening 5 of 6, points open at 3.500 s",
		"no opening of the points of left is left, 3 of the others: type # and another cylinder and phase to go on to these: ",
		"opening 2 of 6, points open at 1.000 s, next at 2.000 s; right, as found: ", "opening 6 of 6, points open at 4.000 s; right",
	} {
		assert.Contains(t, errs, want)
	}
}
