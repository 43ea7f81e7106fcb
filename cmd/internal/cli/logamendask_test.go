package cli

import (
	"bytes"
	"context"
	"encoding/json"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"breakcue/cmd/internal/session"
	"breakcue/timing/logbook"
)

// unread is a session on a recording of four openings without a reading, in as many takes.
func unread(t *testing.T, takes int) (folder string) {
	code, _, errs, root := atTerminal(t.Context(), t, strings.NewReader(""))
	require.Equal(t, ExitInconclusive, code, errs)
	dirs, err := filepath.Glob(filepath.Join(root, "*"))
	require.NoError(t, err)
	require.Len(t, dirs, 1)
	j, err := logbook.Read(dirs[0])
	require.NoError(t, err)
	w, err := logbook.OpenAppend(dirs[0], time.Now)
	require.NoError(t, err)
	for n := 2; n <= takes; n++ {
		for _, e := range j.Entries {
			switch d := e.Data.(type) {
			case logbook.Take:
				d.Take, d.File = n, "again.wav"
				_, err = w.Append(d)
			case logbook.Opening:
				d.Take = n
				_, err = w.Append(d)
			}
			require.NoError(t, err)
		}
	}
	require.NoError(t, w.Close())
	return dirs[0]
}

// askedAfterwards gives readings to a session, at a terminal or from a pipe. prompted sees the screen whenever something was
// written on it.
func askedAfterwards(ctx context.Context, folder string, tty bool, in io.Reader, prompted func(screen string), more ...string) (code int, out, errs string) {
	var o bytes.Buffer
	e := &lookedAt{seen: prompted}
	env := Env{In: in, InTTY: tty, Out: &o, Err: e, Getenv: func(string) string { return "somebody" }, Now: time.Now}
	code = Main(ctx, append([]string{"log", "amend", folder, "--ask", "--dir", filepath.Dir(folder)}, more...), env)
	return code, o.String(), e.String()
}

// lookedAt is a screen that is looked at.
type lookedAt struct {
	bytes.Buffer
	seen func(screen string)
}

func (w *lookedAt) Write(p []byte) (int, error) {
	n, err := w.Buffer.Write(p)
	if w.seen != nil {
		w.seen(w.String())
	}
	return n, err
}

// givenIn gives what is used by take and opening, and the others with why they are not.
func givenIn(t *testing.T, folder string) (used map[string]string, unused []string) {
	j, err := logbook.Read(folder)
	require.NoError(t, err)
	require.Empty(t, j.Damaged)
	r, err := session.FromJournal(j)
	require.NoError(t, err)
	used = map[string]string{}
	for _, c := range r.Cylinders {
		for _, ph := range c.Phases {
			for _, p := range ph.Passes {
				if p.Unused != "" {
					unused = append(unused, p.Reading+": "+p.Unused)
					continue
				}
				key, err := json.Marshal([2]int64{int64(p.Edge.Take), p.Edge.ID})
				require.NoError(t, err)
				used[string(key)] = c.Name + " " + p.Reading
			}
		}
	}
	return used, unused
}

func TestAskedAfterwardsAtATerminal(t *testing.T) {
	folder := unread(t, 1)
	const typed = "# left as_found\nabout two\n2.20/2.14\n2.1\n\n# right as_found\n2.16/\n2*2.18/2.14\n2.13\n"
	code, out, errs := askedAfterwards(t.Context(), folder, true, strings.NewReader(typed), nil)
	require.Equal(t, ExitOK, code, errs)
	assert.Equal(t, 3, strings.Count(errs, "opening 1"), "asked for again")
	assert.Contains(t, errs, "opening 1, left, as found, at 0.280 s of morse.wav, next at 0.400 s (\"about two\" could not be used): ")
	assert.Contains(t, errs, "opening 4, right, as found, at 0.640 s of morse.wav: 2.16/opening 2, left, as found, at 0.400 s of morse.wav: taken\n")
	assert.Equal(t, 2, strings.Count(errs, ": 2.16/"), "the half goes on waiting")
	used, unused := givenIn(t, folder)
	assert.Equal(t, map[string]string{"[1,1]": "left 2.20/2.14", "[1,2]": "left 2.18/2.14", "[1,4]": "right 2.16/2.13"}, used)
	assert.Empty(t, unused, "what was typed first is what was corrected")
	assert.Contains(t, out, "readings given: 4; kept, but not used: 1\n")
	assert.Contains(t, out, "right, as found\n  before: no pass\n  after: 0.15 mm too early")
	assert.Contains(t, out, "still awaits a reading: opening 3 at 0.520 s of morse.wav\n")
	assert.NotContains(t, out, "last reading with the points closed")

	// Nothing else is asked once nothing awaits a reading, though more is typed.
	in := strings.NewReader("-\n2.00\n")
	code, out, errs = askedAfterwards(t.Context(), folder, true, in, nil, "--place", "left as_found")
	require.Equal(t, ExitOK, code, errs)
	assert.Contains(t, out, "readings given: 0; none: 1\n")
	assert.Contains(t, out, "no opening awaits a reading\n")
	code, out, errs = askedAfterwards(t.Context(), folder, true, strings.NewReader("2.00\n"), nil)
	require.Equal(t, ExitOK, code, errs)
	assert.Empty(t, errs)
	assert.Equal(t, "readings given: 0\nno opening awaits a reading\n", out)
}

// What was typed is on the disk before anything else is asked for.
func TestAskedAfterwardsKeepsEachAtOnce(t *testing.T) {
	folder := unread(t, 1)
	path := filepath.Join(folder, logbook.FileName)
	typed := []string{"about two", "2.21/", "2.14", "2*2.19", "-", "2.17/2.13"}
	prompts := 0
	code, _, errs := askedAfterwards(t.Context(), folder, true, strings.NewReader(strings.Join(typed, "\n")+"\n"), func(screen string) {
		if n := strings.Count(screen, " of morse.wav") - strings.Count(screen, ": taken"); n > prompts {
			prompts = n
			data, err := os.ReadFile(path)
			require.NoError(t, err)
			for _, line := range typed[:min(n-1, len(typed))] {
				_, text, numbered := strings.Cut(line, "*")
				if !numbered {
					text = line
				}
				require.Contains(t, string(data), text+`"`, "before it is asked for the %dth time: %s", n, screen)
			}
		}
	}, "--place", "left as_found")
	require.Equal(t, ExitOK, code, errs)
	assert.Equal(t, len(typed), prompts)
}

// From a pipe each line is the reading of one opening, whether it can be used or not.
func TestAskedAfterwardsFromAPipe(t *testing.T) {
	folder := unread(t, 1)
	code, out, errs := askedAfterwards(t.Context(), folder, false, strings.NewReader("2.20/2.14\nabout two\n2.05/\n2.31\n2.17/2.13\n2.12\n"), nil, "--place", "left as_found")
	require.Equal(t, ExitOK, code, errs)
	used, unused := givenIn(t, folder)
	assert.Equal(t, map[string]string{"[1,1]": "left 2.20/2.14", "[1,4]": "left 2.17/2.13"}, used)
	require.Len(t, unused, 3)
	assert.Contains(t, unused[0], "about two: ")
	assert.Contains(t, unused[1], "2.05/2.31: ", "it is the wrong way round")
	assert.Equal(t, "2.12: no opening was asked for", unused[2])
	assert.Contains(t, out, "readings given: 2; kept, but not used: 3\n")
	assert.Contains(t, errs, "opening 1, left, as found, at 0.280 s of morse.wav, next at 0.400 s: 2.20/2.14\n")
	assert.Contains(t, out, "still awaits a reading: opening 2, left, as found, at 0.400 s of morse.wav\n")
	assert.Contains(t, out, "still awaits a reading: opening 3, left, as found, at 0.520 s of morse.wav\n")
}

// A number means the opening of the take that is asked for.
func TestAskedAfterwardsOfSeveralTakes(t *testing.T) {
	folder := unread(t, 2)
	code, _, errs := askedAfterwards(t.Context(), folder, true, strings.NewReader("3*2.18/2.14\n-\n-\n-\n3*2.17/2.13\nq\n2.00\n"), nil, "--place", "left as_found")
	require.Equal(t, ExitOK, code, errs)
	assert.Contains(t, errs, "opening 3, left, as found, at 0.520 s of again.wav: taken\n")
	used, _ := givenIn(t, folder)
	assert.Equal(t, map[string]string{"[1,3]": "left 2.18/2.14", "[2,3]": "left 2.17/2.13"}, used)
	code, _, errs = askedAfterwards(t.Context(), folder, true, strings.NewReader("2.19\n"), nil, "--place", "left as_found", "--take", "2")
	require.Equal(t, ExitOK, code, errs)
	assert.Contains(t, errs, "opening 1, left, as found, at 0.280 s of again.wav")
}

// A half whose opening is skipped is kept, and told of.
func TestAskedAfterwardsLeavesAHalf(t *testing.T) {
	folder := unread(t, 1)
	code, _, errs := askedAfterwards(t.Context(), folder, true, strings.NewReader("2.18/\n2.17/\n\n2.12\n2.16/"), nil, "--place", "left as_found")
	require.Equal(t, ExitOK, code, errs)
	used, unused := givenIn(t, folder)
	assert.Equal(t, map[string]string{"[1,2]": "left 2.12"}, used)
	require.Len(t, unused, 1)
	assert.Contains(t, unused[0], "2.17/: ")
	_, out, _ := logged(t.Context(), "show", folder)
	assert.Contains(t, unwrapped(out), `"3*2.16/", left, as found, was typed as the last reading with the points closed`)
}

// The reading of another opening leaves a half waiting, also for who reads the log.
func TestAskedAfterwardsOfAnotherThanTheHalf(t *testing.T) {
	folder := unread(t, 1)
	code, _, errs := askedAfterwards(t.Context(), folder, true, strings.NewReader("2.16/\n2*2.18/2.14\n"), nil, "--place", "left as_found")
	require.Equal(t, ExitOK, code, errs)
	_, out, _ := logged(t.Context(), "show", folder)
	assert.Contains(t, unwrapped(out), `"1*2.16/", left, as found, was typed as the last reading with the points closed`)
}

// Where a place has no other opening, Enter goes on to the others; a reading that is typed all the same has no opening.
func TestAskedAfterwardsOfOnePlaceThenTheOthers(t *testing.T) {
	folder := unread(t, 1)
	const typed = "about two\n\n# right as_found\n# left as_left\n-\n-\n-\n"
	code, _, errs := askedAfterwards(t.Context(), folder, true, strings.NewReader(typed), nil, "--place", "left as_found")
	require.Equal(t, ExitOK, code, errs)
	code, out, errs := askedAfterwards(t.Context(), folder, true, strings.NewReader("2.01\n\n2.18/2.14\n"), nil, "--place", "right as_left")
	require.Equal(t, ExitOK, code, errs)
	assert.Contains(t, errs, "no other opening of right, as left awaits a reading; Enter goes on to the others, q ends: kept, but not used: no opening was asked for\n")
	assert.Contains(t, errs, "opening 1, left, as found, at 0.280 s of morse.wav, next at 0.400 s (\"about two\" could not be used): ")
	assert.Contains(t, out, "readings given: 1; kept, but not used: 1\n")
	used, _ := givenIn(t, folder)
	assert.Equal(t, map[string]string{"[1,1]": "left 2.18/2.14"}, used)
}

// Whoever is interrupted has what was typed, and is told what still waits.
func TestAskedAfterwardsInterrupted(t *testing.T) {
	folder := unread(t, 1)
	code, out, errs := askedAfterwards(t.Context(), folder, true, interrupting{strings.NewReader("2.20/2.14\n"), t}, nil, "--place", "left as_found")
	assert.Equal(t, ExitInterrupted, code, errs)
	assert.NotContains(t, errs, "breakcue: error")
	assert.Contains(t, out, "readings given: 1\n")
	assert.Contains(t, out, "still awaits a reading: opening 2")
	used, _ := givenIn(t, folder)
	assert.Len(t, used, 1)
}

// A session that is being recorded is not asked about.
func TestAskedAfterwardsWaitsForTheWriter(t *testing.T) {
	folder := unread(t, 1)
	w, err := logbook.OpenAppend(folder, time.Now)
	require.NoError(t, err)
	code, out, errs := askedAfterwards(t.Context(), folder, true, strings.NewReader("2.00\n"), nil)
	assert.Equal(t, ExitFailed, code)
	assert.Empty(t, out)
	assert.Contains(t, errs, "is being written by process")
	assert.Contains(t, errs, "breakcue: hint: wait until that session has ended")
	assert.NotContains(t, errs, "opening 1")
	require.NoError(t, w.Close())
}

// A reading of a setting that is gone is taken, and it is told that no result rests on it.
func TestAskedAfterwardsOfASettingThatIsGone(t *testing.T) {
	folder := unread(t, 1)
	w, err := logbook.OpenAppend(folder, time.Now)
	require.NoError(t, err)
	for _, d := range []logbook.Data{
		logbook.Step{Step: "measure/left/as_left", State: logbook.StepBegun},
		logbook.Take{Take: 2},
		logbook.Opening{Edge: logbook.Edge{Take: 2, ID: 1, Frame: 48000, TimeS: 1}},
		logbook.Step{Step: "set", State: logbook.StepDone},
	} {
		_, err := w.Append(d)
		require.NoError(t, err)
	}
	require.NoError(t, w.Close())
	code, out, errs := askedAfterwards(t.Context(), folder, true, strings.NewReader("2.05/2.01\n"), nil, "--take", "2")
	require.Equal(t, ExitOK, code, errs)
	assert.Contains(t, errs, "opening 1, left, as left, at 1.000 s of take 2: taken, but not used: the points were worked on after it\n")
	assert.Contains(t, out, "still awaits a reading: opening 4 at ")
	assert.NotContains(t, out, "take 2")
}
