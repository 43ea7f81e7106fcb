package logbook

import (
	"bytes"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// For each version of the schema that was ever written there is a journal with every kind of entry, as that version wrote
// it. These files are never changed: what they say must be read for ever.
func TestJournalsOfEveryVersion(t *testing.T) {
	files, err := filepath.Glob("testdata/journal-*.jsonl")
	require.NoError(t, err)
	assert.Len(t, files, 3, "a version more needs its fixture, and what it says written here")

	f, err := os.Open("testdata/journal-1.jsonl")
	require.NoError(t, err)
	defer f.Close()
	j, err := Parse(f)
	require.NoError(t, err)
	assert.Empty(t, j.Damaged)
	want := append([]Data{Begin{
		Session: "2026-05-04-1011-twin", Name: "Twin, left & right", Tool: "breakcue 1", Engine: "Lathe-shed twin",
		EngineSheet: "stroke = \"54 mm\"\n", DialSheet: "range = 10\n", Input: "take-01.wav", SampleRate: 48000, Channels: 2, Frames: 480000,
	}}, everything()...)
	want = append(want, Other{Schema: "breakcue.journal/1", Name: "photo", Raw: []byte(`{"file":"points.jpg"}`)})
	require.Len(t, j.Entries, len(want))
	kinds := map[string]bool{}
	for i, e := range j.Entries {
		assert.Equal(t, int64(i+1), e.Seq)
		assert.Equal(t, want[i], e.Data)
		assert.True(t, e.Time.Equal(time.Date(2026, 5, 4, 8, 11, 12, (345+i)*1_000_000, time.UTC)), "%v", e.Time)
		kinds[e.Data.Kind()] = true
	}
	for _, kind := range []string{"begin", "take", "place", "opening", "closing", "reading", "caveat", "result", "amend", "end"} {
		assert.True(t, kinds[kind], kind)
	}
	entries, problems := j.Current()
	assert.Empty(t, problems)
	assert.Equal(t, "1,89", entries[5].Data.(Reading).Text)
	s := Summarize(j)
	assert.Equal(t, 1, s.Openings)
	assert.True(t, s.Ended)
}

// beginOfFixtures is the first entry of the journals with the kinds that were added.
var beginOfFixtures = Begin{Session: "2026-05-04-1011-twin", Tool: "breakcue 1", Engine: "Lathe-shed twin", EngineSheet: "stroke = \"54 mm\"\n",
	DialSheet: "range = 10\n", SampleRate: 48000, Channels: 2, Frames: -1}

// The kinds that a guided session adds.
func TestJournalOfAGuidedSession(t *testing.T) {
	reads(t, "testdata/journal-1-guided.jsonl",
		beginOfFixtures,
		Step{Step: "make_safe", State: StepBegun}, Tick{Step: "make_safe", Item: "plugs out, their leads earthed"}, Step{Step: "make_safe", State: StepDone},
		Step{Step: "measure/left/as_found", State: StepBegun}, Place{Cylinder: "left", Phase: AsFound},
		LastClosed{Text: "2.03/", Cylinder: "left", Phase: AsFound}, LastClosed{Text: "two/", Cylinder: "left", Phase: AsFound, Unusable: "not a number"},
		Step{Step: "find_tdc", State: StepSkipped})
}

// The gap of the points, typed in a guided session.
func TestJournalWithGaps(t *testing.T) {
	reads(t, "testdata/journal-1-gap.jsonl",
		beginOfFixtures,
		Step{Step: "gap_found", State: StepBegun}, Gap{Text: "about four", Set: 1, Phase: AsFound, Unusable: "not a number"},
		Gap{Text: "0,42", Set: 1, Phase: AsFound}, Gap{Text: "16.5thou", Set: 2, Phase: AsFound}, Step{Step: "gap", State: StepBegun},
		Gap{Text: "0.35", Set: 1, Phase: AsLeft})
}

// reads checks that a journal says what is wanted, to whoever reads it whole or skims it, and that this version writes it alike.
func reads(t *testing.T, file string, want ...Data) {
	raw, err := os.ReadFile(file)
	require.NoError(t, err)
	j, err := Parse(bytes.NewReader(raw))
	require.NoError(t, err)
	assert.Empty(t, j.Damaged)
	require.Len(t, j.Entries, len(want))
	for i, e := range j.Entries {
		assert.Equal(t, want[i], e.Data)
	}
	assert.Empty(t, Check(j))
	assert.Equal(t, parsed(t, raw), skimmed(raw))
	var again []byte
	for _, e := range j.Entries {
		line, err := encode(e)
		require.NoError(t, err)
		again = append(again, line...)
	}
	assert.Equal(t, string(raw), string(again), "this version writes it as it stands there")
}
