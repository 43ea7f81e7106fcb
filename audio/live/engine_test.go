package live

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"breakcue/audio"
)

func newTestEngine(t require.TestingT, o Options, ins, outs int) *engine {
	if o.Tone.Hz == 0 {
		o.Tone = Voice{Hz: 1000, Level: -12, Channel: 1}
	}
	e, err := newEngine(o, 48000, ins, outs)
	require.NoError(t, err)
	return e
}

// alerted is a tone on channel 1 and an alert on channel 3.
func alerted() Options {
	return Options{Tone: Voice{Hz: 1000, Level: -12, Channel: 1}, Alert: &Alert{Voice: Voice{Hz: 2000, Level: -6, Channel: 3}}}
}

// fakeDriver calls an engine back, on time by a clock of its own.
type fakeDriver struct {
	e   *engine
	now time.Time
}

func (d *fakeDriver) call(in []float32, flagged bool) []float32 {
	frames := len(in) / d.e.ins
	out := make([]float32, frames*d.e.outs)
	for i := range out {
		out[i] = 7 // what was in the driver's buffer before
	}
	d.e.process(in, out, flagged, d.now)
	d.now = d.now.Add(time.Duration(frames) * time.Second / 48000)
	return out
}

func drive(e *engine) *fakeDriver { return &fakeDriver{e, e.start.Add(time.Second)} }

func TestCallbackAllocatesNothing(t *testing.T) {
	e := newTestEngine(t, alerted(), 2, 4)
	in, out, dst := make([]float32, 256), make([]float32, 512), make([]float32, 256)
	now := e.start
	assert.Zero(t, testing.AllocsPerRun(2000, func() { // overruns included: the reader begins later
		now = now.Add(3 * time.Millisecond)
		e.alert.sound()
		e.process(in, out, true, now)
	}))
	assert.Zero(t, testing.AllocsPerRun(1000, func() { // and with a reader who waits
		now = now.Add(time.Minute)
		e.waiting.Store(true)
		e.process(in, out, false, now)
		e.ring.take(dst)
	}))
	s := &second{alert: newTestBeeper(t, 0), outs: 2}
	assert.Zero(t, testing.AllocsPerRun(1000, func() { s.process(out) }))
}

func TestVoicesHaveTheirChannelsToThemselves(t *testing.T) {
	e := newTestEngine(t, alerted(), 1, 4)
	d := drive(e)
	tone, err := audio.NewTone(1000, -12, 48000)
	require.NoError(t, err)
	alert, err := audio.NewTone(2000, -6, 48000)
	require.NoError(t, err)
	for block := range 20 {
		want := make([]float32, 4*100)
		tone.Fill(want, 4, 0)
		if block == 5 {
			e.alert.sound()
		}
		if block >= 5 {
			alert.Fill(want, 4, 2)
		}
		require.Equal(t, want, d.call(make([]float32, 100), false), "block %d", block)
	}
}

func TestToneFrom(t *testing.T) {
	e := newTestEngine(t, Options{Tone: Voice{Hz: 1000, Level: 0, Channel: 1, Ramp: 100 * time.Millisecond}}, 1, 1)
	assert.Equal(t, int64(4800), e.full.Load())
	d := drive(e)
	d.call(make([]float32, 4800-36), false)
	assert.Less(t, d.call(make([]float32, 13), false)[12], float32(0.9999), "the crest before")
	assert.Zero(t, e.late.Load())
	d.now = d.now.Add(time.Second)
	d.call(make([]float32, 23), false)
	assert.Equal(t, int64(4800+48000), e.full.Load(), "a second was lost meanwhile")
	assert.Equal(t, float32(1), d.call(make([]float32, 13), false)[12], "a quarter of a period past full level")
}

func TestLateCallbackIsAGap(t *testing.T) {
	for _, c := range []struct {
		late time.Duration
		lost int64
	}{{0, 0}, {500 * time.Millisecond, 0}, {501 * time.Millisecond, 24048}, {time.Minute, 2880000}} {
		e := newTestEngine(t, Options{}, 1, 1)
		d := drive(e)
		d.call(make([]float32, 480), false)
		d.now = d.now.Add(c.late)
		d.call(make([]float32, 480), false)
		assert.Equal(t, c.lost, e.late.Load(), "%v", c.late)
		dst := make([]float32, 4800)
		n, gap := e.ring.take(dst)
		require.Nil(t, gap)
		if c.lost == 0 {
			assert.Equal(t, 960, n)
			continue
		}
		assert.Equal(t, 480, n)
		_, gap = e.ring.take(dst)
		assert.Equal(t, &audio.GapError{At: 480 + c.lost, Lost: c.lost}, gap)
		n, _ = e.ring.take(dst)
		assert.Equal(t, 480, n)
	}
}

func TestEntered(t *testing.T) {
	e := newTestEngine(t, Options{}, 1, 1)
	d := drive(e)
	_, ok := e.entered(0)
	assert.False(t, ok, "before the first callback")
	begin := d.now
	for range 2000 {
		d.call(make([]float32, 48), false)
	}
	d.now = d.now.Add(time.Second) // 48000 frames lost
	d.call(make([]float32, 48), false)
	for _, c := range []struct {
		frame int64
		after time.Duration
		ok    bool
	}{
		{95999, 1999 * time.Millisecond, true},
		{95952, 1999 * time.Millisecond, true},
		{95951, 1998 * time.Millisecond, true},
		{96000 - 1000*48, 1000 * time.Millisecond, true},
		{96000, 0, false}, // lost
		{96000 + 47999, 0, false},
		{96000 + 48000, 3 * time.Second, true},
		{96000 + 48047, 3 * time.Second, true},
		{96000 + 48048, 0, false}, // to come
		{0, 0, false},             // forgotten
		{-1, 0, false},
	} {
		at, ok := e.entered(c.frame)
		assert.Equal(t, c.ok, ok, "frame %d", c.frame)
		if c.ok {
			assert.Equal(t, c.after, at.Sub(begin), "frame %d", c.frame)
		}
	}
}

func TestEndIsSilent(t *testing.T) {
	e := newTestEngine(t, Options{Tone: Voice{Hz: 1000, Level: 0, Channel: 1, Ramp: time.Hour},
		Alert: &Alert{Voice: Voice{Hz: 2000, Level: 0, Channel: 2}}}, 1, 2)
	d := drive(e)
	e.alert.sound()
	d.call(make([]float32, 48000), false)
	e.fading.Store(true)
	x := d.call(make([]float32, 400), false)
	assert.NotZero(t, x[2*100+1])
	assert.False(t, e.silent.Load())
	assert.Equal(t, make([]float32, 2*100), x[2*300:], "5 ms are 240 frames")
	assert.Equal(t, make([]float32, 2*400), d.call(make([]float32, 400), false))
	assert.True(t, e.silent.Load())
}

func TestFaultInTheCallback(t *testing.T) {
	e := newTestEngine(t, Options{}, 1, 1)
	out := []float32{7, 7, 7}
	e.ring = nil // what no fault of ours could do better
	assert.NotPanics(t, func() { e.process(make([]float32, 3), out, false, e.start) })
	assert.Equal(t, make([]float32, 3), out)
	assert.Contains(t, *e.fault.Load(), "nil pointer")
}

func TestClippedAndFlagged(t *testing.T) {
	e := newTestEngine(t, Options{}, 1, 1)
	d := drive(e)
	d.call([]float32{1, -1, 32767. / 32768, -32768. / 32768, 1.5, 0.999, -0.999, 0}, true)
	d.call(make([]float32, 5), false)
	s := newStream(e, Info{}, nil)
	assert.Equal(t, Stats{Callbacks: 2, Flagged: 1, Clipped: 5}, s.Stats())
	assert.Equal(t, 5, s.Info().Frames)
}

func TestNewEngineRefuses(t *testing.T) {
	for _, c := range []struct {
		o    Options
		want string
	}{
		{Options{Tone: Voice{Hz: 24000, Channel: 1}}, "live: audio: tone, got 24000 Hz, want more than 0 and less than 24000"},
		{Options{Tone: Voice{Hz: 1000, Level: math.NaN(), Channel: 1}}, "live: audio: tone level, got NaN dBFS, want 0 or less"},
		{Options{Tone: Voice{Hz: 1000, Channel: 1}, Alert: &Alert{Voice: Voice{Hz: -1, Channel: 2}}},
			"live: alert: audio: tone, got -1 Hz, want more than 0 and less than 24000"},
	} {
		_, err := newEngine(c.o, 48000, 1, 2)
		assert.EqualError(t, err, c.want)
	}
}
