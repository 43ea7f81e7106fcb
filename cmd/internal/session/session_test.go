package session

import (
	"bytes"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"breakcue/timing"
	"breakcue/timing/logbook"
)

const (
	twin = "../../../testdata/sheets/twin.toml"
	dial = "../../../testdata/sheets/dial.toml"
)

func clock() time.Time { return time.Date(2026, 5, 4, 10, 11, 12, 0, time.UTC) }

// openings gives n openings, one a second, with closings half-way between them.
func openings(n int) []Change {
	var out []Change
	for i := range n {
		if i > 0 {
			out = append(out, Change{Edge: logbook.Edge{ID: int64(i), Frame: int64(48000*i + 24000), TimeS: float64(i) + 0.5, Uncertainty: 1e-5}})
		}
		out = append(out, Change{Open: true, Edge: logbook.Edge{ID: int64(i + 1), Frame: int64(48000 * (i + 1)), Frac: 0.5, TimeS: float64(i+1) + 0.5/48000, Uncertainty: 1e-5, Reclosures: i, SettleS: 0.001 * float64(i)}})
	}
	return out
}

// recorded writes a session of n openings and the lines typed, and returns its folder.
func recorded(t testing.TB, n int, lines string) (dir string, rec *Recorder, w *logbook.Writer) {
	s, err := LoadSheets(twin, dial)
	require.NoError(t, err)
	w, err = logbook.Create(t.TempDir(), "test", s.Begin("test"), clock)
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, w.Close()) })
	rec, err = NewRecorder(w, s.Setup, logbook.Take{Take: 1, File: "x.wav"}, openings(n), []timing.Caveat{{Code: "from_the_recording", Message: "as heard"}})
	require.NoError(t, err)
	typed, _, err := ReadTyped("readings", strings.NewReader(lines), s.Engine.Cylinders)
	require.NoError(t, err)
	for _, r := range typed {
		_, err := rec.Reading(r)
		require.NoError(t, err)
	}
	return w.Dir(), rec, w
}

func reported(t testing.TB, dir string) Report {
	j, err := logbook.Read(dir)
	require.NoError(t, err)
	r, err := FromJournal(j)
	require.NoError(t, err)
	return r
}

func codes(caveats []timing.Caveat) []string {
	out := []string{}
	for _, c := range caveats {
		out = append(out, c.Code)
	}
	return out
}

func TestReportOfTwoCylinders(t *testing.T) {
	dir, _, _ := recorded(t, 6, "# left as_found\n2.20/2.14\n2.18/2.15\n2.21/2.16\n# right as_found\n2.03/1.98\n2.02/1.99\n2.02/1.98\n")
	r := reported(t, dir)
	assert.Equal(t, Schema, r.Schema)
	assert.Equal(t, filepath.Base(dir), r.Session)
	assert.Equal(t, "Lathe-shed twin", r.Engine)
	assert.Equal(t, []string{"from_the_recording"}, codes(r.Caveats))
	assert.Empty(t, r.Unread)
	require.Len(t, r.Cylinders, 2)
	left, right := r.Cylinders[0].Phases[0], r.Cylinders[1].Phases[0]
	assert.Equal(t, "left", r.Cylinders[0].Name)
	assert.Equal(t, logbook.AsFound, left.Phase)
	require.Len(t, left.Passes, 3)
	assert.Equal(t, "2.20/2.14", left.Passes[0].Reading)
	assert.InDelta(t, 2.17, *left.Passes[0].TravelMM, 1e-12, "middle of the bracket; rounding only")
	assert.Equal(t, 48000.5, left.Passes[0].Edge.Sample)
	assert.InDelta(t, 0.17333, *left.ErrorMM, 0.00001, "mean of 2.17, 2.165, 2.185 less 2.00")
	assert.Equal(t, "out", left.Verdict)
	assert.Equal(t, "early", *left.EarlyOrLate)
	assert.Less(t, left.IntervalMM[0], *left.ErrorMM)
	assert.Less(t, *left.InTolerance, 0.05)
	assert.InDelta(t, 0.00333, *right.ErrorMM, 0.00001, "mean of 2.005, 2.005, 2.00 less 2.00")
	assert.Equal(t, "in_tolerance", right.Verdict)
	assert.Equal(t, "on_mark", *right.EarlyOrLate)
	assert.True(t, r.Measured())
}

// The figures of a series are those of package timing for the same readings.
func TestReportIsWhatTimingSays(t *testing.T) {
	dir, _, _ := recorded(t, 3, "2.20/2.14\n2.18\n1.9/1.9")
	got := reported(t, dir).Cylinders[0].Phases[0]
	s, err := LoadSheets(twin, dial)
	require.NoError(t, err)
	var readings []timing.Reading
	for _, text := range []string{"2.20/2.14", "2.18", "1.9/1.9"} {
		reading, err := s.Setup.ParseReading(text)
		require.NoError(t, err)
		readings = append(readings, reading)
	}
	want, err := s.Setup.Evaluate([][]timing.Reading{readings})
	require.NoError(t, err)
	assert.Equal(t, float64(want[0].Error.Value), *got.ErrorMM)
	assert.Equal(t, float64(want[0].ErrorAngle.Value), *got.ErrorDeg)
	assert.Equal(t, float64(want[0].Error.U), *got.UncertaintyMM)
	assert.Equal(t, float64(want[0].Error.Interval[1]), got.IntervalMM[1])
	assert.Equal(t, [2]float64{float64(want[0].ErrorAngle.Interval[0]), float64(want[0].ErrorAngle.Interval[1])}, *got.IntervalDeg)
	assert.Equal(t, want[0].InTolerance, *got.InTolerance)
	assert.Equal(t, float64(*want[0].Scatter), *got.ScatterMM)
	assert.Equal(t, codes(want[0].Error.Caveats), codes(got.Caveats))
}

func TestUnpairedAndUnusable(t *testing.T) {
	t.Run("more readings than openings", func(t *testing.T) {
		dir, _, _ := recorded(t, 1, "2.03/1.98\n2.02/1.98\n1.97")
		r := reported(t, dir)
		left := r.Cylinders[0].Phases[0]
		require.Len(t, left.Passes, 3, "all are kept")
		assert.Equal(t, 1, left.N, "one is used")
		assert.Nil(t, left.Passes[1].Edge)
		assert.NotNil(t, left.Passes[1].TravelMM, "its travel is known all the same")
		assert.Contains(t, codes(r.Caveats), "reading_without_opening")
		assert.Contains(t, r.Caveats[len(r.Caveats)-1].Message, "2 readings without an opening")
	})
	t.Run("fewer readings than openings", func(t *testing.T) {
		dir, _, _ := recorded(t, 3, "2.03/1.98\n")
		r := reported(t, dir)
		require.Len(t, r.Unread, 2)
		assert.Equal(t, int64(2), r.Unread[0].ID)
		assert.Contains(t, codes(r.Caveats), "opening_without_reading")
	})
	t.Run("none, words, wrong way round", func(t *testing.T) {
		dir, _, _ := recorded(t, 5, "-\nabout two\n1.98/2.03\n 2,03 / 1,98 \n-0.05")
		left := reported(t, dir).Cylinders[0].Phases[0]
		var texts, reasons []string
		for _, p := range left.Passes {
			texts, reasons = append(texts, p.Reading), append(reasons, p.Unused)
		}
		assert.Equal(t, []string{"-", "about two", "1.98/2.03", " 2,03 / 1,98 ", "-0.05"}, texts, "as typed")
		assert.Equal(t, noReading, reasons[0])
		assert.Contains(t, reasons[1], "no digits")
		assert.Contains(t, reasons[2], "wrong way round")
		assert.Empty(t, reasons[3])
		assert.Contains(t, reasons[4], "what the dial can show")
		assert.Equal(t, []string{"pass_not_used", "pass_not_used", "pass_not_used", "pass_not_used", "one_pass"}, codes(left.Caveats))
		assert.Equal(t, int64(4), left.Passes[3].Edge.ID, "what cannot be used takes its opening all the same")
		assert.Equal(t, "cannot_tell", left.Verdict)
	})
	t.Run("nothing usable", func(t *testing.T) {
		dir, _, _ := recorded(t, 2, "-\n-")
		r := reported(t, dir)
		left := r.Cylinders[0].Phases[0]
		assert.False(t, r.Measured())
		assert.Nil(t, left.ErrorMM)
		assert.Nil(t, left.IntervalMM)
		assert.Nil(t, left.EarlyOrLate)
		assert.Contains(t, codes(left.Caveats), "no_pass")
		raw, err := json.Marshal(r)
		require.NoError(t, err)
		assert.Contains(t, string(raw), `"error_mm":null`)
	})
	t.Run("nothing at all", func(t *testing.T) {
		dir, _, _ := recorded(t, 0, "")
		r := reported(t, dir)
		assert.Equal(t, []string{"from_the_recording", "not_measured", "not_measured"}, codes(r.Caveats))
		assert.Empty(t, r.Cylinders[0].Phases)
	})
}

func TestAgainKeepsBoth(t *testing.T) {
	dir, rec, _ := recorded(t, 2, "")
	place := logbook.Place{Cylinder: "left", Phase: logbook.AsFound}
	unusable, err := rec.Reading(Typed{Text: "1.9x", Place: place})
	require.NoError(t, err)
	assert.NotEmpty(t, unusable)
	rec.Again()
	for _, text := range []string{"1.98", "1.97"} {
		unusable, err = rec.Reading(Typed{Text: text, Place: place})
		require.NoError(t, err)
		assert.Empty(t, unusable)
	}
	_, _, of, ok := rec.Next()
	assert.False(t, ok)
	assert.Equal(t, 2, of)
	passes := reported(t, dir).Cylinders[0].Phases[0].Passes
	require.Len(t, passes, 3)
	assert.Equal(t, passes[0].Edge.ID, passes[1].Edge.ID)
	assert.Empty(t, passes[1].Unused)
	assert.Equal(t, int64(2), passes[2].Edge.ID)
}

func TestPhasesInOrder(t *testing.T) {
	dir, _, _ := recorded(t, 4, "# right as_left\n2.03/1.98\n# left as_left\n2.0/2.0\n# right as_found\n2.3/2.2\n# right as_left\n2.02/1.99\n")
	r := reported(t, dir)
	require.Len(t, r.Cylinders, 2)
	assert.Equal(t, logbook.AsLeft, r.Cylinders[0].Phases[0].Phase)
	assert.Equal(t, logbook.AsFound, r.Cylinders[1].Phases[0].Phase)
	assert.Equal(t, logbook.AsLeft, r.Cylinders[1].Phases[1].Phase)
	assert.Len(t, r.Cylinders[1].Phases[1].Passes, 2, "the same place named again goes on")
}

func TestAmendments(t *testing.T) {
	dir, _, w := recorded(t, 3, "2.0x\n2.03/1.98\n2.02/1.98\n")
	j, err := logbook.Read(dir)
	require.NoError(t, err)
	var seqs []int64
	for _, e := range j.Entries {
		if e.Data.Kind() == "reading" {
			seqs = append(seqs, e.Seq)
		}
	}
	amend := func(seq int64, field, from, to string) {
		_, err := w.Append(logbook.Amend{Seq: seq, Field: field, From: json.RawMessage(from), To: json.RawMessage(to), Why: "test", Who: "test"})
		require.NoError(t, err)
	}
	amend(seqs[0], "text", `"2.0x"`, `"2.04/2.00"`)
	amend(seqs[1], "unusable", `""`, `"the bench was knocked"`)
	amend(seqs[2], "cylinder", `"left"`, `"middle"`)
	amend(999, "text", `""`, `"x"`)
	r := reported(t, dir)
	left := r.Cylinders[0].Phases[0]
	assert.Equal(t, "2.04/2.00", left.Passes[0].Reading)
	assert.Empty(t, left.Passes[0].Unused, "the old reason no longer holds")
	assert.Equal(t, "the bench was knocked", left.Passes[1].Unused)
	assert.Equal(t, 1, left.N)
	assert.Equal(t, "middle", r.Cylinders[2].Name)
	assert.Contains(t, codes(r.Caveats), "unknown_cylinder")
	assert.Contains(t, codes(r.Caveats), "amendment")
	assert.NotContains(t, printed(t, r, false), "logbook:", "that is no word for people")
}

func TestDamagedJournals(t *testing.T) {
	dir, _, w := recorded(t, 2, "2.03/1.98\n2.02/1.98\n")
	require.NoError(t, w.Close())
	file := filepath.Join(dir, logbook.FileName)
	data, err := os.ReadFile(file)
	require.NoError(t, err)
	lines := bytes.SplitAfter(data, []byte("\n"))
	for i := range lines {
		broken := append([]byte{}, bytes.Join(lines[:i], nil)...)
		broken = append(broken, []byte("{\"schema\":\n")...)
		broken = append(broken, bytes.Join(lines[min(i+1, len(lines)):], nil)...)
		j, err := logbook.Parse(bytes.NewReader(broken))
		require.NoError(t, err)
		r, err := FromJournal(j)
		if i == 0 {
			assert.ErrorContains(t, err, "got no beginning")
			continue
		}
		require.NoError(t, err, "line %d", i+1)
		assert.Contains(t, codes(r.Caveats), "damaged_line")
	}
}

func TestFinishKeepsTheReport(t *testing.T) {
	dir, rec, _ := recorded(t, 2, "2.03/1.98\n2.02/1.98\n")
	before := reported(t, dir)
	require.NoError(t, rec.Finish(before, "finished"))
	j, err := logbook.Read(dir)
	require.NoError(t, err)
	last := j.Entries[len(j.Entries)-2:]
	var kept Report
	require.NoError(t, json.Unmarshal(last[0].Data.(logbook.Result).Result, &kept))
	assert.Equal(t, before, kept)
	assert.Equal(t, logbook.End{Reason: "finished"}, last[1].Data)
	assert.Equal(t, before, reported(t, dir), "and it can be worked out again")
}

// A recording of an engine that runs has more openings than one entry of the journal can hold.
func TestFinishOfAVeryLongReport(t *testing.T) {
	dir, rec, w := recorded(t, 2, "2.03/1.98\n2.02/1.98\n")
	r := reported(t, dir)
	r.Unread = slices.Repeat([]Edge{*r.Cylinders[0].Phases[0].Passes[0].Edge}, 30_000)
	require.NoError(t, rec.Finish(r, "finished"))
	require.NoError(t, w.Close())
	j, err := logbook.Read(dir)
	require.NoError(t, err)
	var kept Report
	require.NoError(t, json.Unmarshal(j.Entries[len(j.Entries)-2].Data.(logbook.Result).Result, &kept))
	assert.Equal(t, r.Cylinders[0].Phases[0].ErrorMM, kept.Cylinders[0].Phases[0].ErrorMM)
	assert.Empty(t, kept.Unread)
	assert.Len(t, r.Cylinders[0].Phases[0].Passes, 2, "the report itself stays as it was")
}

func TestRefused(t *testing.T) {
	s, err := LoadSheets(twin, dial)
	require.NoError(t, err)
	r := Refused(s, "test", "x.wav", []timing.Caveat{{Code: "silence", Message: "there is only silence"}})
	assert.False(t, r.Measured())
	assert.Equal(t, []string{"silence"}, codes(r.Caveats))
	raw, err := json.Marshal(r)
	require.NoError(t, err)
	assert.Contains(t, string(raw), `"cylinders":[{"name":"left","phases":[]},{"name":"right","phases":[]}],"shifts":[],"spreads":[],"advice":null,"openings_without_reading":[]`)
}

// failing is a journal that has no room after some entries.
type failing struct{ room int }

func (f *failing) Append(d logbook.Data) (logbook.Entry, error) {
	if f.room--; f.room < 0 {
		return logbook.Entry{}, os.ErrClosed
	}
	return logbook.Entry{Data: d}, nil
}

func TestJournalErrorsComeThrough(t *testing.T) {
	s, err := LoadSheets(twin, dial)
	require.NoError(t, err)
	place := logbook.Place{Cylinder: "left", Phase: logbook.AsFound}
	for room := range 7 {
		f := &failing{room}
		rec, err := NewRecorder(f, s.Setup, logbook.Take{Take: 1}, openings(1), []timing.Caveat{{}})
		if err == nil {
			_, err = rec.Reading(Typed{Text: "2.03/1.98", Place: place})
		}
		if err == nil {
			err = rec.Finish(Report{}, "finished")
		}
		assert.ErrorIs(t, err, os.ErrClosed, "room for %d", room)
	}
	rec, err := NewRecorder(&failing{10}, s.Setup, logbook.Take{Take: 1}, nil, nil)
	require.NoError(t, err)
	nan := math.NaN()
	assert.ErrorContains(t, rec.Finish(Report{Cylinders: []Cylinder{{Phases: []Phase{{ErrorMM: &nan}}}}}, "finished"), "session: report")
}

func TestSheetsThatDoNotFit(t *testing.T) {
	_, err := LoadSheets("none.toml", dial)
	assert.ErrorIs(t, err, os.ErrNotExist)
	_, err = LoadSheets(twin, "none.toml")
	assert.ErrorIs(t, err, os.ErrNotExist)
	_, err = LoadSheets(dial, dial)
	assert.ErrorContains(t, err, "dial.toml:3:1: unit: is no key")
	short := filepath.Join(t.TempDir(), "short.toml")
	text, err := os.ReadFile(dial)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(short, bytes.Replace(text, []byte("range = 10"), []byte("range = 1"), 1), 0o600))
	_, err = LoadSheets(twin, short)
	assert.ErrorContains(t, err, "the dial cannot show the mark")
}

// Whatever is typed, every reading is kept as typed, once, and the report can be printed and marshalled.
func TestWhateverIsTyped(t *testing.T) {
	s, err := LoadSheets(twin, dial)
	require.NoError(t, err)
	rapid.Check(t, func(t *rapid.T) {
		var entries []logbook.Entry
		j := journalFunc(func(d logbook.Data) (logbook.Entry, error) {
			e := logbook.Entry{Seq: int64(len(entries) + 1), Time: clock(), Data: d}
			entries = append(entries, e)
			return e, nil
		})
		_, _ = j.Append(s.Begin("test"))
		rec, err := NewRecorder(j, s.Setup, logbook.Take{Take: 1}, openings(rapid.IntRange(0, 8).Draw(t, "openings")), nil)
		require.NoError(t, err)
		lines := rapid.SliceOfN(rapid.OneOf(
			rapid.SampledFrom([]string{"-", "2.03/1.98", "1+98", "# right as_left", "# left as_found", "", "# note", "1,98mm", "99", "2.03/", "1.98"}),
			rapid.StringN(0, 10, -1)), 0, 12).Draw(t, "lines")
		typed, _, err := ReadTyped("r", strings.NewReader(strings.Join(lines, "\n")), s.Engine.Cylinders)
		if err != nil {
			return
		}
		for _, one := range typed {
			_, err := rec.Reading(one)
			require.NoError(t, err)
		}
		r, err := FromJournal(logbook.Journal{Entries: entries})
		require.NoError(t, err)
		var texts, want []string
		for _, c := range r.Cylinders {
			for _, p := range c.Phases {
				for _, pass := range p.Passes {
					texts = append(texts, pass.Reading)
				}
			}
		}
		half := ""
		for _, e := range entries {
			switch d := e.Data.(type) {
			case logbook.LastClosed:
				require.Equal(t, strings.TrimSpace(typed[0].Text), d.Text)
				typed = typed[1:]
				if d.Unusable == "" { // one that cannot be used leaves that before waiting
					half = d.Text
				}
			case logbook.Reading:
				want = append(want, d.Text)
				assert.Contains(t, []string{typed[0].Text, half + strings.TrimPrefix(strings.TrimSpace(typed[0].Text), "/")}, d.Text)
				typed = typed[1:]
			}
		}
		assert.Empty(t, typed, "all of it was written")
		assert.ElementsMatch(t, want, texts)
		_, err = json.Marshal(r)
		require.NoError(t, err, "no NaN anywhere")
		require.NoError(t, r.Print(&bytes.Buffer{}, false))
	})
}

type journalFunc func(logbook.Data) (logbook.Entry, error)

func (f journalFunc) Append(d logbook.Data) (logbook.Entry, error) { return f(d) }
