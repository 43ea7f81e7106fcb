package wav

import (
	"encoding/binary"
	"io"
	"math"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"breakcue/audio"
	"breakcue/audio/audiotest"
)

// longFile writes a file of one format whose data, of the declared size, goes far beyond the buffer of a Reader, and what follows it.
func longFile(t *testing.T, format string, declared uint32, data int, after string) string {
	b := unhex(t, riff+format+`"data"`)
	b = binary.LittleEndian.AppendUint32(b, declared)
	for i := range data {
		b = append(b, byte(i*i>>7))
	}
	path := filepath.Join(t.TempDir(), "long.wav")
	require.NoError(t, os.WriteFile(path, append(b, unhex(t, after)...), 0o600))
	return path
}

const stereo24 = `"fmt " 10000000 0100 0200 80bb0000 00650400 0600 1800`

func TestSkipInFilesLongerThanTheBuffer(t *testing.T) {
	for name, c := range map[string]struct {
		format   string
		declared uint32
		data     int
		frames   int64
		end      error
	}{
		"16-bit":                  {fmt1ch, 100000, 100000, 50000, io.EOF},
		"stereo, 24-bit":          {stereo24, 120000, 120000, 20000, io.EOF},
		"half a frame at the end": {stereo24, 120003, 120003, 20000, io.EOF},
		"cut":                     {stereo24, 150000, 120000, 20000, io.ErrUnexpectedEOF},
		"cut in a frame":          {stereo24, 150000, 120005, 20000, io.ErrUnexpectedEOF},
		"of unknown length":       {stereo24, math.MaxUint32, 120000, 20000, io.EOF},
	} {
		t.Run(name, func(t *testing.T) {
			path := longFile(t, c.format, c.declared, c.data, "")
			open := func() audio.Source {
				r, err := Open(path)
				require.NoError(t, err)
				return r
			}
			audiotest.Check(t, open, 0)

			r := open().(audio.Skipper)
			defer r.Close()
			dst := make([]float32, 10)
			n, err := r.Read(dst)
			require.NoError(t, err)
			require.Positive(t, n)
			assert.Equal(t, c.frames-int64(n), r.Skip(math.MaxInt64), "all that is there is passed over")
			_, err = r.Read(dst)
			assert.Equal(t, c.end, err)
		})
	}
}

func TestCuesBehindDataThatWasPassedOver(t *testing.T) {
	r, err := Open(longFile(t, stereo24, 120001, 120001, `00 "cue " 1c000000 01000000 07000000 00000000 "data" 00000000 00000000 39300000`))
	require.NoError(t, err)
	defer r.Close()
	assert.Equal(t, int64(20000), r.Skip(math.MaxInt64))
	_, err = r.Read(make([]float32, 2))
	assert.Equal(t, io.EOF, err)
	assert.Equal(t, []Cue{{Frame: 12345}}, r.Cues())
}

func TestWhatDoesNotSeekIsPassedOverByReading(t *testing.T) {
	r, err := NewReader(endlessFile(t, fmt1ch))
	require.NoError(t, err)
	assert.Zero(t, r.Skip(100), "nothing was read ahead")
	n, err := r.Read(make([]float32, 10))
	require.NoError(t, err)
	require.Equal(t, 10, n)
	passed := r.Skip(math.MaxInt64)
	assert.Positive(t, passed, "what was read ahead")
	assert.Less(t, passed, int64(len(r.in.buf)))
	n, err = r.Read(make([]float32, 10))
	require.NoError(t, err)
	assert.Equal(t, 10, n)
}

func TestAFileCutWhileItIsReadEndsInTheMiddle(t *testing.T) {
	path := longFile(t, fmt1ch, 100000, 100000, "")
	r, err := Open(path)
	require.NoError(t, err)
	defer r.Close()
	require.NoError(t, os.Truncate(path, 60000))
	r.Skip(40000)
	_, err = r.Read(make([]float32, 10))
	assert.Equal(t, io.ErrUnexpectedEOF, err)
}

func TestSamplesOf16BitsInAnyNumber(t *testing.T) {
	src := []byte{0, 0, 1, 0, 0xff, 0xff, 0xff, 0x7f, 0, 0x80, 0, 0x40, 0, 0xc0, 0x34, 0x12}
	want := []float32{0, 1. / 32768, -1. / 32768, 32767. / 32768, -1, 0.5, -0.5, 0x1234 / 32768.}
	src, want = append(src, src...), append(want, want...)
	for n := range len(want) + 1 {
		dst := make([]float32, n)
		decodeS16(dst, src[:2*n])
		assert.Equal(t, want[:n], dst)
	}
}
