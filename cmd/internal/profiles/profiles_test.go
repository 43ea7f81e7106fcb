package profiles

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"breakcue/cmd/internal/leads"
)

// made is when the check was made.
var made = time.Date(2026, 5, 4, 10, 11, 0, 0, time.UTC)

func kept(device string, w leads.Wiring) Kept {
	return Kept{Device: device, Channel: 1, Profile: leads.Profile{Schema: leads.ProfileSchema, Made: made, SampleRate: 48000, Tone: 1025, Output: -12,
		Wiring: w, Closed: leads.Complex{0.1, 0}, Open: leads.Complex{0.02, -0.03}, Noise: 1e-4, Findings: []string{"condenser"}}}
}

// home is the store of a user with settings of the test's own.
func home(t *testing.T) (Store, string) {
	dir := t.TempDir()
	s, err := Open(func(key string) string {
		return map[string]string{"HOME": dir, "AppData": filepath.Join(dir, ".config")}[key]
	})
	require.NoError(t, err)
	return s, filepath.Join(dir, ".config", "breakcue", "cables")
}

func TestKeepsOneForEachDeviceAndWiring(t *testing.T) {
	s, dir := home(t)
	list, err := s.All()
	require.NoError(t, err)
	assert.Empty(t, list)
	assert.NoDirExists(t, dir, "reading writes nothing")

	old, newer, other := kept("Line <box> 2", leads.InLine), kept("Line <box> 2", leads.InLine), kept("Line <box> 2", leads.Across)
	newer.Profile.Made, newer.Profile.Tone = made.Add(time.Hour), 975
	for _, k := range []Kept{old, newer, other} {
		path, err := s.Save(k)
		require.NoError(t, err)
		st, err := os.Stat(path)
		require.NoError(t, err)
		assert.Equal(t, os.FileMode(0o600), st.Mode().Perm())
	}
	list, err = s.All()
	require.NoError(t, err)
	assert.Equal(t, []Kept{newer, other}, list, "the newest first")
	entries, err := os.ReadDir(dir)
	require.NoError(t, err)
	assert.Len(t, entries, 2)
	for _, e := range entries {
		assert.Regexp(t, `^line--box--2-[0-9a-f]{8}-(series|shunt)\.json$`, e.Name())
	}
}

func TestMovesADamagedOneAside(t *testing.T) {
	for name, c := range map[string]struct{ text, want string }{
		"empty":         {"", "got no valid content (EOF)"},
		"cut":           {`{"schema":"breakcue.cable/1","dev`, "unexpected EOF"},
		"other version": {`{"schema":"breakcue.cable/2"}`, `schema, got "breakcue.cable/2", want "breakcue.cable/1"`},
		"unknown key":   {`{"schema":"breakcue.cable/1","volume":3}`, `unknown field "volume"`},
		"no device":     {`{"schema":"breakcue.cable/1","device":"","channel":1}`, "device, got an empty name"},
		"no channel":    {`{"schema":"breakcue.cable/1","device":"a","channel":0}`, "channel, got 0, want 1..256"},
		"no profile":    {`{"schema":"breakcue.cable/1","device":"a","channel":1}`, "leads: schema"},
		"two objects":   {`{}{}`, "more follows the object"},
	} {
		t.Run(name, func(t *testing.T) {
			s, dir := home(t)
			good := kept("cable", leads.InLine)
			_, err := s.Save(good)
			require.NoError(t, err)
			path := filepath.Join(dir, "a.json")
			require.NoError(t, os.WriteFile(path, []byte(c.text), 0o600))
			list, err := s.All()
			assert.ErrorContains(t, err, c.want)
			assert.ErrorContains(t, err, "moved to "+path+".damaged")
			assert.Equal(t, []Kept{good}, list, "the others are there all the same")
			text, err := os.ReadFile(path + ".damaged")
			require.NoError(t, err)
			assert.Equal(t, c.text, string(text))
			list, err = s.All()
			assert.NoError(t, err, "it is told once")
			assert.Len(t, list, 1)
		})
	}
}

func TestNowhereToKeepIt(t *testing.T) {
	s, err := Open(func(string) string { return "" })
	assert.ErrorContains(t, err, "profiles: known: folder for settings, got no ")
	list, err := s.All()
	assert.NoError(t, err)
	assert.Empty(t, list)
	_, err = s.Save(kept("cable", leads.InLine))
	assert.EqualError(t, err, "profiles: save, got no folder for settings, want one")
	_, err = Read(filepath.Join(t.TempDir(), "none.json"))
	assert.ErrorIs(t, err, os.ErrNotExist)
	bad := kept("", leads.InLine)
	assert.ErrorContains(t, Write(filepath.Join(t.TempDir(), "x.json"), bad), "device, got an empty name")
}

func TestFits(t *testing.T) {
	k := kept("line box", leads.InLine)
	like := Want{Device: "line box", Rate: 48000, Level: -12}
	for name, c := range map[string]struct {
		change func(*Want)
		why    string
	}{
		"as it was":       {func(*Want) {}, ""},
		"all given":       {func(w *Want) { w.Channel, w.Wiring, w.Tone = 1, leads.InLine, 1020 }, ""},
		"level rounded":   {func(w *Want) { w.Level = -12.04 }, ""},
		"another device":  {func(w *Want) { w.Device = "line box 2" }, `it is of another sound card, "line box"`},
		"another rate":    {func(w *Want) { w.Rate = 44100 }, "it was made at 48000 frames/s, and these are 44100"},
		"another channel": {func(w *Want) { w.Channel = 2 }, "it is of input channel 1, and this is 2"},
		"another wiring":  {func(w *Want) { w.Wiring = leads.Across }, "it is of a cable in line, and this one is across the points"},
		"another level":   {func(w *Want) { w.Level = -11.9 }, "it was made with a tone of -12 dBFS, and this one is of -11.9"},
		"another tone":    {func(w *Want) { w.Tone = 1040 }, "it was made with a tone of 1025 Hz, and this one is of 1040 Hz"},
	} {
		w := like
		c.change(&w)
		ok, why := k.Fits(w)
		assert.Equal(t, c.why, why, name)
		assert.Equal(t, c.why == "", ok, name)
	}
	assert.Equal(t, time.Minute, k.Age(made.Add(time.Minute)))
	assert.Equal(t, -time.Hour, k.Age(made.Add(-time.Hour)), "the clock was turned back")
}

// Whatever a device is called, its file is found again and is its own.
func TestAnyName(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		device := string(rapid.SliceOfN(rapid.Byte(), 1, 40).Draw(r, "device"))
		k := kept(device, leads.Across)
		data, err := encode(k)
		require.NoError(r, err)
		again, err := decode(data)
		require.NoError(r, err)
		assert.Equal(r, valid(device), again.Device)
		assert.Regexp(r, `^[a-z0-9-]+\.json$`, fileName(k))
		assert.NotEqual(r, fileName(k), fileName(kept(device+"x", leads.Across)))
		assert.LessOrEqual(r, len(fileName(k)), 60)
		ok, _ := again.Fits(Want{Device: device, Rate: 48000, Level: -12})
		assert.True(r, ok)
	})
}

func FuzzDecode(f *testing.F) {
	data, err := encode(kept("line box", leads.InLine))
	require.NoError(f, err)
	f.Add(data)
	f.Add([]byte(strings.Replace(string(data), `"line box"`, `"\ud800"`, 1)))
	f.Fuzz(func(t *testing.T, data []byte) {
		k, err := decode(data)
		if err != nil {
			return
		}
		data, err = encode(k)
		require.NoError(t, err)
		again, err := decode(data)
		require.NoError(t, err)
		assert.Equal(t, k, again)
	})
}
