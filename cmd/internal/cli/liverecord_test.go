package cli

import (
	"encoding/json"
	"io"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"breakcue/audio"
	"breakcue/audio/audiotest"
	"breakcue/audio/bench"
	"breakcue/audio/wav"
	"breakcue/cmd/internal/pump"
	"breakcue/detect"
)

// cuesOf reads a recording to its end.
func cuesOf(t *testing.T, file string) (cues []wav.Cue, frames int64) {
	r, err := wav.Open(file)
	require.NoError(t, err)
	defer r.Close()
	buf := make([]float32, 8192)
	for err == nil {
		_, err = r.Read(buf)
	}
	require.Equal(t, io.EOF, err)
	return r.Cues(), r.Format().Frames
}

// A loss before the tone stands at its level puts that off by as much: else the end of the loss, or the rise of the tone, would be points
// that close.
func TestALossAtTheBeginPutsListeningOff(t *testing.T) {
	s := newShop(t, twice...)
	const lost, to, begin = 9600, 24000, 480 + 19200 // the bench card's tone stands from frame 480 on; 0.4 s for the round trip
	s.wrap = func(src audio.Source) audio.Source {
		return audiotest.WithGaps(src, audio.GapError{At: to, Lost: lost})
	}
	file := filepath.Join(t.TempDir(), "take.wav")
	require.Equal(t, ExitOK, s.run(t, "listen", "--json", "--record", file), s.errs.String())
	cues, _ := cuesOf(t, file)
	require.NotEmpty(t, cues)
	assert.Equal(t, wav.Cue{Frame: begin + lost, Label: listensFrom}, cues[0])

	s.out.Reset()
	require.Equal(t, ExitOK, s.run(t, "review", "--json", file), s.errs.String())
	var again reviewResult
	require.NoError(t, json.Unmarshal(s.out.Bytes(), &again))
	assert.Len(t, again.Edges, 4, "the points only")
}

// sleeper is a computer that sleeps for so many frames in the middle of the sound.
type sleeper struct {
	audio.Source
	at, sleeps int64
	pos        int64
}

func (s *sleeper) Read(dst []float32) (int, error) {
	if s.pos >= s.at && s.sleeps > 0 {
		lost := s.sleeps
		s.sleeps = 0
		return 0, &audio.GapError{At: s.pos, Lost: lost}
	}
	n, err := s.Source.Read(dst)
	s.pos += int64(n)
	return n, err
}

// Of a loss of more than ten minutes only ten are recorded. Marks stand where their sound is all the same.
func TestMarksBehindAVeryLongLossStandAtTheirSound(t *testing.T) {
	const rate, missing = 8000, 12345
	s := newShop(t, bench.Change{At: 1}, bench.Change{At: 1.5, Closed: true}, bench.Change{At: 3}, bench.Change{At: 3.5, Closed: true})
	s.sound.SampleRate, s.sound.Channels, s.sound.Frames = rate, 1, 4*rate
	s.wrap = func(src audio.Source) audio.Source {
		return &sleeper{Source: src, at: 2 * rate, sleeps: 600*rate + missing}
	}
	file := filepath.Join(t.TempDir(), "take.wav")
	require.Equal(t, ExitOK, s.run(t, "listen", "--json", "--record", file), s.errs.String())
	assert.Contains(t, s.errs.String(), "breakcue: note: 2s of lost sound is not in the recording: what came after it stands that much earlier there")
	cues, frames := cuesOf(t, file)
	assert.Equal(t, int64(604*rate), frames)
	require.Len(t, cues, 3)
	assert.InDelta(t, rate, cues[1].Frame, 1) // one frame: noise at 40 dB
	assert.InDelta(t, 603*rate, cues[2].Frame, 1)
}

// With more openings than there is a place for before the sound, all cue points stand behind it.
func TestWhereListeningBeginsIsFoundBehindTheSoundToo(t *testing.T) {
	file := filepath.Join(t.TempDir(), "take.wav")
	w, err := wav.Create(file, wav.Spec{SampleRate: 8000, Channels: 1, Room: 1})
	require.NoError(t, err)
	require.NoError(t, w.Write(make([]float32, 20000)))
	require.NoError(t, w.Mark(4000, listensFrom))
	require.NoError(t, w.Mark(9000, "points open 1"))
	require.NoError(t, w.Close())
	assert.Equal(t, "500ms", beginOf(t.Context(), file).String())
}

// A cue point that cannot be set is told; the sound is recorded all the same.
func TestAMarkThatCannotBeSetIsTold(t *testing.T) {
	s := newShop(t)
	file := filepath.Join(t.TempDir(), "take.wav")
	w, err := wav.Create(file, wav.Spec{SampleRate: 8000, Channels: 1})
	require.NoError(t, err)
	r := &liveRun{env: s.env, take: pump.NewTake(w, audio.Format{SampleRate: 8000, Channels: 1})}
	r.mark(detect.Event{Frame: 1 << 32}, "points open 1")
	r.take.Write(make([]float32, 100))
	require.NoError(t, r.endTake())
	assert.Equal(t, "breakcue: note: 1 place could not be marked in the recording: cue points reach to frame 4294967295\n", s.errs.String())
	_, frames := cuesOf(t, file)
	assert.Equal(t, int64(100), frames)
}
