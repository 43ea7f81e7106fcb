package logbook

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/iotest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

const good = `{"schema":"breakcue.journal/1","seq":1,"time":"2026-05-04T10:11:12.345Z","kind":"caveat","data":{"code":"c","message":"m"}}`

// An editor of some systems saves a byte order mark before the first line: the session is not lost for it.
func TestByteOrderMarkBeforeTheFirstLine(t *testing.T) {
	j, err := Parse(strings.NewReader("\ufeff" + good + "\n"))
	require.NoError(t, err)
	assert.Empty(t, j.Damaged)
	assert.Len(t, j.Entries, 1)
	j, err = Parse(strings.NewReader(good + "\n\ufeff" + good + "\n"))
	require.NoError(t, err)
	assert.Len(t, j.Damaged, 1, "only there")
	assert.Equal(t, Summarize(skim([]byte("\ufeff"+good+"\n"))), Summarize(Journal{Entries: j.Entries[:1]}))
}

func TestADamagedLineCostsThatLineAlone(t *testing.T) {
	for _, c := range []struct{ bad, reason string }{
		{`{"schema":"breakcue.journal/1","se`, "not a whole JSON object"},
		{`[]`, "not a whole JSON object"},
		{`null`, "schema"},
		{good + good, "not a whole JSON object"},
		{"\x00\x00\x00\x00", "not a whole JSON object"},
		{strings.Replace(good, "breakcue.journal", "other", 1), `schema, got "other/1"`},
		{strings.Replace(good, `"seq":1`, `"seq":0`, 1), "seq, got 0, want 1..2^53"},
		{strings.Replace(good, `"seq":1`, `"seq":9223372036854775807`, 1), "seq"},
		{strings.Replace(good, "T10", " 10", 1), "time, got"},
		{strings.Replace(good, `"caveat"`, `""`, 1), "kind is missing"},
		{strings.Replace(good, `{"code":"c","message":"m"}`, `null`, 1), "data of kind caveat: not an object"},
		{strings.Replace(good, `"m"`, `5`, 1), "data of kind caveat"},
		{strings.Repeat("x", maxLine+1), "got 4194306 bytes, want less than 4194304"},
	} {
		j, err := Parse(strings.NewReader(good + "\n" + c.bad + "\n\n \r\n" + good + "\r\n"))
		require.NoError(t, err)
		assert.Len(t, j.Entries, 2, c.reason)
		require.Len(t, j.Damaged, 1, c.reason)
		assert.Equal(t, 2, j.Damaged[0].Line)
		assert.Contains(t, j.Damaged[0].Reason, c.reason)
	}
}

func TestEntriesOfLaterVersionsAreKept(t *testing.T) {
	newKind := strings.Replace(good, `"caveat"`, `"photograph"`, 1)
	newSchema := strings.Replace(good, "journal/1", "journal/2", 1)
	newField := strings.Replace(good, `"code"`, `"colour":"red","code"`, 1)
	in := newKind + "\n" + newSchema + "\n" + newField + "\n"
	j, err := Parse(strings.NewReader(in))
	require.NoError(t, err)
	assert.Empty(t, j.Damaged)
	require.Len(t, j.Entries, 3)
	assert.Equal(t, "photograph", j.Entries[0].Data.Kind())
	assert.Equal(t, Other{Schema: "breakcue.journal/2", Name: "caveat", Raw: json.RawMessage(`{"code":"c","message":"m"}`)}, j.Entries[1].Data)
	assert.Equal(t, Caveat{Code: "c", Message: "m"}, j.Entries[2].Data)
	for i, line := range strings.SplitAfter(in, "\n")[:2] {
		b, err := encode(j.Entries[i])
		require.NoError(t, err)
		assert.Equal(t, line, string(b), "an entry of a later version is written as it was read")
		b, err = json.Marshal(j.Entries[i])
		require.NoError(t, err)
		assert.Equal(t, strings.TrimSuffix(line, "\n"), string(b))
	}
}

func TestAReadErrorKeepsWhatCameBefore(t *testing.T) {
	broken := errors.New("the stick was pulled out")
	j, err := Parse(io.MultiReader(strings.NewReader(good+"\n"+good), iotest.ErrReader(broken)))
	require.ErrorIs(t, err, broken)
	assert.ErrorContains(t, err, "line 2")
	assert.Len(t, j.Entries, 1)
}

func TestAmend(t *testing.T) {
	amend := func(seq int64, field, to string) Data {
		return Amend{Seq: seq, Field: field, To: json.RawMessage(to), Why: "why", Who: "who"}
	}
	reading := Reading{Text: "1.89", Cylinder: "left", Phase: AsFound, Opening: 3}
	for _, c := range []struct {
		name    string
		amends  []Data
		want    Reading
		problem string
	}{
		{"text", []Data{amend(1, "text", `"1.98"`)}, Reading{Text: "1.98", Cylinder: "left", Phase: AsFound, Opening: 3}, ""},
		{"the last one counts", []Data{amend(1, "opening", `4`), amend(1, "opening", `5`)}, Reading{Text: "1.89", Cylinder: "left", Phase: AsFound, Opening: 5}, ""},
		{"a field that was empty", []Data{amend(1, "unusable", `"slipped"`)}, Reading{Text: "1.89", Cylinder: "left", Phase: AsFound, Opening: 3, Unusable: "slipped"}, ""},
		{"unknown entry", []Data{amend(9, "text", `"x"`)}, reading, "entry 2 amends entry 9: there is no such entry before it"},
		{"itself", []Data{amend(2, "text", `"x"`)}, reading, "no such entry"},
		{"unknown field", []Data{amend(1, "txet", `"x"`)}, reading, `field "txet"`},
		{"wrong type", []Data{amend(1, "text", `5`)}, reading, `field "text"`},
		{"nothing", []Data{amend(1, "text", `null`)}, reading, "the new value is missing"},
		{"an amendment", []Data{amend(1, "text", `"1.98"`), amend(2, "to", `"x"`)}, Reading{Text: "1.98", Cylinder: "left", Phase: AsFound, Opening: 3}, "entries of kind amend"},
	} {
		t.Run(c.name, func(t *testing.T) {
			j := Journal{Entries: []Entry{{Seq: 1, Data: reading}}}
			for i, a := range c.amends {
				j.Entries = append(j.Entries, Entry{Seq: int64(i + 2), Data: a})
			}
			got, problems := j.Current()
			assert.Equal(t, c.want, got[0].Data)
			assert.Equal(t, reading, j.Entries[0].Data, "the original is kept")
			if c.problem == "" {
				assert.Empty(t, problems)
			} else {
				require.Len(t, problems, 1)
				assert.ErrorContains(t, problems[0], c.problem)
			}
		})
	}
}

func TestList(t *testing.T) {
	root := t.TempDir()
	got, err := List(context.Background(), filepath.Join(root, "missing"))
	require.NoError(t, err)
	assert.Empty(t, got)

	later := create(t, root, "a later one")
	for _, d := range everything() {
		_, err := later.Append(d)
		require.NoError(t, err)
	}
	earlier, err := Create(root, "z", Begin{Engine: "Twin"}, func() time.Time { return time.Date(2025, 1, 2, 3, 4, 5, 0, time.UTC) })
	require.NoError(t, err)
	require.NoError(t, earlier.Close())
	require.NoError(t, os.WriteFile(filepath.Join(root, "notes.txt"), nil, 0o644))
	require.NoError(t, os.Mkdir(filepath.Join(root, "empty"), 0o755))
	require.NoError(t, os.Mkdir(filepath.Join(root, "torn"), 0o755))
	require.NoError(t, os.WriteFile(filepath.Join(root, "torn", FileName), []byte("x\n"), 0o644))
	require.NoError(t, os.MkdirAll(filepath.Join(root, "folder", FileName), 0o755))

	got, err = List(context.Background(), root)
	require.NoError(t, err)
	require.Len(t, got, 4)
	assert.Equal(t, "folder", got[0].ID)
	assert.Error(t, got[0].Err)
	assert.Equal(t, "torn", got[1].ID)
	assert.Len(t, got[1].Damaged, 1)
	assert.Equal(t, "Twin", got[2].Begin.Engine)
	assert.False(t, got[2].Ended)
	assert.Equal(t, later.ID(), got[3].ID)
	assert.Equal(t, []string{"left"}, got[3].Cylinders)
	assert.Equal(t, 1, got[3].Openings)
	assert.Equal(t, 1, got[3].Passes, "the unusable reading is no pass")
	assert.True(t, got[3].Ended)
	assert.Equal(t, Finished, got[3].Reason)

	_, err = List(context.Background(), filepath.Join(root, "notes.txt"))
	assert.Error(t, err)
}

// Whatever is cut off at the end, every whole line before it is read, and what is appended afterwards too.
func TestPropertyCutAnywhere(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		texts := rapid.SliceOfN(rapid.String(), 1, 5).Draw(t, "readings")
		var file []byte
		whole := []int{} // end of each line but its newline
		for i, s := range texts {
			b, err := encode(Entry{Seq: int64(i + 1), Data: Reading{Text: s}})
			require.NoError(t, err)
			file = append(file, b...)
			whole = append(whole, len(file)-1)
		}
		cut := rapid.IntRange(0, len(file)).Draw(t, "cut")
		want := 0
		for _, end := range whole {
			if end <= cut {
				want++
			}
		}
		j, err := Parse(bytes.NewReader(file[:cut]))
		require.NoError(t, err)
		require.Len(t, j.Entries, want)
		for i, e := range j.Entries {
			require.Equal(t, strings.ToValidUTF8(texts[i], "\ufffd"), e.Data.(Reading).Text)
		}
		require.LessOrEqual(t, len(j.Damaged), 1)
		require.Equal(t, cut > 0 && file[cut-1] != '\n', j.open)
	})
}

func FuzzParse(f *testing.F) {
	for i, d := range everything() {
		b, err := encode(Entry{Seq: int64(i + 1), Time: time.Unix(1_700_000_000, 0), Data: d})
		require.NoError(f, err)
		f.Add(b)
	}
	f.Add([]byte(good + "\n{"))
	f.Add([]byte("\n\n"))
	f.Fuzz(func(t *testing.T, in []byte) {
		j, err := Parse(bytes.NewReader(in))
		require.NoError(t, err)
		require.LessOrEqual(t, len(j.Entries)+len(j.Damaged), bytes.Count(in, []byte{'\n'})+1)
		Summarize(j)
		for _, e := range j.Entries {
			b, err := encode(e)
			if err != nil {
				continue // a year past 9999, say
			}
			again, err := decode(b)
			require.NoError(t, err)
			twice, err := encode(again)
			require.NoError(t, err)
			require.Equal(t, string(b), string(twice))
		}
	})
}

func BenchmarkAppend(b *testing.B) {
	w := create(b, b.TempDir(), "bench")
	for b.Loop() {
		_, err := w.Append(Reading{Text: "1.98", Cylinder: "left", Phase: AsFound, Take: 1, Opening: 7})
		require.NoError(b, err)
	}
}

func BenchmarkParse(b *testing.B) {
	var file []byte
	for i := range 1000 {
		line, err := encode(Entry{Seq: int64(i + 1), Data: everything()[2]})
		require.NoError(b, err)
		file = append(file, line...)
	}
	b.SetBytes(int64(len(file)))
	b.ReportAllocs()
	for b.Loop() {
		j, err := Parse(bytes.NewReader(file))
		require.NoError(b, err)
		require.Len(b, j.Entries, 1000)
	}
}
