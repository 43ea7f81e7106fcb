package live

import (
	"errors"
	"runtime"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"breakcue/audio"
	"breakcue/audio/audiotest"
)

// running returns a Stream whose driver calls back as fast as the reader takes what comes, in blocks of 33 frames; before block late one
// second is lost, for a late of 0 never.
func running(t *testing.T, late int) *Stream {
	e := newTestEngine(t, Options{}, 2, 2)
	ended := make(chan bool)
	var end atomic.Bool
	s := newStream(e, Info{Input: "fake"}, func(bool) error {
		end.Store(true)
		<-ended
		return nil
	})
	go func() {
		defer close(ended)
		d, in := drive(e), make([]float32, 66)
		for block, frame := 1, 0; !end.Load(); block++ {
			for !end.Load() && !e.fading.Load() && e.ring.unread() > 1000 {
				runtime.Gosched()
			}
			if block == late {
				d.now = d.now.Add(time.Second)
			}
			for i := range in {
				in[i] = float32(frame + i/2)
			}
			frame += len(in) / 2
			d.call(in, false)
		}
	}()
	return s
}

func TestStreamKeepsTheContract(t *testing.T) {
	audiotest.Check(t, func() audio.Source { return running(t, 0) }, 0)
	audiotest.Check(t, func() audio.Source { return running(t, 100) }, 0)
}

func TestStreamFormat(t *testing.T) {
	s := running(t, 0)
	assert.Equal(t, audio.Format{SampleRate: 48000, Channels: 2, Frames: -1, Encoding: "live"}, s.Format())
	_, err := s.Read(make([]float32, 2))
	require.NoError(t, err)
	assert.Equal(t, Info{Input: "fake", Rate: 48000, Frames: 33, Inputs: 2, Outputs: 2}, s.Info())
	assert.NoError(t, s.Close())
}

// A device that calls back no more: an error, the same ever after, and Close does not wait for the end of the tone.
func TestDeviceFallsSilent(t *testing.T) {
	e := newTestEngine(t, Options{}, 1, 1)
	var wasRunning *bool
	s := newStream(e, Info{Input: "USB thing"}, func(running bool) error { wasRunning = &running; return nil })
	s.wait = time.Millisecond
	drive(e).call(make([]float32, 100), false)
	n, err := s.Read(make([]float32, 1000))
	require.NoError(t, err)
	assert.Equal(t, 100, n)
	for range 2 {
		_, err = s.Read(make([]float32, 1000))
		assert.EqualError(t, err, `live: run device "USB thing": no sound for 2 s`)
		assert.ErrorIs(t, err, ErrSilent)
	}
	assert.NoError(t, s.Close())
	assert.False(t, *wasRunning)
}

func TestReadTellsOfAFault(t *testing.T) {
	s := running(t, 0)
	fault := "gone wrong"
	s.engine.fault.Store(&fault)
	var err error
	for err == nil {
		_, err = s.Read(make([]float32, 1000))
	}
	assert.EqualError(t, err, `live: run device "fake": fault in the callback: gone wrong`)
	assert.NoError(t, s.Close())
}

// Close from another goroutine ends a Read that waits.
func TestCloseWhileReading(t *testing.T) {
	e := newTestEngine(t, Options{}, 1, 1)
	e.silent.Store(true)
	s := newStream(e, Info{}, func(bool) error { return nil })
	s.wait = time.Hour
	got := make(chan error)
	go func() {
		_, err := s.Read(make([]float32, 10))
		got <- err
	}()
	for !e.waiting.Load() {
		runtime.Gosched()
	}
	assert.NoError(t, s.Close())
	assert.Equal(t, ErrClosed, <-got)
}

func TestCloseTellsWhatTheDriverSaid(t *testing.T) {
	e := newTestEngine(t, Options{}, 1, 1)
	e.silent.Store(true)
	broken := &DeviceError{Device: "fake", What: "stop", Err: ErrNoAnswer}
	s := newStream(e, Info{}, func(bool) error { return broken })
	for range 2 {
		assert.Equal(t, broken, s.Close())
	}
	e.process(make([]float32, 10), make([]float32, 10), false, time.Now()) // a callback that comes all the same finds everything in place
	_, err := s.Read(make([]float32, 10))
	assert.Equal(t, ErrClosed, err)
}

func TestOverrunIsToldInItsPlace(t *testing.T) {
	e := newTestEngine(t, Options{}, 1, 1)
	s := newStream(e, Info{}, func(bool) error { return nil })
	d := drive(e)
	for range 250 { // 5 s; the ring holds 4
		d.call(make([]float32, 960), false)
	}
	read := func() (frames int, err error) {
		for n := 0; err == nil && e.ring.unread() > 0; frames += n {
			n, err = s.Read(make([]float32, 1000))
		}
		return frames, err
	}
	n, err := read()
	require.NoError(t, err)
	assert.Equal(t, 4*48000, n)
	d.call(make([]float32, 960), false)
	_, err = read()
	assert.Equal(t, &audio.GapError{At: 5 * 48000, Lost: 48000}, err)
	n, err = read()
	assert.NoError(t, err)
	assert.Equal(t, 960, n)
	assert.Equal(t, int64(48000), s.Stats().Overrun)
}

// The alert's own device goes: that is told, and listening goes on.
func TestAlertDeviceGone(t *testing.T) {
	s := running(t, 0)
	assert.NoError(t, s.AlertErr(), "there is none")
	s.Sound() // does nothing
	s.second = &second{alert: newTestBeeper(t, 0), outs: 1, name: "speaker"}
	read := func() {
		s.second.looked = s.second.looked.Add(-2 * s.wait) // as if that much had passed
		_, err := s.Read(make([]float32, 100))
		require.NoError(t, err)
	}
	for range 5 {
		s.second.process(make([]float32, 10))
		read()
		assert.NoError(t, s.AlertErr())
	}
	s.Sound()
	out := make([]float32, 100)
	s.second.process(out)
	assert.NotZero(t, out[50])
	read()
	read()
	assert.NoError(t, s.AlertErr(), "once proves nothing")
	read()
	assert.EqualError(t, s.AlertErr(), `live: run device "speaker": no sound for 2 s`)
	read()
	assert.NoError(t, s.Close())
	s.second.process(make([]float32, 1000))
	s.second.process(out)
	assert.Equal(t, make([]float32, 100), out)
}

func TestFaultInTheAlert(t *testing.T) {
	s := &second{outs: 1, name: "speaker"} // without an alert
	s.process(make([]float32, 10))
	assert.EqualError(t, s.err(), `live: run device "speaker": fault in the callback`)
	assert.True(t, errors.Is(s.err(), ErrFault))
}
