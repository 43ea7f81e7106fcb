package pump_test

import (
	"math"
	"math/cmplx"
	"testing"

	"breakcue/audio"
	"breakcue/audio/audiotest"
	"breakcue/cmd/internal/pump"
	"breakcue/detect"

	"github.com/stretchr/testify/assert"
)

// clipOff is the level across points with the clip off [full scale]: the whole tone.
const clipOff = 0.25

// stands are levels, each for so many tenths of a second, across points; closed tells where the points are, off where the clip is.
func stands(snr float64, levels ...part) plane {
	p := plane{tone: 3100, phase: 1, loud: clipOff, snr: snr, seed: 5}
	at := int64(0)
	for _, l := range levels {
		tenths := l.from
		l.from = at
		p.parts = append(p.parts, l)
		at += tenths * planeRate / 10
	}
	p.frames = at
	return p
}

func reviewed(t *testing.T, p plane, w detect.Wiring) (a pump.Analysis, c planeCount) {
	x := p.sound()
	a = analyse(t, func() (audio.Source, error) { return audiotest.FromSlice(planeRate, 1, x), nil }, pump.Options{Wiring: w})
	c.count(p.parts, a.Edges, nil)
	return a, c
}

// A recording of points across, of which nothing is known, tells a clip that is off from open points: it is louder than they ever are, and turned.
func TestARecordingAcrossTellsAClipThatIsOff(t *testing.T) {
	for name, tt := range map[string]struct {
		open      complex128
		clipsEach int // openings to a clip off
	}{
		"a fifth of the tone, one clip off": {cmplx.Rect(0.05, 0.9), 9},
		"half of it, as many as openings":   {cmplx.Rect(0.125, 0.4), 1},
		"hardly any, as many":               {cmplx.Rect(0.018, 1.2), 1},
		"half of it, one clip off":          {cmplx.Rect(0.125, 0.25), 9},
	} {
		for _, snr := range []float64{25, 35} {
			closed := func(k int) part { return part{3, complex(0.0003*math.Pow(1.3, float64(k%7)), 0), true, false} }
			levels := []part{closed(0)}
			for k := range 10 {
				levels = append(levels, part{3, tt.open, false, false}, closed(k))
				if k%tt.clipsEach == tt.clipsEach-1 && k < 9 {
					levels = append(levels, part{6, clipOff, false, true}, part{3, levels[len(levels)-1].level, true, true}, closed(k))
				}
			}
			a, c := reviewed(t, stands(snr, levels...), detect.Shunt)
			assert.NoError(t, a.Refused, "%s, %g dB", name, snr)
			assert.Zero(t, c.missed, "%s, %g dB", name, snr)
			assert.Zero(t, c.false, "%s, %g dB", name, snr)
			assert.Len(t, a.Config.Profile.Off, 1)
			assert.NotEmpty(t, a.Caveats)
		}
	}
}

// What is no clip that is off is not taken for one: a gain that is turned up, which turns no tone; a coil that is taken off for good; dirty points,
// which close to other resistances; two levels.
func TestWhatIsLouderAcrossNeedNotBeAClipOff(t *testing.T) {
	closed, open := part{3, 0.002, true, false}, part{3, cmplx.Rect(0.12, 0.5), false, false}
	louder, turned := part{3, cmplx.Rect(0.2, 0.5), false, false}, part{3, cmplx.Rect(0.2, 0.1), false, false}
	dirty := part{3, 0.02, true, false}
	repeat := func(n int, of ...part) (out []part) {
		for range n {
			out = append(out, of...)
		}
		return out
	}
	var wiped []part
	for k := range 9 {
		wiped = append(wiped, closed, part{3, complex(0.02*math.Pow(1.08, float64(k)), 0), true, false}, closed, open)
	}
	for name, levels := range map[string][]part{
		"closed points wiped": append(wiped, closed),
		"gain turned up":      append(repeat(12, closed, open), append(repeat(3, closed, louder), closed)...),
		"coil taken off":      append(repeat(32, closed, open), append(repeat(9, closed, turned), closed)...),
		"dirty points":        append(repeat(6, closed, open, dirty, open), closed),
		"nothing but points":  append(repeat(9, closed, open), closed),
	} {
		a, c := reviewed(t, stands(35, levels...), detect.Shunt)
		assert.NoError(t, a.Refused, name)
		assert.Zero(t, c.missed, name)
		assert.Zero(t, c.false, name)
		assert.Empty(t, a.Config.Profile.Off, name)
	}
}
