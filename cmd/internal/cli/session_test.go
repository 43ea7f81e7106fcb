package cli

import (
	"bytes"
	"context"
	"encoding/json"
	"io"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"syscall"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"breakcue/cmd/internal/session"
	"breakcue/timing/logbook"
)

// atTerminal runs session on a recording of four openings with a keyboard that gives what in holds.
func atTerminal(ctx context.Context, t *testing.T, in io.Reader, extra ...string) (code int, out, errs, root string) {
	var o, e bytes.Buffer
	env := OSEnv()
	env.In, env.Out, env.Err, env.InTTY, env.OutTTY = in, &o, &e, true, false
	root = t.TempDir()
	code = Main(ctx, append([]string{"session", "--engine", "../../../testdata/sheets/twin.toml", "--dial", "../../../testdata/sheets/dial.toml",
		"--input", "../../../testdata/recordings/morse.wav", "--to", "800ms", "--approach", "0", "--dir", root}, extra...), env)
	return code, o.String(), e.String(), root
}

// readingsIn returns the readings of the only session in root.
func readingsIn(t *testing.T, root string) (texts []string, reason string) {
	dirs, err := filepath.Glob(filepath.Join(root, "*"))
	require.NoError(t, err)
	require.Len(t, dirs, 1)
	j, err := logbook.Read(dirs[0])
	require.NoError(t, err)
	for _, e := range j.Entries {
		switch d := e.Data.(type) {
		case logbook.Reading:
			texts = append(texts, d.Text)
		case logbook.End:
			reason = d.Reason
		}
	}
	return texts, reason
}

func TestSessionAsksAtATerminal(t *testing.T) {
	code, out, errs, root := atTerminal(context.Background(), t, strings.NewReader("# left as_found\n2.20/2.14\nabout two\n2.18/2.15\n\n# nobody as_left\n# right as_found\n-\n2.03/1.98\n"), "--json")
	require.Equal(t, ExitOK, code, errs)
	assert.Contains(t, errs, "opening 1 of 4, points open at 0.280 s, next at 0.400 s; left, as found: ")
	assert.Contains(t, errs, "kept, but not used: ")
	assert.Contains(t, errs, `got "nobody"`)
	assert.Contains(t, errs, "opening 4 of 4")
	assert.Contains(t, errs, "right, as found: ")
	var r session.Report
	require.NoError(t, json.Unmarshal([]byte(out), &r))
	left := r.Cylinders[0].Phases[0]
	assert.Equal(t, 2, left.N)
	assert.Len(t, left.Passes, 3)
	assert.Equal(t, left.Passes[1].Edge, left.Passes[2].Edge, "typed again for the same opening")
	assert.Equal(t, 1, r.Cylinders[1].Phases[0].N)
	assert.NotContains(t, out, "place_assumed")
	texts, reason := readingsIn(t, root)
	assert.Equal(t, []string{"2.20/2.14", "about two", "2.18/2.15", "-", "2.03/1.98"}, texts)
	assert.Equal(t, "finished", reason)
}

// unwrapped returns a text with its lines joined, so that it does not matter where a sentence is broken.
func unwrapped(text string) string { return strings.Join(strings.Fields(text), " ") }

func TestSessionLeftEarly(t *testing.T) {
	code, out, errs, root := atTerminal(context.Background(), t, strings.NewReader("2.20/2.14"))
	require.Equal(t, ExitOK, code, errs)
	assert.Contains(t, out, "note: 3 openings without a reading")
	assert.Contains(t, unwrapped(out), "taken as left, as found")
	texts, _ := readingsIn(t, root)
	assert.Equal(t, []string{"2.20/2.14"}, texts)
}

// interrupting is a keyboard that gives what first holds; when it is asked for more, Ctrl-C is pressed and nothing comes.
type interrupting struct {
	first io.Reader
	t     *testing.T
}

func (k interrupting) Read(p []byte) (int, error) {
	if n, _ := k.first.Read(p); n > 0 {
		return n, nil
	}
	self, err := os.FindProcess(os.Getpid())
	require.NoError(k.t, err)
	require.NoError(k.t, self.Signal(os.Interrupt))
	select {}
}

func TestSessionInterruptedKeepsItsReadings(t *testing.T) {
	for name, typed := range map[string]string{"after a reading": "# left as_found\n2.20/2.14\n", "at once": ""} {
		t.Run(name, func(t *testing.T) {
			code, out, errs, root := atTerminal(context.Background(), t, interrupting{strings.NewReader(typed), t})
			assert.Equal(t, ExitInterrupted, code)
			texts, reason := readingsIn(t, root)
			assert.Equal(t, "interrupted", reason)
			if typed != "" {
				assert.Equal(t, []string{"2.20/2.14"}, texts)
				assert.Contains(t, out, "2.20/2.14", "what was typed is reported")
			}
			_, where, said := strings.Cut(errs, "\nbreakcue: interrupted; what was typed is kept: breakcue log show ")
			require.True(t, said, errs)
			folder, err := strconv.Unquote(strings.TrimSpace(where))
			require.NoError(t, err)
			var shown bytes.Buffer
			assert.Equal(t, ExitOK, Main(t.Context(), []string{"log", "show", folder}, Env{Out: &shown, Err: &shown, Getenv: os.Getenv}))
			assert.Contains(t, shown.String(), "interrupted at ")
		})
	}
}

// Readings that are typed into --readings - at a terminal are asked for, so that each is safe as soon as it is typed.
func TestSessionReadingsFromATerminal(t *testing.T) {
	code, _, errs, root := atTerminal(context.Background(), t, strings.NewReader("# lfet as_found\n2.20/2.14\n"), "--readings", "-")
	assert.Equal(t, ExitOK, code)
	assert.Contains(t, errs, "opening 1 of 4")
	assert.Contains(t, errs, `got "lfet"`)
	texts, _ := readingsIn(t, root)
	assert.Equal(t, []string{"2.20/2.14"}, texts)
}

// fullJournal has room for some entries.
type fullJournal struct{ room int }

func (j *fullJournal) Append(d logbook.Data) (logbook.Entry, error) {
	if j.room--; j.room < 0 {
		return logbook.Entry{}, syscall.ENOSPC
	}
	return logbook.Entry{Data: d}, nil
}

func TestSessionAskedOnAFullDisk(t *testing.T) {
	sheets, err := session.LoadSheets("../../../testdata/sheets/twin.toml", "../../../testdata/sheets/dial.toml")
	require.NoError(t, err)
	heard := []session.Change{{Open: true, Edge: logbook.Edge{ID: 1, TimeS: 1}}, {Open: true, Edge: logbook.Edge{ID: 2, TimeS: 3}}}
	rec, err := session.NewRecorder(&fullJournal{room: 5}, sheets.Setup, logbook.Take{Take: 1}, heard, nil)
	require.NoError(t, err)
	env := Env{In: strings.NewReader("2.20/2.14\n2.18/2.15\n"), Err: io.Discard}
	_, err = ask(t.Context(), env, rec, sheets, "")
	require.ErrorIs(t, err, syscall.ENOSPC)
	assert.ErrorContains(t, err, `reading "2.18/2.15" is not in the log`, "it can be noted elsewhere")
}

// Openings that come soon after a closing are pointed out before the first reading is typed.
func TestSessionSpeaksOfChatterFirst(t *testing.T) {
	_, _, errs, _ := atTerminal(context.Background(), t, strings.NewReader(""))
	note := strings.Index(errs, "breakcue: note: 3 openings came less than 0.3 s after the points had closed")
	first := strings.Index(errs, "opening 1 of 4")
	assert.True(t, 0 <= note && note < first, errs)
	_, _, errs, _ = atTerminal(context.Background(), t, strings.NewReader(""), "--approach", "100ms")
	assert.Contains(t, errs, "opening 1 of 1, points open at 0.280 s, first of 4 in this approach; left, as found: ")
	assert.NotContains(t, errs, "breakcue: note:")
}

// By itself, openings that come so soon are taken together, and that is said before the first reading is typed.
func TestSessionAsksOnceForAnApproach(t *testing.T) {
	code, out, errs, _ := atTerminal(context.Background(), t, strings.NewReader("# left as_found\n2.20/2.14\n"), "--approach", "auto", "--json")
	require.Equal(t, ExitOK, code, errs)
	note := strings.Index(errs, "breakcue: note: 4 openings: openings less than 0.3 s after a closing are taken together, which makes 1 approach; with --approach 0")
	first := strings.Index(errs, "opening 1 of 1")
	assert.True(t, 0 <= note && note < first, errs)
	var r session.Report
	require.NoError(t, json.Unmarshal([]byte(out), &r))
	assert.Equal(t, "approach_assumed", r.Caveats[0].Code)
	assert.Equal(t, 4, r.Cylinders[0].Phases[0].Passes[0].Edge.Openings)
}

// A plain number on a dial zeroed at the mark could be meant either way: the prompt says how.
func TestSessionSaysHowADialZeroedAtTheMarkIsRead(t *testing.T) {
	dial, err := os.ReadFile("../../../testdata/sheets/dial.toml")
	require.NoError(t, err)
	marked := filepath.Join(t.TempDir(), "mark.toml")
	text := strings.Replace(string(dial), `zeroed = "tdc"`, `zeroed = "mark"`, 1)
	require.NotEqual(t, string(dial), text)
	require.NoError(t, os.WriteFile(marked, []byte(text), 0o600))
	_, _, errs, _ := atTerminal(context.Background(), t, strings.NewReader(""), "--dial", marked)
	assert.Contains(t, errs, "0.05 = before the mark; -0.05 = past it, nearer TDC")
	_, _, errs, _ = atTerminal(context.Background(), t, strings.NewReader(""))
	assert.NotContains(t, errs, "before the mark")
}
