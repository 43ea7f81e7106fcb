package pump_test

import (
	"errors"
	"io"
	"path/filepath"
	"testing"

	"breakcue/audio"
	"breakcue/audio/wav"
	"breakcue/cmd/internal/pump"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestATakeHoldsTheSoundTheLossesAndTheMarks(t *testing.T) {
	path := filepath.Join(t.TempDir(), "take.wav")
	w, err := wav.Create(path, wav.Spec{SampleRate: 8000, Channels: 2, Encoding: wav.Float32})
	require.NoError(t, err)
	take := pump.NewTake(w, audio.Format{SampleRate: 8000, Channels: 2})
	var want []float32
	put := func(frames int, v float32) {
		block := make([]float32, 2*frames)
		for i := range block {
			block[i] = v + float32(i)/1e6
		}
		take.Write(block)
		want = append(want, block...)
	}
	put(100, 0.1)
	put(9000, 0.2) // more than a chunk
	take.Silence(500)
	want = append(want, make([]float32, 1000)...)
	put(7, 0.3)
	take.Mark(9100, "points open 1")
	put(5, 0.4)
	assert.Equal(t, int64(9612), take.Frames())
	require.NoError(t, take.Close())
	require.NoError(t, take.Close(), "twice is once")

	r, err := wav.Open(path)
	require.NoError(t, err)
	defer r.Close()
	got := make([]float32, 0, len(want))
	buf := make([]float32, 4096)
	for {
		n, err := r.Read(buf)
		if err == io.EOF {
			break
		}
		require.NoError(t, err)
		got = append(got, buf[:2*n]...)
	}
	assert.Equal(t, want, got)
	assert.Equal(t, []wav.Cue{{Frame: 9100, Label: "points open 1"}}, r.Cues())
}

func TestATakeTellsWhyItStopped(t *testing.T) {
	path := filepath.Join(t.TempDir(), "take.wav")
	w, err := wav.Create(path, wav.Spec{SampleRate: 8000, Channels: 1})
	require.NoError(t, err)
	require.NoError(t, w.Close()) // as if it had failed: every write does now
	take := pump.NewTake(w, audio.Format{SampleRate: 8000, Channels: 1})
	take.Write(make([]float32, 8000))
	require.Error(t, take.Close())
	assert.Error(t, take.Err())
	assert.Equal(t, int64(8000), take.Frames(), "listening goes on")
}

// Behind a loss of which only a part is recorded, marks stand where their sound does.
func TestOfAVeryLongLossOnlyAPartIsRecorded(t *testing.T) {
	const rate, most = 1000, 1000 * 600
	d := &slowDisk{wrote: make(chan struct{})}
	close(d.wrote)
	take := pump.NewTake(d, audio.Format{SampleRate: rate, Channels: 1})
	take.Write(make([]float32, 50))
	take.Silence(most) // just recorded whole
	assert.Zero(t, take.Missing())
	take.Silence(most + 100)
	take.Write(make([]float32, 50))
	take.Silence(most + 7)
	take.Write(make([]float32, 50))
	assert.Equal(t, int64(3*most+257), take.Frames())
	assert.Equal(t, int64(107), take.Missing())
	var want []wav.Cue
	for _, m := range []struct {
		name           string
		stream, stands int64
	}{
		{"sound before", 49, 49},
		{"the last that is recorded of the loss", 49 + 2*most, 49 + 2*most},
		{"the first that is missing", 50 + 2*most, 50 + 2*most},
		{"the last that is missing", 149 + 2*most, 50 + 2*most},
		{"the first sound after it", 150 + 2*most, 50 + 2*most},
		{"the last sound after it", 199 + 2*most, 99 + 2*most},
		{"missing again", 203 + 3*most, 100 + 3*most},
		{"the first sound after both", 207 + 3*most, 100 + 3*most},
		{"the newest sound", take.Frames() - 1, 149 + 3*most},
	} {
		take.Mark(m.stream, m.name)
		want = append(want, wav.Cue{Frame: m.stands, Label: m.name})
	}
	require.NoError(t, take.Close())
	assert.Equal(t, 3*most+150, d.frames)
	assert.Equal(t, want, d.marks)
}

// A WAV file has no cue points past frame 4294967295, which is a day at 48 kHz.
func TestAMarkThatCannotBeSetDoesNotEndTheRecording(t *testing.T) {
	path := filepath.Join(t.TempDir(), "take.wav")
	w, err := wav.Create(path, wav.Spec{SampleRate: 8000, Channels: 1})
	require.NoError(t, err)
	take := pump.NewTake(w, audio.Format{SampleRate: 8000, Channels: 1})
	take.Write(make([]float32, 5000))
	take.Mark(1<<32, "points open 1")
	take.Write(make([]float32, 5000))
	require.NoError(t, take.Close())
	assert.Equal(t, 1, take.Unmarked())
	r, err := wav.Open(path)
	require.NoError(t, err)
	defer r.Close()
	assert.Equal(t, int64(10000), r.Format().Frames)
}

// slowDisk takes sound only when it is allowed to.
type slowDisk struct {
	wrote        chan struct{} // with place for the writes that it may begin; closed: for all
	frames, safe int
	marks        []wav.Cue
	syncs        int
	most         int   // frames that were not safe at a time
	largest      int   // frames written at a time
	err          error // of the next write
}

func (d *slowDisk) Path() string { return "slow.wav" }
func (d *slowDisk) Write(samples []float32) error {
	<-d.wrote
	d.frames += len(samples)
	d.most = max(d.most, d.frames-d.safe)
	d.largest = max(d.largest, len(samples))
	return d.err
}
func (d *slowDisk) Mark(frame int64, label string) error {
	d.marks = append(d.marks, wav.Cue{Frame: frame, Label: label})
	return nil
}
func (d *slowDisk) Sync() error {
	d.syncs++
	d.safe = d.frames
	return nil
}
func (d *slowDisk) Close() error { return nil }

// What was accepted before a disk did not keep up is written all the same.
func TestADiskThatDoesNotKeepUpGetsWhatWasQueued(t *testing.T) {
	const rate, second = 1000, 1000
	d := &slowDisk{wrote: make(chan struct{})}
	take := pump.NewTake(d, audio.Format{SampleRate: rate, Channels: 1})
	take.Write(make([]float32, 5*second))
	take.Mark(4321, "points open 1")
	require.NoError(t, take.Err())
	take.Write(make([]float32, 25*second)) // 20 s may wait
	require.ErrorIs(t, take.Err(), pump.ErrSlowDisk)
	take.Mark(6789, "points open 2")
	close(d.wrote)
	require.ErrorIs(t, take.Close(), pump.ErrSlowDisk)
	assert.InDelta(t, 20*second, d.frames, 100, "two chunks: the one being written, and the place of the mark")
	assert.Equal(t, []wav.Cue{{Frame: 4321, Label: "points open 1"}}, d.marks)
}

func TestADiskThatFailsGetsNoMore(t *testing.T) {
	d := &slowDisk{wrote: make(chan struct{}), err: errors.New("boom")}
	take := pump.NewTake(d, audio.Format{SampleRate: 1000, Channels: 1})
	take.Write(make([]float32, 5000))
	take.Mark(10, "")
	take.Silence(100)
	close(d.wrote)
	require.EqualError(t, take.Close(), "boom")
	assert.Equal(t, 50, d.frames, "the chunk that failed")
	assert.Empty(t, d.marks)
}

// With what live sound gathers before it is handed on, 0.2 s, a crash costs less than a second.
func TestADiskThatKeepsUpHoldsAllButALittle(t *testing.T) {
	for _, rate := range []int{8000, 44100, 192000} {
		d := &slowDisk{wrote: make(chan struct{})}
		take := pump.NewTake(d, audio.Format{SampleRate: rate, Channels: 1})
		for range 100 { // 0.2 s, handed on as four chunks
			take.Write(make([]float32, rate/5))
			for range 4 {
				d.wrote <- struct{}{}
			}
		}
		require.NoError(t, take.Close())
		assert.LessOrEqual(t, d.largest, rate/20)
		assert.LessOrEqual(t, float64(d.most+d.largest), 0.6*float64(rate), "%d: what waits to be made safe, and what is gathered", rate)
		assert.Less(t, d.syncs, 45, "twice a second, of 20")
	}
}

// A disk that is behind is not held up any more.
func TestADiskThatIsBehindIsNotSyncedBeforeItHasCaughtUp(t *testing.T) {
	d := &slowDisk{wrote: make(chan struct{})}
	take := pump.NewTake(d, audio.Format{SampleRate: 1000, Channels: 1})
	take.Write(make([]float32, 10000))
	close(d.wrote)
	require.NoError(t, take.Close())
	assert.Equal(t, 10000, d.frames)
	assert.Equal(t, 2, d.syncs, "for the last second, when it has caught up")
}
