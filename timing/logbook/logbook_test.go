package logbook

import (
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// clock returns a clock that goes on by 1.5 ms at each look, in a zone of its own.
func clock() func() time.Time {
	t := time.Date(2026, 5, 4, 10, 11, 12, 345_678_901, time.FixedZone("", 2*3600))
	return func() time.Time { t = t.Add(1500 * time.Microsecond); return t }
}

func create(t testing.TB, root, name string) *Writer {
	t.Helper()
	w, err := Create(root, name, Begin{Tool: "breakcue test", EngineSheet: "stroke = 54\n", SampleRate: 48000, Channels: 1, Frames: -1}, clock())
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, w.Close()) })
	return w
}

// everything holds one entry of each kind that the first version knew, but Begin.
func everything() []Data {
	edge := Edge{Take: 1, ID: 7, Set: 1, Frame: 123456, Frac: 0.25, TimeS: 2.572005, Uncertainty: 1.2e-5, Reclosures: 3,
		SettleS: 0.0011, Before: Level{0.5, -0.25}, After: Level{0.001, 0}}
	return []Data{
		Take{Take: 1, File: "take-01.wav", SHA256: "00ff", ApproachS: 0.3},
		Place{Cylinder: "left", Phase: AsFound},
		Opening{edge}, Closing{edge},
		Reading{Text: "1,98 \"mm\"\n", Cylinder: "left", Phase: AsFound, Take: 1, Opening: 7},
		Reading{Text: "about two", Cylinder: "left", Phase: AsFound, Unusable: "not a number"},
		Caveat{Code: "mains_hum", Message: "hum is 20 dB above the tone"},
		Result{Result: json.RawMessage(`{"error_mm":0.12,"caveats":[]}`)},
		Amend{Seq: 6, Field: "text", From: json.RawMessage(`"1,98"`), To: json.RawMessage(`"1,89"`), Why: "figures swapped", Who: "the mechanic"},
		End{Reason: "finished"},
	}
}

func TestEveryKindComesBackAsWritten(t *testing.T) {
	w := create(t, filepath.Join(t.TempDir(), "not", "there", "yet"), "Twin, left & right")
	var want []Entry
	for _, d := range append(everything(), LastClosed{Text: "2.03/", Cylinder: "left", Phase: AsLeft, Unusable: "why"},
		Step{Step: "make_safe", State: StepDone}, Tick{Step: "put_together", Item: "plugs in, their leads on"}) {
		e, err := w.Append(d)
		require.NoError(t, err)
		want = append(want, e)
	}
	assert.Equal(t, "2026-05-04-1011-twin-left-right", w.ID())

	j, err := Read(w.Dir())
	require.NoError(t, err)
	assert.Empty(t, j.Damaged)
	b, ok := j.Begin()
	require.True(t, ok)
	assert.Equal(t, Begin{Session: w.ID(), Name: "Twin, left & right", Tool: "breakcue test", EngineSheet: "stroke = 54\n",
		SampleRate: 48000, Channels: 1, Frames: -1}, b)
	require.Len(t, j.Entries, len(want)+1)
	for i, e := range j.Entries[1:] {
		assert.Equal(t, int64(i+2), e.Seq)
		assert.Equal(t, want[i].Data, e.Data)
		assert.True(t, want[i].Time.Equal(e.Time), "%v %v", want[i].Time, e.Time)
	}
}

func TestLinesAreJSONWithTheFieldsPromised(t *testing.T) {
	w := create(t, t.TempDir(), "twin")
	raw, err := os.ReadFile(filepath.Join(w.Dir(), FileName))
	require.NoError(t, err)
	require.Equal(t, 1, strings.Count(string(raw), "\n"))
	var m map[string]any
	require.NoError(t, json.Unmarshal(raw, &m))
	assert.Equal(t, "breakcue.journal/1", m["schema"])
	assert.Equal(t, 1.0, m["seq"])
	assert.Equal(t, "begin", m["kind"])
	assert.Equal(t, "2026-05-04T10:11:12.350+02:00", m["time"]) // 12.345678901 s and three looks at 1.5 ms, cut to ms
}

func TestSessionNamesAreUniqueAndSafe(t *testing.T) {
	root := t.TempDir()
	for _, c := range []struct{ name, want string }{
		{"twin", "twin"}, {"twin", "twin-2"}, {"TWIN", "twin-3"},
		{"", "session"}, {"../../etc", "etc"}, {"..", "session-2"}, {"a/b\\c:d*e", "a-b-c-d-e"}, {"日本", "session-3"},
		{strings.Repeat("long ", 20), "long-long-long-long-long-long-long-long"},
	} {
		w := create(t, root, c.name)
		assert.Equal(t, "2026-05-04-1011-"+c.want, w.ID(), c.name)
		assert.Equal(t, root, filepath.Dir(w.Dir()))
	}
}

func TestOneWriterAtATime(t *testing.T) {
	w := create(t, t.TempDir(), "twin")
	_, err := OpenAppend(w.Dir(), clock())
	var held *HeldError
	require.ErrorAs(t, err, &held)
	assert.Equal(t, w.ID(), held.Session)
	assert.Regexp(t, `^process \d+ on .+ since 2026-05-04T10:11:12\+02:00$`, held.Holder)
	assert.ErrorContains(t, err, "one writer at a time")

	require.NoError(t, w.Close())
	require.NoError(t, w.Close(), "closing again is no error")
	_, err = w.Append(End{})
	require.ErrorIs(t, err, os.ErrClosed)

	again, err := OpenAppend(w.Dir(), clock())
	require.NoError(t, err)
	e, err := again.Append(End{Reason: "resumed"})
	require.NoError(t, err)
	assert.Equal(t, int64(2), e.Seq)
	require.NoError(t, again.Close())
}

func TestASessionThatCannotBeBegunLeavesNothing(t *testing.T) {
	root := t.TempDir()
	_, err := Create(root, "twin", Begin{EngineSheet: strings.Repeat("x", maxLine)}, clock())
	require.Error(t, err)
	names, err := os.ReadDir(root)
	require.NoError(t, err)
	assert.Empty(t, names)
}

func TestOpenAppendOfNothing(t *testing.T) {
	dir := t.TempDir()
	_, err := OpenAppend(dir, clock())
	require.ErrorIs(t, err, os.ErrNotExist)
	names, err := os.ReadDir(dir)
	require.NoError(t, err)
	assert.Empty(t, names, "a refused session leaves nothing behind")
}

func TestHalfWrittenLastLine(t *testing.T) {
	for _, c := range []struct {
		name string
		cut  int // bytes lost at the end of the file
		lost bool
	}{
		{"newline only", 1, false}, {"the closing brace too", 2, true}, {"most of the line", 60, true},
	} {
		t.Run(c.name, func(t *testing.T) {
			w := create(t, t.TempDir(), "twin")
			_, err := w.Append(Reading{Text: "1.98", Cylinder: "left", Phase: AsFound})
			require.NoError(t, err)
			_, err = w.Append(Caveat{Code: "torn", Message: "the power went while this was written"})
			require.NoError(t, err)
			require.NoError(t, w.Close())
			path := filepath.Join(w.Dir(), FileName)
			st, err := os.Stat(path)
			require.NoError(t, err)
			require.NoError(t, os.Truncate(path, st.Size()-int64(c.cut)))

			w, err = OpenAppend(w.Dir(), clock())
			require.NoError(t, err)
			after, err := w.Append(Reading{Text: "2.03", Cylinder: "left", Phase: AsFound})
			require.NoError(t, err)
			assert.Equal(t, int64(4), after.Seq, "the damaged line keeps its number")
			require.NoError(t, w.Close())

			j, err := Read(w.Dir())
			require.NoError(t, err)
			var texts []string
			for _, e := range j.Entries {
				if r, ok := e.Data.(Reading); ok {
					texts = append(texts, r.Text)
				}
			}
			assert.Equal(t, []string{"1.98", "2.03"}, texts)
			if c.lost {
				require.Len(t, j.Damaged, 1)
				assert.Equal(t, 3, j.Damaged[0].Line)
				assert.Contains(t, j.Damaged[0].String(), "damaged line 3 (not a whole JSON object")
			} else {
				assert.Empty(t, j.Damaged)
			}
		})
	}
}

func TestAppendRefusesWhatJSONCannotHold(t *testing.T) {
	w := create(t, t.TempDir(), "twin")
	for _, d := range []Data{
		Opening{Edge{TimeS: math.NaN()}}, Opening{Edge{After: Level{Q: math.Inf(-1)}}},
		Result{Result: json.RawMessage(`{"half":`)}, Caveat{Message: strings.Repeat("x", maxLine)},
	} {
		_, err := w.Append(d)
		require.ErrorContains(t, err, "logbook: "+d.Kind()+" entry")
	}
	e, err := w.Append(End{})
	require.NoError(t, err)
	assert.Equal(t, int64(2), e.Seq, "a refused entry takes no number")
	j, err := Read(w.Dir())
	require.NoError(t, err)
	assert.Empty(t, j.Damaged)
	assert.Len(t, j.Entries, 2)
}

func TestDefaultRoot(t *testing.T) {
	for _, c := range []struct {
		goos string
		env  map[string]string
		want string // empty: an error
	}{
		{"linux", map[string]string{"HOME": "/home/m"}, "/home/m/.local/share/breakcue/sessions"},
		{"linux", map[string]string{"HOME": "/home/m", "XDG_DATA_HOME": "/data"}, "/data/breakcue/sessions"},
		{"linux", map[string]string{"HOME": "/home/m", "XDG_DATA_HOME": "data"}, "/home/m/.local/share/breakcue/sessions"},
		{"linux", map[string]string{"XDG_DATA_HOME": "/data"}, "/data/breakcue/sessions"},
		{"freebsd", nil, ""},
		{"darwin", map[string]string{"HOME": "/Users/m"}, "/Users/m/Library/Application Support/breakcue/sessions"},
		{"darwin", nil, ""},
		{"windows", map[string]string{"LocalAppData": "/Users/m/AppData/Local"}, "/Users/m/AppData/Local/breakcue/sessions"},
		{"windows", map[string]string{"HOME": "/home/m"}, ""},
	} {
		got, err := rootFor(c.goos, func(k string) string { return c.env[k] })
		if c.want == "" {
			assert.ErrorContains(t, err, "in the environment", c.goos)
			continue
		}
		require.NoError(t, err)
		assert.Equal(t, c.want, filepath.ToSlash(got))
	}
}
