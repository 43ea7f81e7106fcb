package cli_test

import (
	"bytes"
	"context"
	"io"
	"path/filepath"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"breakcue/audio/wav"
	"breakcue/cmd/internal/cli"
	"breakcue/cmd/internal/session"
	"breakcue/timing/logbook"
)

// demo runs the demonstration and returns what it printed, how long it paused, and its session folder.
func demo(t *testing.T, args ...string) (string, time.Duration, string) {
	root := t.TempDir()
	var out, errs bytes.Buffer
	var paused time.Duration
	code := cli.Main(t.Context(), append([]string{"demo", "--dir", root}, args...), cli.Env{
		In: strings.NewReader(""), Out: &out, Err: &errs, Getenv: func(string) string { return "" },
		Now:   func() time.Time { return time.Date(2026, 5, 4, 10, 11, 12, 0, time.UTC) },
		Sleep: func(d time.Duration) { paused += d },
	})
	require.Equal(t, cli.ExitOK, code, errs.String())
	return out.String(), paused, filepath.Join(root, "2026-05-04-1011-demo")
}

func TestDemoIsPacedForAReader(t *testing.T) {
	paced, paused, _ := demo(t)
	assert.Greater(t, paused, 10*time.Second)
	assert.Less(t, paused, 18*time.Second) // with the work, visible in under 20 s
	fast, none, _ := demo(t, "--fast")
	assert.Zero(t, none)
	before, _, _ := strings.Cut(paced, "The log and the recording are in")
	assert.True(t, strings.HasPrefix(fast, before), "the same, but for the folder")
}

// Who interrupts is told where the log is, and the log says that it ended there.
func TestDemoInterrupted(t *testing.T) {
	root := t.TempDir()
	ctx, stop := context.WithCancel(t.Context())
	defer stop()
	var out, errs bytes.Buffer
	code := cli.Main(ctx, []string{"demo", "--dir", root}, cli.Env{
		In: strings.NewReader(""), Out: &out, Err: &errs, Getenv: func(string) string { return "" }, Now: time.Now,
		Sleep: func(time.Duration) {
			if strings.Contains(out.String(), "no. 3") {
				stop()
			}
		},
	})
	assert.NotEqual(t, cli.ExitOK, code)
	dirs, err := filepath.Glob(filepath.Join(root, "*"))
	require.NoError(t, err)
	require.Len(t, dirs, 1)
	assert.Contains(t, errs.String(), "interrupted; what was heard and read is kept: breakcue log show "+dirs[0])
	j, err := logbook.Read(dirs[0])
	require.NoError(t, err)
	assert.Equal(t, logbook.End{Reason: "interrupted"}, j.Entries[len(j.Entries)-1].Data)
}

// What a demonstration that is killed leaves has its cue points.
func TestDemoMarksTheRecordingWhileItRuns(t *testing.T) {
	root := t.TempDir()
	var out, errs bytes.Buffer
	var marked []wav.Cue
	code := cli.Main(t.Context(), []string{"demo", "--dir", root}, cli.Env{
		In: strings.NewReader(""), Out: &out, Err: &errs, Getenv: func(string) string { return "" }, Now: time.Now,
		Sleep: func(time.Duration) {
			if marked != nil || !strings.Contains(out.String(), "no. 3") {
				return
			}
			files, err := filepath.Glob(filepath.Join(root, "*", "*.wav"))
			require.NoError(t, err)
			require.Len(t, files, 1)
			r, err := wav.Open(files[0])
			require.NoError(t, err)
			defer r.Close()
			marked = append([]wav.Cue{}, r.Cues()...)
		},
	})
	require.Equal(t, cli.ExitOK, code, errs.String())
	require.NotEmpty(t, marked)
	assert.Equal(t, "points open 1", marked[0].Label)
}

// A terminal of 80 columns shows every line whole, but for the folder at the end.
func TestDemoFitsATerminal(t *testing.T) {
	out, _, _ := demo(t, "--fast")
	before, _, _ := strings.Cut(out, "The log and the recording are in")
	for line := range strings.Lines(before) {
		assert.LessOrEqual(t, utf8.RuneCountInString(strings.TrimSuffix(line, "\n")), 80, line)
	}
}

// The log holds twelve passes, each with the reading of its own opening, and the recording marks every opening.
func TestDemoLeavesAWholeLog(t *testing.T) {
	_, _, dir := demo(t, "--fast")
	j, err := logbook.Read(dir)
	require.NoError(t, err)
	require.Empty(t, j.Damaged)
	r, err := session.FromJournal(j)
	require.NoError(t, err)
	assert.Empty(t, r.Caveats)
	assert.Empty(t, r.Unread)
	require.Len(t, r.Cylinders, 2)
	verdicts := map[string]string{}
	for _, c := range r.Cylinders {
		require.Len(t, c.Phases, 2)
		for _, ph := range c.Phases {
			assert.Equal(t, 3, ph.N)
			verdicts[c.Name+" "+string(ph.Phase)] = ph.Verdict + " " + *ph.EarlyOrLate
			last := 0.0
			for _, p := range ph.Passes {
				require.NotNil(t, p.Edge)
				assert.Greater(t, p.Edge.TimeS, last)
				last = p.Edge.TimeS
			}
		}
	}
	assert.Equal(t, "out early", verdicts["left as_found"])
	assert.Equal(t, "out late", verdicts["right as_found"])
	assert.Contains(t, verdicts["left as_left"], "in_tolerance")
	assert.Contains(t, verdicts["right as_left"], "in_tolerance")

	var openings []int64
	for _, e := range j.Entries {
		if o, ok := e.Data.(logbook.Opening); ok {
			openings = append(openings, o.Frame)
		}
	}
	src, err := wav.Open(filepath.Join(dir, "take-01.wav"))
	require.NoError(t, err)
	defer src.Close()
	block := make([]float32, 1<<16)
	for err == nil { // the cue points stand behind the sound
		_, err = src.Read(block)
	}
	require.ErrorIs(t, err, io.EOF)
	cues := src.Cues()
	var marked []int64
	for _, c := range cues {
		assert.True(t, strings.HasPrefix(c.Label, "points open "), c.Label)
		marked = append(marked, c.Frame)
	}
	assert.Equal(t, openings, marked)
}
