package logbook

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func TestCheck(t *testing.T) {
	line := func(seq, kind, data string) string {
		return `{"schema":"breakcue.journal/1","seq":` + seq + `,"time":"2026-05-04T10:11:12Z","kind":"` + kind + `","data":` + data + `}`
	}
	begin, take := line("1", "begin", `{"session":"x"}`), line("2", "take", `{"take":1,"file":"x.wav"}`)
	opening := line("3", "opening", `{"take":1,"id":7}`)
	for _, c := range []struct {
		name  string
		lines []string
		want  []string // of the findings that are no notes
		notes []string
	}{
		{name: "sound", lines: []string{begin, take, opening, "", line("4", "reading", `{"text":"2","take":1,"opening":7}`), line("5", "closing", `{"take":1,"id":7}`)}},
		{name: "damaged line", lines: []string{begin, "{", take}, want: []string{"line 2: damaged, not a whole JSON object: it ends in the middle"}},
		{name: "twice the same number", lines: []string{begin, take, take},
			want: []string{"line 3: entry 2, and so is the one before: a correction of it cannot tell which"}},
		{name: "backwards", lines: []string{begin, opening, take}, want: []string{"line 3: entry 2 comes after entry 3"},
			notes: []string{"line 2: no entry has a number from 2 to 2: their writing failed, or they were taken out"}},
		{name: "a damaged line took a number", lines: []string{begin, take, "{", line("4", "end", `{}`)},
			want: []string{"line 3: damaged, not a whole JSON object: it ends in the middle"}},
		{name: "a step", lines: []string{begin, line("2", "step", `{"step":"make_safe","state":"done"}`), line("3", "tick", `{"step":"make_safe","item":"x"}`),
			line("4", "step", `{"step":"make_safe","state":"half"}`)}, want: []string{`line 4: step "make_safe" has the state "half", want begun, done or skipped`}},
		{name: "a gap", lines: []string{begin, line("2", "gap", `{"text":"0.4","set":2,"phase":"as_left"}`), line("3", "gap", `{"text":"0.4","set":0,"phase":"as_left"}`),
			line("4", "gap", `{"text":"0.4","set":1,"phase":"later"}`)}, want: []string{`line 3: gap "0.4" is of set 0, "as_left", want a set from 1 on, as_found or as_left`,
			`line 4: gap "0.4" is of set 1, "later", want a set from 1 on, as_found or as_left`}},
		{name: "two beginnings", lines: []string{begin, line("2", "begin", `{}`)}, want: []string{"line 2: entry 2 begins a session, but is not the first"}},
		{name: "nothing", want: []string{"there is no beginning: without engine and dial nothing can be worked out"}},
		{name: "a take that is not there", lines: []string{begin, line("2", "opening", `{"take":3,"id":1}`), line("3", "closing", `{"take":4,"id":2}`)},
			want: []string{"line 2: opening 1 names take 3, which is not in the journal", "line 3: closing 2 names take 4, which is not in the journal"}},
		{name: "an opening that is not there", lines: []string{begin, take, opening, line("4", "reading", `{"text":"2.01","take":1,"opening":8}`)},
			want: []string{`line 4: reading "2.01" names opening 8 of take 1, which is not in the journal`}},
		{name: "amends nothing", lines: []string{begin, take, line("3", "amend", `{"seq":9,"field":"file","to":"y"}`)},
			want: []string{"line 3: entry 3 amends entry 9: there is no such entry before it"}},
		{name: "amended to an opening that is not there", lines: []string{begin, take, opening, line("4", "reading", `{"text":"2","take":1,"opening":7}`),
			line("5", "amend", `{"seq":4,"field":"opening","to":8}`)},
			want: []string{`line 4: reading "2" was corrected to opening 8 of take 1, which is not in the journal`}},
		{name: "a later version", lines: []string{begin, line("2", "photo", `{}`), strings.Replace(line("3", "take", `{}`), "/1", "/2", 1)},
			notes: []string{"line 2: entry 2, breakcue.journal/1 photo, is of a later version: passed over", "line 3: entry 3, breakcue.journal/2 take, is of a later version: passed over"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			j, err := Parse(strings.NewReader(strings.Join(c.lines, "\n") + "\n"))
			require.NoError(t, err)
			found := Check(j)
			var wrong, notes []string
			for _, f := range found {
				if f.Note {
					notes = append(notes, f.String())
				} else {
					wrong = append(wrong, f.String())
				}
			}
			assert.Equal(t, c.want, wrong)
			assert.Equal(t, c.notes, notes)
			assert.Equal(t, len(c.want), Wrong(found))
		})
	}
}

// damagedFolder makes a session folder with a journal of these bytes.
func damagedFolder(t require.TestingT, dir string, journal []byte) {
	require.NoError(t, os.WriteFile(filepath.Join(dir, FileName), journal, 0o644))
}

func TestRepair(t *testing.T) {
	dir := t.TempDir()
	two := strings.Replace(good, `"seq":1`, `"seq":2`, 1)
	broken := []byte(good + "\n{half\n" + two) // no newline last
	damagedFolder(t, dir, broken)
	require.NoError(t, os.WriteFile(filepath.Join(dir, FileName+".damaged-1"), []byte("older"), 0o644))

	out, err := Repair(dir, clock())
	require.NoError(t, err)
	assert.Equal(t, filepath.Join(dir, FileName+".damaged-2"), out.Kept)
	require.Len(t, out.Lines, 1)
	assert.Equal(t, 2, out.Lines[0].Line)
	kept, err := os.ReadFile(out.Kept)
	require.NoError(t, err)
	assert.Equal(t, broken, kept)
	older, err := os.ReadFile(filepath.Join(dir, FileName+".damaged-1"))
	require.NoError(t, err)
	assert.Equal(t, "older", string(older))

	whole, err := os.ReadFile(filepath.Join(dir, FileName))
	require.NoError(t, err)
	sound, ok := strings.CutPrefix(string(whole), good+"\n"+two+"\n")
	require.True(t, ok, "every other line byte for byte: %s", whole)
	assert.Contains(t, sound, `"kind":"caveat","data":{"code":"repaired","message":"the journal was repaired, what stood in these lines is missing: damaged line 2 (`)
	j, err := Read(dir)
	require.NoError(t, err)
	assert.Empty(t, j.Damaged)
	assert.Equal(t, int64(3), j.Entries[2].Seq)

	again, err := Repair(dir, clock())
	require.NoError(t, err)
	assert.Empty(t, again, "there is nothing left to do")
	names, err := os.ReadDir(dir)
	require.NoError(t, err)
	assert.Len(t, names, 4, "the journal, two that were damaged, the lock: %v", names)
}

func TestRepairWaitsForTheWriter(t *testing.T) {
	w := create(t, t.TempDir(), "twin")
	_, err := Repair(w.Dir(), clock())
	var held *HeldError
	assert.ErrorAs(t, err, &held)
}

func TestRepairOfNothing(t *testing.T) {
	dir := t.TempDir()
	_, err := Repair(dir, clock())
	require.ErrorIs(t, err, os.ErrNotExist)
	names, err := os.ReadDir(dir)
	require.NoError(t, err)
	assert.Empty(t, names, "a refused repair leaves nothing behind")
}

// Whatever bytes of a journal are lost or changed, the repaired one is sound and holds every line that could be read.
func TestPropertyRepairKeepsEverySoundLine(t *testing.T) {
	root := t.TempDir()
	rapid.Check(t, func(t *rapid.T) {
		dir, err := os.MkdirTemp(root, "")
		require.NoError(t, err)
		var file []byte
		for i, d := range everything() {
			b, err := encode(Entry{Seq: int64(i + 1), Data: d})
			require.NoError(t, err)
			file = append(file, b...)
		}
		for range rapid.IntRange(1, 4).Draw(t, "hits") {
			at := rapid.IntRange(0, len(file)-1).Draw(t, "at")
			if rapid.Bool().Draw(t, "lost") {
				file = append(file[:at:at], file[at+1:]...)
			} else {
				file[at] = rapid.Byte().Draw(t, "byte")
			}
		}
		damagedFolder(t, dir, file)
		before, err := Parse(bytes.NewReader(file))
		require.NoError(t, err)
		out, err := Repair(dir, clock())
		require.NoError(t, err)
		require.Equal(t, before.Damaged, out.Lines)
		after, err := Read(dir)
		require.NoError(t, err)
		require.Empty(t, after.Damaged)
		require.Equal(t, before.Entries, after.Entries[:len(before.Entries)])
	})
}
