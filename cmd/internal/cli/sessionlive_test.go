package cli

import (
	"encoding/json"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"sync/atomic"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"breakcue/audio"
	"breakcue/audio/audiotest"
	"breakcue/audio/bench"
	"breakcue/audio/live"
	"breakcue/cmd/internal/session"
)

// slowSource lets whoever reads the keyboard come between the blocks.
type slowSource struct{ audio.Source }

func (s slowSource) Read(dst []float32) (int, error) {
	for range 20 {
		runtime.Gosched()
	}
	return s.Source.Read(dst)
}

// typist types a line each time the openings heard allow it.
type typist struct {
	lines chan string
	rest  []byte
	given atomic.Int64 // lines
	asked atomic.Int64 // for so many: all before the last were taken
}

// waits tells that a line was given and not taken yet.
func (k *typist) waits() bool { return k.asked.Load() <= k.given.Load() }

func (k *typist) give(line string) {
	k.given.Add(1)
	k.lines <- line + "\n"
}

func (k *typist) Read(p []byte) (int, error) {
	if len(k.rest) == 0 {
		k.asked.Add(1)
		line, ok := <-k.lines
		if !ok {
			return 0, io.EOF
		}
		k.rest = []byte(line)
	}
	n := copy(p, k.rest)
	k.rest = k.rest[n:]
	return n, nil
}

var sheetArgs = []string{"session", "--engine", "../../../testdata/sheets/twin.toml", "--dial", "../../../testdata/sheets/dial.toml"}

func (s *shop) session(t *testing.T, args ...string) (code int, dir string) {
	root := t.TempDir()
	code = s.run(t, append(append(append([]string{}, sheetArgs...), "--no-guide", "--dir", root), args...)...)
	dirs, err := filepath.Glob(filepath.Join(root, "*"))
	require.NoError(t, err)
	if len(dirs) == 1 {
		dir = dirs[0]
	}
	return code, dir
}

// fourTimes is four openings, far enough apart that each is an approach of its own.
var fourTimes = []bench.Change{
	{At: 1}, {At: 1.4, Closed: true}, {At: 2}, {At: 2.4, Closed: true}, {At: 3}, {At: 3.4, Closed: true}, {At: 4}, {At: 4.4, Closed: true},
}

func TestALiveSessionWithReadingsFromAFile(t *testing.T) {
	s := newShop(t, fourTimes...)
	s.sound.Frames = 48000 * 5
	code, dir := s.session(t, "--readings", "../../../testdata/sheets/readings.txt", "--json")
	require.Equal(t, ExitOK, code, s.errs.String())
	var r session.Report
	require.NoError(t, json.Unmarshal(s.out.Bytes(), &r))
	require.Equal(t, "left", r.Cylinders[0].Name)
	require.Len(t, r.Cylinders[0].Phases, 2)
	for i, ph := range r.Cylinders[0].Phases {
		require.Len(t, ph.Passes, 2)
		for k, p := range ph.Passes {
			require.NotNil(t, p.Edge)
			assert.InDelta(t, float64(1+2*i+k), p.Edge.TimeS, 1e-4) // two frames
		}
	}
	// The same readings as in the README.
	assert.InDelta(t, 0.28, *r.Cylinders[0].Phases[0].ErrorMM, 0.005)
	assert.Equal(t, "line box", r.Input)

	s.out.Reset()
	require.Equal(t, ExitOK, s.run(t, "review", filepath.Join(dir, "take-01.wav")), s.errs.String())
	assert.Contains(t, s.out.String(), "4 openings, 4 closings")
}

// typedAt gives a line to the keyboard when so many seconds have been heard.
func (s *shop) typedAt(lines map[float64]string) {
	k := &typist{lines: make(chan string, len(lines))}
	s.env.In, s.env.InTTY = k, true
	k.give("") // no headphones
	heard := 0
	s.wrap = func(src audio.Source) audio.Source {
		return slowSource{tapped{held{src, k}, func(n int) {
			heard += n
			for at, line := range lines {
				if float64(heard)/48000 >= at {
					k.give(line)
					delete(lines, at)
				}
			}
		}}}
	}
}

// held lets hardly any sound be heard until what was typed is taken, however slow the machine is.
type held struct {
	audio.Source
	k *typist
}

func (h held) Read(dst []float32) (int, error) {
	if h.k.waits() {
		dst = dst[:h.Format().Channels]
	}
	return h.Source.Read(dst)
}

// tapped tells how many frames were read.
type tapped struct {
	audio.Source
	read func(frames int)
}

func (s tapped) Read(dst []float32) (int, error) {
	n, err := s.Source.Read(dst[:min(len(dst), 960)])
	s.read(n)
	return n, err
}

func TestALiveSessionTakesReadingsAsTheyAreTyped(t *testing.T) {
	s := newShop(t, fourTimes...)
	s.sound.Frames = 48000 * 6
	s.typedAt(map[float64]string{
		0.5: "# right as_found",
		1.6: "2.28/2.25", // of the first
		2.6: "about two", // of the second: not used
		2.8: "2.31/2.28", // the same again
		// none is typed for the third
		4.7: "2.30/2.27", // of the fourth
		5.2: "2.00",      // of none
		5.6: "q",
	})
	code, dir := s.session(t, "--plain")
	require.Equal(t, ExitOK, code, s.errs.String())
	texts, reason := readingsIn(t, filepath.Dir(dir))
	assert.Equal(t, []string{"2.28/2.25", "about two", "2.31/2.28", "-", "2.30/2.27", "2.00"}, texts)
	assert.Equal(t, "finished", reason)
	assert.Contains(t, s.out.String(), "  2.31/2.28 (2 passes): 0.28 mm too early")
	assert.Regexp(t, `2\.30/2\.27 \(3 passes\): 0\.28 mm too early: move its own plate 1\.\d° clockwise; out of tolerance, 95 %: 0\.2`, s.out.String())
	assert.Contains(t, s.out.String(), "kept, but not used")
	assert.Contains(t, s.out.String(), "there is no new opening that it could belong to")
	assert.Contains(t, s.out.String(), "right, as found")
}

func TestALiveSessionThatFailsKeepsWhatItHas(t *testing.T) {
	s := newShop(t, fourTimes...)
	s.typedAt(map[float64]string{1.6: "2.28/2.25"})
	inner := s.wrap
	s.wrap = func(src audio.Source) audio.Source {
		return inner(audiotest.FailAfter(src, 48000*3, &live.DeviceError{Device: "line box", What: "no sound for 2 s"}))
	}
	code, dir := s.session(t, "--plain")
	require.Equal(t, ExitAudio, code, s.errs.String())
	texts, reason := readingsIn(t, filepath.Dir(dir))
	assert.Equal(t, []string{"2.28/2.25"}, texts)
	assert.Equal(t, "failed", reason)
	st, err := os.Stat(filepath.Join(dir, "take-01.wav"))
	require.NoError(t, err)
	assert.Greater(t, st.Size(), int64(48000*2.9*2*3))
}

// Standard input is read whether the report is for people or not.
func TestALiveSessionTakesReadingsFromStandardInput(t *testing.T) {
	for _, args := range [][]string{{"--readings", "-"}, {"--readings", "-", "--json"}, {"--json"}} {
		s := newShop(t, fourTimes...)
		s.sound.Frames = 48000 * 5
		s.env.In = strings.NewReader("2.28/2.25\n2.31/2.28\n-\n2.30/2.27\n")
		s.wrap = func(src audio.Source) audio.Source { return slowSource{tapped{src, func(int) {}}} }
		code, dir := s.session(t, args...)
		require.Equal(t, ExitOK, code, "%v: %s", args, s.errs.String())
		texts, _ := readingsIn(t, filepath.Dir(dir))
		assert.Equal(t, []string{"2.28/2.25", "2.31/2.28", "-", "2.30/2.27"}, texts, "%v", args)
	}
}

// The sound says nothing: that is the one thing that is wrong.
func TestALiveSessionThatHearsNothingSaysWhyOnce(t *testing.T) {
	s := newShop(t)
	code, dir := s.session(t, "--for", "2s")
	assert.Equal(t, ExitInconclusive, code)
	assert.Contains(t, s.errs.String(), "breakcue: error: line box: the tone never changes")
	assert.NotContains(t, s.errs.String(), "no result")
	_, reason := readingsIn(t, filepath.Dir(dir))
	assert.Equal(t, "finished", reason)
}

func TestFlagsOfALiveSession(t *testing.T) {
	for _, tt := range []struct {
		args []string
		says string
	}{
		{[]string{"--from", "1s"}, "--from is for a recording"},
		{[]string{"--input", "x.wav", "--device", "box"}, "--device is for live sound"},
		{[]string{"--tone", "1000", "--tone", "2000"}, "as a distortion of it does"},
		{[]string{"--tone", "1"}, "--tone 1"},
		{[]string{"--tone", "0"}, "--tone 0"},
		{[]string{"--approach", "soon"}, "--approach soon"},
	} {
		s := newShop(t)
		code, dir := s.session(t, tt.args...)
		assert.Equal(t, ExitUsage, code, "%v", tt.args)
		assert.Contains(t, s.errs.String(), tt.says)
		assert.Empty(t, dir, "nothing was begun")
	}
}

// The last closed is typed before the opening, the first open after it; two openings are passed over between.
func TestALiveSessionTakesReadingsInHalves(t *testing.T) {
	s := newShop(t, fourTimes...)
	s.sound.Frames = 48000 * 6
	s.typedAt(map[float64]string{
		0.6: "2.32/",
		0.8: "2.28/", // crept on
		1.6: "2.25",
		2.8: "about/",
		3.6: "2.31/", // the second opening has none: it is passed over
		4.6: "2.28",
		5.6: "q",
	})
	code, dir := s.session(t, "--plain")
	require.Equal(t, ExitOK, code, s.errs.String())
	typed, _ := readingsIn(t, filepath.Dir(dir))
	assert.Equal(t, []string{"2.28/2.25", "-", "-", "2.31/2.28"}, typed)
	assert.Contains(t, s.out.String(), "2.28/; first open? left, as found")
	assert.Contains(t, s.out.String(), "kept, but not used: reading, got \"about\"")
}

// On a number pad there is no key that takes back but this one.
func TestWhatWasTypedIsWipedOutOnTheNumberPad(t *testing.T) {
	w := newWorkplace(t, nil, fourTimes[:4]...)
	w.sound.Frames = 48000 * 8
	w.session(t)
	w.until(1.5)
	w.strike("2.9*")
	w.sees(t, "wiped out; type it again")
	w.strike("2.28/2.25\n")
	w.sees(t, "2.28/2.25 (1 pass): 0.26 mm too early")
	w.until(2.6)
	w.strike("1**2.31/2.28\n")
	w.sees(t, "2.31/2.28 (2 passes): 0.28 mm too early")
	w.strike("1*2.27/2.24\n")
	w.sees(t, "opening 1, 2.27/2.24 (2 passes): 0.27 mm too early")
	w.strike("q")
	require.True(t, w.ended)
	texts, _ := readingsIn(t, w.root)
	assert.Equal(t, []string{"2.28/2.25", "2.31/2.28", "2.27/2.24"}, texts)
}

// Where the engine sheet says that a source coil stays on the points, the cable goes across them, unless somebody says otherwise.
func TestTheCableIsWiredAsTheSheetSays(t *testing.T) {
	for _, tt := range []struct {
		engine string
		args   []string
		want   string
	}{
		{"magneto", nil, "cable across the points, tone 3225 Hz"},
		{"magneto", []string{"--wiring", "series"}, "cable in line, tone 975 Hz"},
		{"retard", nil, "cable in line, tone 975 Hz"},
		{"retard", []string{"--wiring", "shunt"}, "cable across the points, tone 3225 Hz"},
	} {
		s := newShop(t, bench.Change{At: 9})
		s.sound.Frames = 48000
		s.run(t, append([]string{"session", "--engine", "../../../testdata/sheets/" + tt.engine + ".toml", "--dial", "../../../testdata/sheets/dial.toml",
			"--no-guide", "--plain", "--dir", t.TempDir()}, tt.args...)...)
		assert.Contains(t, s.out.String(), tt.want, "%s %v", tt.engine, tt.args)
	}
}

func TestARecordingIsHeardAsTheSheetSays(t *testing.T) {
	s := newShop(t, fourTimes...)
	s.sound.Frames = 48000 * 5
	_, dir := s.session(t, "--plain")
	for _, tt := range []struct {
		args []string
		want float64 // [s] what is an opening across is a closing in line
	}{{nil, 1.4}, {[]string{"--wiring", "series"}, 1}} {
		s.out.Reset()
		readings := filepath.Join(t.TempDir(), "readings.txt")
		require.NoError(t, os.WriteFile(readings, []byte("1.72/1.70\n"), 0o644))
		require.Equal(t, ExitOK, s.run(t, append([]string{"session", "--engine", "../../../testdata/sheets/magneto.toml", "--dial",
			"../../../testdata/sheets/dial.toml", "--input", filepath.Join(dir, "take-01.wav"), "--readings", readings, "--json", "--dir", t.TempDir()},
			tt.args...)...), s.errs.String())
		var r session.Report
		require.NoError(t, json.Unmarshal(s.out.Bytes(), &r))
		assert.InDelta(t, tt.want, r.Cylinders[0].Phases[0].Passes[0].Edge.TimeS, 1e-3, "%v", tt.args) // 48 frames
	}
}

func TestTheStepsOfPractice(t *testing.T) {
	s := newShop(t)
	require.Equal(t, ExitOK, s.run(t, "session", "--steps", "--bench"), s.errs.String())
	assert.Contains(t, s.out.String(), "Demonstration twin (invented): the whole job, step by step")
}
