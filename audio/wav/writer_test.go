package wav

import (
	"encoding/hex"
	"errors"
	"io"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"breakcue/audio"
)

// The dumps below were put together by hand after the layouts named in the package comment; files written the same
// way were read by sox 14.4.2, ffmpeg 5.1.9 (format and samples) and libsndfile (cue points and labels too), all alike.
const junk = `"JUNK" 1c000000 00000000000000000000000000000000000000000000000000000000 `

func TestBytesOnDisk(t *testing.T) {
	for _, c := range []struct {
		name    string
		spec    Spec
		samples []float32
		marks   []Cue
		want    string
	}{
		{
			"16-bit stereo with cue points",
			Spec{SampleRate: 48000, Channels: 2}, []float32{0, 0.5, -0.5, -1},
			[]Cue{{1, "open 1"}, {0, "abc"}, {1, ""}},
			`"RIFF" d4000000 "WAVE"` + junk + `"fmt " 10000000 0100 0200 80bb0000 00ee0200 0400 1000
			"data" 08000000 0000 0040 00c0 0080
			"cue " 4c000000 03000000
			01000000 01000000 "data" 00000000 00000000 01000000
			02000000 00000000 "data" 00000000 00000000 00000000
			03000000 01000000 "data" 00000000 00000000 01000000
			"LIST" 28000000 "adtl"
			"labl" 0b000000 01000000 "open 1" 00 00
			"labl" 08000000 02000000 "abc" 00`,
		}, {
			"24-bit mono, odd data",
			Spec{SampleRate: 44100, Channels: 1, Encoding: PCM24}, []float32{0.5}, []Cue{{0, ""}},
			`"RIFF" 7c000000 "WAVE"` + junk + `"fmt " 10000000 0100 0100 44ac0000 cc040200 0300 1800
			"data" 03000000 000040 00
			"cue " 1c000000 01000000 01000000 00000000 "data" 00000000 00000000 00000000
			"LIST" 04000000 "adtl"`,
		}, {
			"32-bit float",
			Spec{SampleRate: 8000, Channels: 1, Encoding: Float32}, []float32{1, -2}, nil,
			`"RIFF" 5e000000 "WAVE"` + junk + `"fmt " 12000000 0300 0100 401f0000 007d0000 0400 2000 0000
			"fact" 04000000 02000000 "data" 08000000 0000803f 000000c0`,
		}, {
			"three channels are extensible",
			Spec{SampleRate: 8000, Channels: 3}, []float32{0, 0, -1}, nil,
			`"RIFF" 72000000 "WAVE"` + junk + `"fmt " 28000000 feff 0300 401f0000 80bb0000 0600 1000
			1600 1000 00000000 0100 0000 0000 1000 8000 00aa00389b71 "fact" 04000000 01000000 "data" 06000000 0000 0000 0080`,
		},
	} {
		t.Run(c.name, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), "take.wav")
			w, err := Create(path, c.spec)
			require.NoError(t, err)
			require.NoError(t, w.Write(c.samples))
			for _, m := range c.marks {
				require.NoError(t, w.Mark(m.Frame, m.Label))
			}
			require.NoError(t, w.Close())
			got, err := os.ReadFile(path)
			require.NoError(t, err)
			want := unhex(t, c.want)
			assert.Equal(t, uint32(len(want)-8), le.Uint32(want[4:]), "the dump is right itself")
			assert.Equal(t, hex.Dump(want), hex.Dump(got))

			r, err := Open(path)
			require.NoError(t, err)
			defer r.Close()
			samples, err := readAll(r, 2)
			assert.Equal(t, io.EOF, err)
			assert.Equal(t, c.samples, samples)
			assert.Equal(t, c.marks, r.Cues())
		})
	}
}

// header is what stands before the samples when there is no room for cue points.
func header(s Spec, data, rest int64) []byte {
	return appendDataHeader(s.appendFront(nil, data, rest, 0), data)
}

func TestHeaderTurnsToRF64(t *testing.T) {
	s := Spec{SampleRate: 48000, Channels: 1}
	const most = 0xfffffffe - 72 // data bytes of the largest RIFF file: 72 of the header count in its size
	assert.Equal(t, hex.Dump(unhex(t, `"RIFF" feffffff "WAVE"`+junk+
		`"fmt " 10000000 0100 0100 80bb0000 00770100 0200 1000 "data" b6ffffff`)), hex.Dump(header(s, most, 0)))
	assert.Equal(t, hex.Dump(unhex(t, `"RF64" ffffffff "WAVE" "ds64" 1c000000 0000000101000000 b8ffff0001000000 dcff7f8000000000 00000000
		"fmt " 10000000 0100 0100 80bb0000 00770100 0200 1000 "data" ffffffff`)), hex.Dump(header(s, most+2+1<<24, 0)))
	// The same by what follows the data.
	assert.Equal(t, "RIFF", string(header(s, most-10, 10)[:4]))
	assert.Equal(t, "RF64", string(header(s, most-10, 12)[:4]))
}

func TestRecordingBeyond4GiB(t *testing.T) {
	path := filepath.Join(t.TempDir(), "long.wav")
	w, err := Create(path, Spec{SampleRate: 192000, Channels: 1, Encoding: PCM24})
	require.NoError(t, err)
	const before = 3<<30/3*2 - 1 // a hole of nearly 6 GiB stands for samples written before; a hole takes no space
	w.data, w.frames, w.synced = 3*before, before, before
	require.NoError(t, w.Write([]float32{0.5, -0.25, 0.125}))
	require.NoError(t, w.Mark(before+1, "open"))
	require.NoError(t, w.Close())

	r, err := Open(path)
	require.NoError(t, err)
	defer r.Close()
	assert.Equal(t, audio.Format{SampleRate: 192000, Channels: 1, Frames: before + 3, Encoding: "24-bit PCM"}, r.Format())

	// The end of the file, read as a small file: seek past the hole.
	f := r.file.(*os.File)
	_, err = f.Seek(w.start+3*before, io.SeekStart)
	require.NoError(t, err)
	r.in.lo, r.in.hi, r.left = 0, 0, 9
	got, err := readAll(r, 2)
	assert.Equal(t, io.EOF, err)
	assert.Equal(t, []float32{0.5, -0.25, 0.125}, got)
	assert.Equal(t, []Cue{{before + 1, "open"}}, r.Cues())
}

// A recording that is never closed, as after kill -9, loses at most a second.
func TestCrashLosesAtMostASecond(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		dir, err := os.MkdirTemp("", "crash")
		require.NoError(r, err)
		defer os.RemoveAll(dir)
		spec := Spec{
			SampleRate: rapid.IntRange(100, 3000).Draw(r, "rate"),
			Channels:   rapid.IntRange(1, 3).Draw(r, "channels"),
			Encoding:   Encoding(rapid.IntRange(0, 2).Draw(r, "encoding")),
		}
		path := filepath.Join(dir, "take.wav")
		w, err := Create(path, spec)
		require.NoError(r, err)
		defer w.Close()
		want := []float32{}
		for range rapid.IntRange(0, 20).Draw(r, "blocks") {
			block := make([]float32, rapid.IntRange(0, 500).Draw(r, "block")*spec.Channels)
			for i := range block {
				block[i] = float32((len(want)+i)%256-128) / 128
			}
			require.NoError(r, w.Write(block))
			want = append(want, block...)
		}

		got, err := Open(path)
		require.NoError(r, err)
		defer got.Close()
		samples, err := readAll(got, 100)
		assert.Equal(r, io.EOF, err)
		assert.Less(r, (len(want)-len(samples))/spec.Channels, spec.SampleRate)
		require.LessOrEqual(r, len(samples), len(want))
		assert.Equal(r, want[:len(samples)], append([]float32{}, samples...))
		assert.Equal(r, int64(len(want)/spec.Channels), w.Frames())

		require.NoError(r, w.Sync())
		again, err := Open(path)
		require.NoError(r, err)
		defer again.Close()
		samples, err = readAll(again, 100)
		assert.Equal(r, io.EOF, err)
		assert.Len(r, samples, len(want), "nothing is lost after Sync")
	})
}

func TestRoundTrip(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		e := Encoding(rapid.IntRange(0, 2).Draw(r, "encoding"))
		samples := rapid.SliceOfN(rapid.Float32Range(-1, 1), 1, 300).Draw(r, "samples")
		b, clipped := e.appendSamples(nil, samples)
		assert.Zero(r, clipped)
		got := make([]float32, len(samples))
		map[Encoding]func([]float32, []byte){PCM16: decodeS16, PCM24: decodeS24, Float32: decodeF32}[e](got, b)
		// Half a step of rounding, and a whole step at +1, which integers miss.
		step := map[Encoding]float64{PCM16: 1. / (1 << 15), PCM24: 1. / (1 << 23), Float32: 0}[e]
		for i := range got {
			tolerance := step / 2
			if float64(samples[i]) > 1-step {
				tolerance = step
			}
			assert.InDelta(r, samples[i], got[i], tolerance)
		}
	})
}

func TestClipping(t *testing.T) {
	nan, inf := float32(math.NaN()), float32(math.Inf(1))
	in := []float32{1, -1, 1.0001, -1.0001, 2, inf, -inf, nan, 0.99999, 1e-9, -1. / 32768, 0.5 / 32768, 1.5 / 32768}
	b, clipped := PCM16.appendSamples(nil, in)
	assert.Equal(t, int64(6), clipped)
	assert.Equal(t, hex.Dump(unhex(t, `ff7f 0080 ff7f 0080 ff7f ff7f 0080 0000 ff7f 0000 ffff 0000 0200 # half steps go to the even number`)), hex.Dump(b))
	b, clipped = PCM24.appendSamples(nil, in[:8])
	assert.Equal(t, int64(6), clipped)
	assert.Equal(t, hex.Dump(unhex(t, `ffff7f 000080 ffff7f 000080 ffff7f ffff7f 000080 000000`)), hex.Dump(b))
	b, clipped = Float32.appendSamples(nil, in[:8])
	assert.Equal(t, int64(6), clipped)
	for i := range in[:8] {
		assert.Equal(t, math.Float32bits(in[i]), le.Uint32(b[4*i:]), "kept as it is")
	}

	w, err := Create(filepath.Join(t.TempDir(), "x.wav"), Spec{SampleRate: 8000, Channels: 1})
	require.NoError(t, err)
	defer w.Close()
	require.NoError(t, w.Write(in))
	require.NoError(t, w.Write(in[2:4]))
	assert.Equal(t, int64(8), w.Clipped())
}

func TestCreateRefuses(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "x.wav")
	require.NoError(t, os.WriteFile(path, []byte("precious"), 0o600))
	ok := Spec{SampleRate: 8000, Channels: 1}

	_, err := Create(path, ok)
	assert.ErrorIs(t, err, fs.ErrExist)
	assert.Contains(t, err.Error(), path)
	kept, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.Equal(t, "precious", string(kept))

	ok.Overwrite = true
	w, err := Create(path, ok)
	require.NoError(t, err)
	assert.Equal(t, path, w.Path())
	require.NoError(t, w.Close())
	r, err := Open(path)
	require.NoError(t, err)
	require.NoError(t, r.Close())

	_, err = Create(filepath.Join(dir, "none", "x.wav"), ok)
	assert.ErrorIs(t, err, fs.ErrNotExist)
	_, err = Create(dir, ok)
	assert.Error(t, err)

	for want, s := range map[string]Spec{
		"wav: sample rate, got 0, want 1..768000 frames/s":      {Channels: 1},
		"wav: sample rate, got 768001, want 1..768000 frames/s": {SampleRate: 768001, Channels: 1},
		"wav: channels, got 0, want 1..256":                     {SampleRate: 8000},
		"wav: channels, got 257, want 1..256":                   {SampleRate: 8000, Channels: 257},
		"wav: encoding 3, want PCM16, PCM24 or Float32":         {SampleRate: 8000, Channels: 1, Encoding: 3},
		"wav: room, got -1, want 0..65536 cue points":           {SampleRate: 8000, Channels: 1, Room: -1},
		"wav: room, got 65537, want 0..65536 cue points":        {SampleRate: 8000, Channels: 1, Room: 65537},
	} {
		_, err := Create(filepath.Join(dir, "new.wav"), s)
		assert.EqualError(t, err, want)
		assert.NoFileExists(t, filepath.Join(dir, "new.wav"))
	}
}

func TestWriterRefuses(t *testing.T) {
	w, err := Create(filepath.Join(t.TempDir(), "x.wav"), Spec{SampleRate: 8000, Channels: 2})
	require.NoError(t, err)
	assert.ErrorContains(t, w.Write(make([]float32, 3)), "got 3 samples, want whole frames of 2")
	assert.ErrorContains(t, w.Mark(-1, ""), "frame, got -1, want 0..4294967295")
	assert.ErrorContains(t, w.Mark(1<<32, ""), "frame, got 4294967296, want 0..4294967295")
	assert.ErrorContains(t, w.Mark(0, "a\x00b"), `label, got "a\x00b", want no NUL`)
	assert.NoError(t, w.Write(make([]float32, 4)), "none of this is sticky")
	assert.NoError(t, w.Close())
	assert.NoError(t, w.Close())
	assert.EqualError(t, w.Write(make([]float32, 2)), "wav: write after close")
	assert.Error(t, w.Sync())
}

// fullDisk is a file on a disk with room for so many bytes. As os.File it tells of a failed write nothing about its part
// that was written.
type fullDisk struct {
	*os.File
	room int64
}

func (d *fullDisk) WriteAt(p []byte, off int64) (int, error) {
	if fits := max(0, d.room-off); int64(len(p)) > fits {
		if _, err := d.File.WriteAt(p[:fits], off); err != nil {
			return 0, err
		}
		return 0, &fs.PathError{Op: "write", Path: d.Name(), Err: syscall.ENOSPC}
	}
	return d.File.WriteAt(p, off)
}

func TestFullDisk(t *testing.T) {
	const header = 80 // bytes before the first sample
	for _, c := range []struct {
		name  string
		room  int64
		saved int64
		write int // frames, at 1000 frames/s and 4 bytes a frame
	}{
		{"in the middle of a frame", header + 4*1500 + 3, 1500, 5000},
		{"between the seconds", header + 4*2000, 2000, 5000},
		{"at the cue points", header + 4*500 + 20, 500, 500},
	} {
		t.Run(c.name, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), "x.wav")
			f, err := os.Create(path)
			require.NoError(t, err)
			w := newWriter(&fullDisk{f, c.room}, path, Spec{SampleRate: 1000, Channels: 2})
			require.NoError(t, w.begin())
			require.NoError(t, w.Mark(10, "open"))
			want := make([]float32, 2*c.write)
			for i := range want {
				want[i] = float32(i%256) / 256
			}
			err = w.Write(want)
			if err == nil {
				err = w.Close()
			}
			var writeErr *WriteError
			require.ErrorAs(t, err, &writeErr)
			assert.ErrorIs(t, err, syscall.ENOSPC)
			assert.Equal(t, path, writeErr.Path)
			assert.Equal(t, c.saved, writeErr.Saved)
			assert.Equal(t, time.Duration(c.saved)*time.Millisecond, writeErr.Took)
			if again := w.Write(want); again != errWriterClosed {
				assert.Equal(t, err, again, "sticky")
				assert.Equal(t, err, w.Close(), "Close tells it once more")
			}
			assert.NoError(t, w.Close())

			r, err := Open(path)
			require.NoError(t, err)
			defer r.Close()
			assert.Equal(t, c.saved, r.Format().Frames)
			got, err := readAll(r, 100)
			assert.Equal(t, io.EOF, err)
			assert.Equal(t, want[:2*c.saved], got)
		})
	}
}

// deadDisk fails in Sync or Close, as a disk that was pulled out.
type deadDisk struct {
	*os.File
	sync, close error
}

func (d *deadDisk) Sync() error { return d.sync }
func (d *deadDisk) Close() error {
	d.File.Close()
	return d.close
}

func TestFailuresOfSyncAndCloseAreTold(t *testing.T) {
	boom := errors.New("boom")
	for name, disk := range map[string]deadDisk{"sync": {sync: boom}, "close": {close: boom}} {
		t.Run(name, func(t *testing.T) {
			f, err := os.Create(filepath.Join(t.TempDir(), "x.wav"))
			require.NoError(t, err)
			disk.File = f
			w := newWriter(&disk, "x.wav", Spec{SampleRate: 8000, Channels: 1})
			require.NoError(t, w.Write(make([]float32, 100)))
			err = w.Close()
			assert.ErrorIs(t, err, boom)
			assert.EqualError(t, err, "wav: write x.wav: saved 100 frames (12.5ms): boom")
		})
	}
}

func BenchmarkWrite(b *testing.B) {
	for _, e := range []Encoding{PCM16, PCM24, Float32} {
		b.Run(e.String(), func(b *testing.B) {
			block := make([]float32, 4096)
			for i := range block {
				block[i] = float32(i)/4096 - 0.5
			}
			buf := make([]byte, 0, 4*len(block))
			b.ReportAllocs()
			for b.Loop() {
				e.appendSamples(buf, block)
			}
			b.ReportMetric(float64(b.N)*4096/b.Elapsed().Seconds()/1e6, "Mframes/s")
		})
	}
}
