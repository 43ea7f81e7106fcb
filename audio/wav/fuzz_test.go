package wav

import (
	"bytes"
	"errors"
	"io"
	"os"
	"path/filepath"
	"testing"
	"testing/iotest"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// FuzzReader feeds anything: it must not panic, must give the same sound in blocks of any size, and must not give or
// keep more than the input can hold.
func FuzzReader(f *testing.F) {
	files, err := filepath.Glob(outside("*.wav"))
	require.NoError(f, err)
	require.NotEmpty(f, files)
	for _, name := range files {
		b, err := os.ReadFile(name)
		require.NoError(f, err)
		f.Add(b[:min(len(b), 400)])
	}
	f.Add(unhex(f, riff+`"abcd" 03000000 010203`+fmt2ch+data4+`"cue " 1c000000 ffffffff 01000000 00000000 "data" 00000000
		00000000 02000000 "LIST" 12000000 "adtl" "labl" 06000000 01000000 6100`))
	f.Fuzz(func(t *testing.T, file []byte) {
		r, err := NewReader(bytes.NewReader(file))
		if err != nil {
			assertTyped(t, err)
			return
		}
		format := r.Format()
		require.True(t, format.Channels >= 1 && format.Channels <= MaxChannels)
		require.True(t, format.SampleRate >= 1 && format.SampleRate <= MaxSampleRate)
		a, errA := readAll(r, 1000)
		require.LessOrEqual(t, len(a), len(file))
		require.LessOrEqual(t, len(r.Cues()), len(file)/24)
		require.True(t, errA == io.EOF || errA == io.ErrUnexpectedEOF, "%v", errA)

		again, err := NewReader(iotest.HalfReader(bytes.NewReader(file)))
		require.NoError(t, err)
		b, errB := readAll(again, 3)
		require.Equal(t, errA, errB)
		require.Equal(t, len(a), len(b))
		for i := range a {
			require.True(t, a[i] == b[i] || a[i] != a[i] && b[i] != b[i], "sample %d", i)
		}
		require.Equal(t, r.Cues(), again.Cues())
	})
}

// assertTyped checks that an input of bytes alone fails with one of the errors that NewReader documents.
func assertTyped(t *testing.T, err error) {
	var notWAV *NotWAVError
	var unsupported *UnsupportedError
	var header *HeaderError
	assert.True(t, errors.As(err, &notWAV) || errors.As(err, &unsupported) || errors.As(err, &header), "%v", err)
}
