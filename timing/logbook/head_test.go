package logbook

import (
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// same requires that a line that is taken for one of this version says what it says to anybody.
func same(t require.TestingT, line []byte) (own bool) {
	got, own := decodeOwn(line)
	if !own {
		return false
	}
	want, err := decodeAny(line)
	require.NoError(t, err, "%q", line)
	require.Equal(t, want, got, "%q", line)
	return true
}

func TestOwnLinesSayWhatTheySayToAnybody(t *testing.T) {
	for i, d := range append(everything(), Begin{Session: "x"}, LastClosed{Text: "2.03/"}, Step{"make_safe", StepDone}, Tick{Step: "make_safe", Item: "off"}) {
		line, err := encode(Entry{Seq: int64(i + 1), Time: clock()(), Data: d})
		require.NoError(t, err)
		assert.True(t, same(t, line[:len(line)-1]), "%s is read the quick way", line)
	}
	const good = `{"schema":"breakcue.journal/1","seq":3,"time":"2026-05-04T10:11:12.000Z","kind":"caveat","data":{"code":"c","message":"m"}}`
	require.True(t, same(t, []byte(good)))
	for _, other := range []string{ // told or read by the one who can
		strings.Replace(good, `"m"}`, `"m"},"data":{"code":"d"}`, 1), strings.Replace(good, `3`, `03`, 1), strings.Replace(good, `3`, `3.0`, 1), strings.Replace(good, `3`, `0`, 1),
		strings.Replace(good, `"m"}`, `"m"},"seq":4,"x":{}`, 1), strings.Replace(good, "caveat", `cave\u0061t`, 1), strings.Replace(good, "caveat", "photo", 1),
		good + " ", good + "}", " " + good, strings.Replace(good, "/1", "/2", 1), strings.Replace(good, "2026", "26", 1), strings.Replace(good, `"m"`, "\"\x00\"", 1),
		strings.Replace(good, `3`, `1234567890123456`, 1), strings.Replace(good, `,"kind"`, `,"kind":"end","kind"`, 1), good[:len(good)-1],
	} {
		_, own := decodeOwn([]byte(other))
		assert.False(t, own, other)
	}
}

// Bytes changed anywhere in a line never make it say one thing the quick way and another the long way.
func TestPropertyDamagedLinesSayOneThing(t *testing.T) {
	raw, err := os.ReadFile("testdata/journal-1.jsonl")
	require.NoError(t, err)
	lines := strings.Split(strings.TrimSpace(string(raw)), "\n")
	rapid.Check(t, func(t *rapid.T) {
		line := []byte(rapid.SampledFrom(lines).Draw(t, "line"))
		for range rapid.IntRange(0, 3).Draw(t, "changes") {
			at := rapid.IntRange(0, len(line)-1).Draw(t, "at")
			by := rapid.SampledFrom([]string{"", "{", "}", `"`, `\`, ",", ":", "0", "null", "\x00", "\xff", `{"a":1},`}).Draw(t, "by")
			line = append(append(append([]byte(nil), line[:at]...), by...), line[at+rapid.IntRange(0, 1).Draw(t, "cut"):]...)
		}
		same(t, line)
	})
}
