package logbook

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// parsed is what the summary of a journal must be, by Parse.
func parsed(t require.TestingT, file []byte) Summary {
	j, err := Parse(strings.NewReader(string(file)))
	require.NoError(t, err)
	s := Summarize(j)
	s.Begin.EngineSheet, s.Begin.DialSheet, s.Begin.Input = "", "", ""
	s.Begin.SampleRate, s.Begin.Channels, s.Begin.Frames = 0, 0, 0
	return s
}

func skimmed(file []byte) Summary {
	s := Summarize(skim(file))
	s.Begin.Input, s.Begin.SampleRate, s.Begin.Channels, s.Begin.Frames = "", 0, 0, 0
	s.Begin.EngineSheet, s.Begin.DialSheet = "", ""
	return s
}

// Whatever is written, and wherever the file ends, skimming counts as reading does and reports the same damaged lines.
func TestPropertySkimmingCountsAsReadingDoes(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		all := append(everything(), LastClosed{Text: "2.03/"}, Gap{Text: "0.42", Set: 1, Phase: AsFound}, Step{Step: "make_safe", State: StepDone}, Tick{Step: "make_safe", Item: "off"}, Begin{Session: "x", Engine: "Twin \"A\"\n", EngineSheet: `,"engine_sheet":"`}, Other{Schema: "breakcue.journal/2", Name: "begin", Raw: []byte(`{}`)})
		var file []byte
		for i, n := range rapid.SliceOfN(rapid.IntRange(-1, len(all)-1), 0, 20).Draw(t, "entries") {
			var d Data = Reading{Text: rapid.String().Draw(t, "text"), Cylinder: rapid.StringMatching(`[a-z"\\ü]{0,4}`).Draw(t, "cylinder"),
				Phase: AsLeft, Take: rapid.IntRange(0, 2).Draw(t, "take"), Opening: rapid.Int64Range(0, maxSeq).Draw(t, "opening")}
			if n >= 0 {
				d = all[n]
			}
			b, err := encode(Entry{Seq: int64(i + 1), Data: d})
			require.NoError(t, err)
			file = append(file, b...)
			if rapid.IntRange(0, 9).Draw(t, "garbage") == 0 {
				file = append(file, rapid.SampledFrom([]string{"\n", "\x00\x00\n", "{}\n", good + "\r\n", good + "x\n"}).Draw(t, "line")...)
			}
		}
		file = file[:rapid.IntRange(0, len(file)).Draw(t, "cut")]
		require.Equal(t, parsed(t, file), skimmed(file))
	})
}

func FuzzSkim(f *testing.F) {
	raw, err := os.ReadFile("testdata/journal-1.jsonl")
	require.NoError(f, err)
	f.Add(raw)
	f.Add([]byte(strings.Replace(good, "caveat", "begin", 1) + "\n"))
	f.Fuzz(func(t *testing.T, in []byte) {
		j := skim(in)
		Summarize(j)
		for _, d := range j.Damaged {
			require.Positive(t, d.Line)
		}
	})
}

// A journal too long to be read at once is read line by line.
func TestListOfALongJournal(t *testing.T) {
	root := t.TempDir()
	dir := filepath.Join(root, "long")
	require.NoError(t, os.Mkdir(dir, 0o755))
	line := good + strings.Repeat(" ", 1000) + "\n"
	require.NoError(t, os.WriteFile(filepath.Join(dir, FileName), []byte(strings.Repeat(line, maxSkim/len(line)+2)+"{\n"), 0o644))
	list, err := List(context.Background(), root)
	require.NoError(t, err)
	require.Len(t, list, 1)
	require.Len(t, list[0].Damaged, 1)
	assert.Equal(t, maxSkim/len(line)+3, list[0].Damaged[0].Line)
}
