package live

import (
	"math"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"breakcue/audio"
)

func comb(t require.TestingT, c audio.Chord) *audio.Comb {
	g, err := audio.NewComb(c, 48000)
	require.NoError(t, err)
	return g
}

// What is played is a function of the frame, also after something else was played, and what Playing tells is where it stands.
func TestPlay(t *testing.T) {
	e := newTestEngine(t, Options{}, 1, 2)
	s, d := newStream(e, Info{}, nil), drive(e)
	chord, single := audio.Chord{Hz: []float64{325, 975, 2125}, Level: -6}, audio.Chord{Hz: []float64{975}, Level: -20}
	_, ok := s.Playing()
	assert.False(t, ok, "nothing was asked for")
	d.call(make([]float32, 1000), false)
	frame := int64(1000)
	for i, c := range []audio.Chord{chord, single, {}, chord, chord} {
		require.NoError(t, s.Play(c))
		_, ok = s.Playing()
		assert.False(t, ok, "%d: not taken yet", i)
		d.call(make([]float32, 100), false)
		from, ok := s.Playing()
		assert.True(t, ok)
		assert.Equal(t, frame+240, from, "%d: the soft start lasts 5 ms", i)
		d.call(make([]float32, 200), false)
		x := d.call(make([]float32, 333), false)
		frame += 300
		want := comb(t, c)
		want.SetRamp(0)
		want.Add(make([]float32, 1), 1, 0)
		want.GoTo(frame)
		y := make([]float32, 2*333)
		want.Add(y, 2, 0)
		require.Equal(t, y, x, "%d: nothing of what was played before is left, nothing on the other channel", i)
		frame += 333
	}
	assert.ErrorContains(t, s.Play(audio.Chord{Hz: []float64{24000}}), "live: audio: tone 1 of a chord, got 24000 Hz")
}

// However often it is switched: no click. The steepest is that of all that can sound at once: the test tone, and two of -6 dBFS and 1 kHz.
func TestPlayNeverClicks(t *testing.T) {
	most := 2*0.5012*(2*math.Pi*1000/48000+math.Pi/2/240) + 0.2512*(2*math.Pi*1000/48000+math.Pi/2/240)
	rapid.Check(t, func(r *rapid.T) {
		e := newTestEngine(r, Options{}, 1, 1)
		s, d := newStream(e, Info{}, nil), drive(e)
		last := float32(0)
		for range rapid.IntRange(1, 20).Draw(r, "turns") {
			if rapid.Bool().Draw(r, "play") {
				hz := []float64{1000, 500}[:rapid.IntRange(0, 1).Draw(r, "tones")]
				require.NoError(r, s.Play(audio.Chord{Hz: hz, Level: -6}))
			}
			for _, v := range d.call(make([]float32, rapid.IntRange(0, 400).Draw(r, "frames")), false) {
				if step := math.Abs(float64(v - last)); step > most+1e-6 { // float32
					r.Fatalf("a step of %g, want at most %g", step, most)
				}
				last = v
			}
		}
	})
}

// Lost frames count: the phase is that of the frame also after them, and a soft start that they fall into ends later.
func TestPlayOverALoss(t *testing.T) {
	e := newTestEngine(t, Options{}, 1, 1)
	s, d := newStream(e, Info{}, nil), drive(e)
	c := audio.Chord{Hz: []float64{1031.5}, Level: -6} // half a turn in the second that is lost
	require.NoError(t, s.Play(c))
	d.call(make([]float32, 100), false)
	d.now = d.now.Add(time.Second)
	d.call(make([]float32, 300), false)
	from, _ := s.Playing()
	assert.Equal(t, int64(240+48000), from)
	x := d.call(make([]float32, 100), false)
	want := comb(t, c)
	want.SetRamp(0)
	want.Add(make([]float32, 1), 1, 0)
	want.GoTo(48000 + 400)
	y := make([]float32, 100)
	want.Add(y, 1, 0)
	assert.Equal(t, y, x)
}

func TestPlayedSoundsEndWithTheStream(t *testing.T) {
	e := newTestEngine(t, Options{Second: &Voice{Hz: 700, Level: -6, Channel: 2, Ramp: time.Hour}}, 1, 2)
	s, d := newStream(e, Info{}, nil), drive(e)
	require.NoError(t, s.Play(audio.Chord{Hz: []float64{1000}, Level: -6}))
	d.call(make([]float32, 1000), false)
	e.fading.Store(true)
	d.call(make([]float32, 300), false)
	require.NoError(t, s.Play(audio.Chord{Hz: []float64{1000}, Level: -6}), "too late")
	assert.Equal(t, make([]float32, 200), d.call(make([]float32, 100), false))
	d.call(make([]float32, 100), false)
	assert.True(t, e.silent.Load())
}

func TestSecondTone(t *testing.T) {
	o := alerted()
	o.Second = &Voice{Hz: 3125, Level: -20, Channel: 2}
	e := newTestEngine(t, o, 1, 3)
	d := drive(e)
	first, err := audio.NewTone(1000, -12, 48000)
	require.NoError(t, err)
	second, err := audio.NewTone(3125, -20, 48000)
	require.NoError(t, err)
	for range 5 {
		want := make([]float32, 3*100)
		first.Fill(want, 3, 0)
		second.Fill(want, 3, 1)
		require.Equal(t, want, d.call(make([]float32, 100), false))
	}
	_, err = newEngine(Options{Tone: Voice{Hz: 1000, Channel: 1}, Second: &Voice{Hz: -1, Channel: 2}}, 48000, 1, 2)
	assert.EqualError(t, err, "live: second tone: audio: tone, got -1 Hz, want more than 0 and less than 24000")
}

func TestPlayAllocatesNothingInTheCallback(t *testing.T) {
	o := alerted()
	o.Second = &Voice{Hz: 3125, Level: -20, Channel: 2}
	e := newTestEngine(t, o, 1, 4)
	in, out := make([]float32, 128), make([]float32, 512)
	now, next := e.start, make(chan *voice, 3000)
	for range cap(next) {
		next <- &voice{comb: comb(t, audio.Chord{Hz: []float64{975}, Level: -6})}
	}
	assert.Zero(t, testing.AllocsPerRun(2000, func() {
		now = now.Add(3 * time.Millisecond)
		e.player.next.Store(<-next)
		e.process(in, out, false, now)
	}))
}

func TestPlayFromManyGoroutines(t *testing.T) {
	e := newTestEngine(t, Options{}, 1, 1)
	s, d := newStream(e, Info{}, nil), drive(e)
	var all sync.WaitGroup
	for range 4 {
		all.Go(func() {
			for range 100 {
				assert.NoError(t, s.Play(audio.Chord{Hz: []float64{1000}, Level: -6}))
				s.Playing()
			}
		})
	}
	for range 200 {
		d.call(make([]float32, 64), false)
	}
	all.Wait()
	for range 10 {
		d.call(make([]float32, 64), false)
	}
	_, ok := s.Playing()
	assert.True(t, ok, "the last of them is taken")
}
