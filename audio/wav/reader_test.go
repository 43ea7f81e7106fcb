package wav

import (
	"bytes"
	"encoding/hex"
	"errors"
	"io"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/iotest"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"breakcue/audio"
	"breakcue/audio/audiotest"
)

// unhex turns a hex dump into bytes; blanks, line ends and "text in quotes" are allowed, # starts a comment.
func unhex(t testing.TB, dump string) []byte {
	var b []byte
	for _, line := range strings.Split(dump, "\n") {
		line, _, _ = strings.Cut(line, "#")
		for i, part := range strings.Split(line, `"`) {
			if i%2 == 1 {
				b = append(b, part...)
				continue
			}
			raw, err := hex.DecodeString(strings.Join(strings.Fields(part), ""))
			require.NoError(t, err)
			b = append(b, raw...)
		}
	}
	return b
}

// Parts of hand-written files: 8 kHz, 16-bit.
const (
	riff   = `"RIFF" ff000000 "WAVE" `
	fmt1ch = `"fmt " 10000000 0100 0100 401f0000 803e0000 0200 1000 `
	fmt2ch = `"fmt " 10000000 0100 0200 401f0000 007d0000 0400 1000 `
	data4  = `"data" 08000000 0000 0040 00c0 0080 ` // 0, 0.5, -0.5, -1
)

var samples4 = []float32{0, 0.5, -0.5, -1}

func TestHandWrittenChunks(t *testing.T) {
	for _, c := range []struct {
		name, dump string
		want       []float32
		frames     int64
		end        error
	}{
		{"plain", riff + fmt1ch + data4, samples4, 4, io.EOF},
		{"BW64 with ds64", `"BW64" ffffffff "WAVE" "ds64" 1c000000 4c00000000000000 0800000000000000 0400000000000000 00000000` +
			fmt1ch + `"data" ffffffff 0000 0040 00c0 0080`, samples4, 4, io.EOF},
		{"ds64 with a table", `"RF64" ffffffff "WAVE" "ds64" 28000000 4c00000000000000 0800000000000000 0400000000000000 01000000` +
			`"bext" 0600000000000000` + fmt1ch + `"data" ffffffff 0000 0040 00c0 0080 ffff ffff`, samples4, 4, io.EOF},
		{"ds64 that knows nothing", `"RF64" ffffffff "WAVE" "ds64" 1c000000 ffffffffffffffff ffffffffffffffff ffffffffffffffff 00000000` +
			fmt1ch + `"data" ffffffff 0000 0040 00c0 0080`, samples4, -1, io.EOF},
		{"ds64 of a file beyond 4 GiB, cut", `"RF64" ffffffff "WAVE" "ds64" 1c000000 0000000002000000 0000000001000000 0000008000000000 00000000` +
			fmt1ch + `"data" ffffffff 0000 0040 00c0 0080`, samples4, 1 << 31, io.ErrUnexpectedEOF},
		{"no ds64 in RF64", `"RF64" ffffffff "WAVE"` + fmt1ch + `"data" ffffffff 0000 0040 00c0 0080`, samples4, -1, io.EOF},
		{"ds64 in RIFF means nothing", riff + `"ds64" 02000000 ffff` + fmt1ch + data4, samples4, 4, io.EOF},
		{"odd unknown chunk with pad", riff + `"abcd" 03000000 010203 00` + fmt1ch + data4, samples4, 4, io.EOF},
		{"odd unknown chunk without pad", riff + `"abcd" 03000000 010203` + fmt1ch + data4, samples4, 4, io.EOF},
		{"odd chunk with a pad that is a letter", riff + `"abcd" 03000000 010203 "x"` + fmt1ch + data4, samples4, 4, io.EOF},
		{"odd chunk, pad, unknown chunk", riff + `"abcd" 01000000 01 00 "efgh" 00000000` + fmt1ch + data4, samples4, 4, io.EOF},
		{"odd chunk, no pad, unknown chunk", riff + `"abcd" 01000000 01 "efgh" 02000000 0000` + fmt1ch + data4, samples4, 4, io.EOF},
		{"longer fmt chunk", riff + `"fmt " 13000000 0100 0100 401f0000 803e0000 0200 1000 0000 00 00` + data4, samples4, 4, io.EOF},
		{"RIFF size is nonsense", `"RIFF" 01000000 "WAVE"` + fmt1ch + data4, samples4, 4, io.EOF},
		{"garbage after the data", riff + fmt1ch + data4 + `"garb" ffffffff 01`, samples4, 4, io.EOF},
		{"half a frame declared", riff + fmt1ch + `"data" 09000000 0000 0040 00c0 0080 11`, samples4, 4, io.EOF},
		{"cut at a frame", riff + fmt1ch + `"data" 0a000000 0000 0040 00c0 0080`, samples4, 5, io.ErrUnexpectedEOF},
		{"cut in a frame", riff + fmt1ch + `"data" 0a000000 0000 0040 00c0 0080 11`, samples4, 5, io.ErrUnexpectedEOF},
		{"cut in a stereo frame", riff + fmt2ch + `"data" 0c000000 0000 0040 00c0 0080 1100`, samples4, 3, io.ErrUnexpectedEOF},
		{"cut before the first frame", riff + fmt2ch + `"data" 0c000000`, nil, 3, io.ErrUnexpectedEOF},
		{"size absurd", riff + fmt1ch + `"data" f0ffffff 0000 0040 00c0 0080`, samples4, 0x7ffffff8, io.ErrUnexpectedEOF},
		{"size 0 of a pipe", `"RIFF" 00000000 "WAVE"` + fmt1ch + `"data" 00000000 0000 0040 00c0 0080`, samples4, -1, io.EOF},
		{"size 0 of a killed recorder", `"RIFF" 24000000 "WAVE"` + fmt1ch + `"data" 00000000 0000 0040 00c0 0080 11`, samples4, -1, io.EOF},
		{"size ffffffff of a pipe", `"RIFF" ffffffff "WAVE"` + fmt1ch + `"data" ffffffff 0000 0040 00c0 0080`, samples4, -1, io.EOF},
		{"size 80000000 of a pipe", `"RIFF" 24000080 "WAVE"` + fmt1ch + `"data" 00000080 0000 0040 00c0 0080`, samples4, -1, io.EOF},
		{"really empty", `"RIFF" 2e000000 "WAVE"` + fmt1ch + `"data" 00000000 "abcd" 02000000 1234`, nil, 0, io.EOF},
		{"empty and nothing more", `"RIFF" 24000000 "WAVE"` + fmt1ch + `"data" 00000000`, nil, -1, io.EOF},
		{"extensible, 20 of 24 bits", riff + `"fmt " 28000000 feff 0100 401f0000 c05d0000 0300 1800 1600 1400 00000000
			0100 0000 0000 1000 8000 00aa00389b71 "data" 06000000 000040 0000c0`, []float32{0.5, -0.5}, 2, io.EOF},
		{"12 bits, left-justified in 16", riff + `"fmt " 10000000 0100 0100 401f0000 803e0000 0200 0c00` + data4, samples4, 4, io.EOF},
	} {
		t.Run(c.name, func(t *testing.T) {
			file := unhex(t, c.dump)
			r, err := NewReader(bytes.NewReader(file))
			require.NoError(t, err)
			assert.Equal(t, c.frames, r.Format().Frames)
			got, err := readAll(r, 3)
			assert.Equal(t, c.want, got)
			assert.Equal(t, c.end, err)
			audiotest.Check(t, func() audio.Source {
				r, err := NewReader(iotest.OneByteReader(bytes.NewReader(file)))
				require.NoError(t, err)
				return r
			}, 0)
		})
	}
}

func TestValidBitsAreNamed(t *testing.T) {
	for bits, want := range map[string]string{"0c00": "12-bit PCM in 16 bits", "1000": "16-bit PCM"} {
		r, err := NewReader(bytes.NewReader(unhex(t, riff+`"fmt " 10000000 0100 0100 401f0000 803e0000 0200`+bits+data4)))
		require.NoError(t, err)
		assert.Equal(t, want, r.Format().Encoding)
	}
}

func TestFloatsPassThroughUntouched(t *testing.T) {
	r, err := NewReader(bytes.NewReader(unhex(t, riff+`"fmt " 12000000 0300 0100 401f0000 007d0000 0400 2000 0000
		"data" 18000000 0000c07f 0000807f 000080ff 00002041 01000000 00000080 # NaN, Inf, -Inf, 10, smallest, -0`)))
	require.NoError(t, err)
	got, err := readAll(r, 4)
	assert.Equal(t, io.EOF, err)
	var bits []uint32
	for _, v := range got {
		bits = append(bits, math.Float32bits(v))
	}
	assert.Equal(t, []uint32{0x7fc00000, 0x7f800000, 0xff800000, 0x41200000, 1, 0x80000000}, bits)

	r, err = NewReader(bytes.NewReader(unhex(t, riff+`"fmt " 12000000 0300 0100 401f0000 00fa0000 0800 4000 0000
		"data" 18000000 000000000000f87f 000000000000f0ff 9c7500883ce437fe # NaN, -Inf, -1e300`)))
	require.NoError(t, err)
	got, err = readAll(r, 4)
	assert.Equal(t, io.EOF, err)
	require.Len(t, got, 3)
	assert.True(t, math.IsNaN(float64(got[0])))
	assert.True(t, math.IsInf(float64(got[1]), -1))
	assert.True(t, math.IsInf(float64(got[2]), -1), "beyond float32")
}

func TestCuesBeforeAndAfterTheData(t *testing.T) {
	const cue = `"cue " 34000000 02000000
		07000000 00000000 "data" 00000000 00000000 03000000
		09000000 00000000 "data" 00000000 00000000 01000000 `
	// "open 2" and NUL are odd: padded, the pad not counted in the size.
	const labels = `"LIST" 3a000000 "adtl" "labl" 0b000000 09000000 "open 2" 00 00
		"note" 06000000 07000000 6100
		"labl" 0b000000 07000000 "open 1" 00 00 `
	want := []Cue{{3, "open 1"}, {1, "open 2"}}
	for name, dump := range map[string]string{
		"after":      riff + fmt1ch + data4 + cue + labels,
		"before":     riff + cue + fmt1ch + labels + data4,
		"around":     riff + fmt1ch + labels + `"data" 07000000 0000 0040 00c0 00 00` + cue,
		"no pad":     riff + fmt1ch + `"data" 07000000 0000 0040 00c0 00` + cue + labels,
		"then trash": riff + fmt1ch + data4 + cue + labels + `"cue " ffffff`,
	} {
		t.Run(name, func(t *testing.T) {
			r, err := NewReader(bytes.NewReader(unhex(t, dump)))
			require.NoError(t, err)
			_, err = readAll(r, 2)
			assert.Equal(t, io.EOF, err)
			assert.Equal(t, want, r.Cues())
		})
	}
	r, err := NewReader(bytes.NewReader(unhex(t, riff+cue+fmt1ch+labels+data4)))
	require.NoError(t, err)
	assert.Equal(t, want, r.Cues(), "known before the first read")
}

func TestCuesThatLie(t *testing.T) {
	for name, c := range map[string]struct {
		dump string
		want []Cue
	}{
		"count of 4 billion": {`"cue " 1c000000 ffffffff 01000000 00000000 "data" 00000000 00000000 02000000`, []Cue{{2, ""}}},
		"size of 4 GB":       {`"cue " ffffffff ffffffff 01000000 00000000 "data" 00000000 00000000 02000000`, []Cue{{2, ""}}},
		"nothing in it":      {`"cue " 00000000`, nil},
		"cut in a point":     {`"cue " 1c000000 01000000 01000000 0000`, nil},
		"label of 4 GB":      {`"LIST" ffffffff "adtl" "labl" f0ffffff 01000000 "a"`, nil},
		"label for no point": {`"LIST" 12000000 "adtl" "labl" 06000000 01000000 6100`, nil},
		"label of no bytes":  {`"LIST" 0f000000 "adtl" "labl" 03000000 010000`, nil},
		"label past its list": {`"LIST" 12000000 "adtl" "labl" f6ffffff 05000000 6100
			"cue " 1c000000 01000000 05000000 00000000 "data" 00000000 00000000 02000000`, []Cue{{2, "a"}}},
	} {
		t.Run(name, func(t *testing.T) {
			r, err := NewReader(bytes.NewReader(unhex(t, riff+fmt1ch+data4+c.dump)))
			require.NoError(t, err)
			got, err := readAll(r, 2)
			assert.Equal(t, io.EOF, err)
			assert.Equal(t, samples4, got)
			assert.Equal(t, c.want, r.Cues())
		})
	}
}

func TestLongLabelIsCut(t *testing.T) {
	long := strings.Repeat("x", 100000)
	file := unhex(t, riff+fmt1ch+`"cue " 1c000000 01000000 01000000 00000000 "data" 00000000 00000000 02000000
		"LIST" b1860100 "adtl" "labl" a5860100 01000000 "`+long+`" 00 00`+data4)
	r, err := NewReader(bytes.NewReader(file))
	require.NoError(t, err)
	assert.Equal(t, []Cue{{2, long[:4096]}}, r.Cues())
	got, err := readAll(r, 5)
	assert.Equal(t, io.EOF, err)
	assert.Equal(t, samples4, got)
}

func TestHeadersThatLie(t *testing.T) {
	const ext = `"fmt " 28000000 feff 0100 401f0000 803e0000 0200 1000 `
	const pcmGUID = `0100 0000 0000 1000 8000 00aa00389b71`
	for _, c := range []struct{ dump, want string }{
		{`"fmt " 10000000 0100 0000 401f0000 803e0000 0200 1000` + data4, "channels, got 0, want 1..256"},
		{`"fmt " 10000000 0100 0101 401f0000 803e0000 0202 1000` + data4, "channels, got 257, want 1..256"},
		{`"fmt " 10000000 0100 0100 00000000 803e0000 0200 1000` + data4, "sample rate, got 0, want 1..768000 frames/s"},
		{`"fmt " 10000000 0100 0100 ffffffff 803e0000 0200 1000` + data4, "sample rate, got 4294967295, want 1..768000 frames/s"},
		{`"fmt " 10000000 0100 0200 401f0000 803e0000 0200 1000` + data4, "block align, got 2, want 4 (2 channels of 16 bits)"},
		{`"fmt " 10000000 0100 0100 401f0000 803e0000 0000 1000` + data4, "block align, got 0, want 2 (1 channels of 16 bits)"},
		{`"fmt " 10000000 0100 0100 401f0000 803e0000 0200 0000` + data4, "bits per sample, got 0, want 8..32 (PCM), 32 or 64 (float)"},
		{`"fmt " 0e000000 0100 0100 401f0000 803e0000 0200` + data4, "fmt chunk, got 14 bytes, want 16 or more"},
		{`"fmt " 10000000 feff 0100 401f0000 803e0000 0200 1000` + data4, "extensible fmt chunk, got 16 bytes, want 40 or more"},
		{ext + `0000 1000 00000000` + pcmGUID + data4, "extension of the fmt chunk, got 0 bytes, want 22 or more"},
		{ext + `1600 1100 00000000` + pcmGUID + data4, "valid bits, got 17, want 1..16, the bits per sample"},
		{`"fmt " 28000000 feff 0100 401f0000 803e0000 0200 0c00 1600 0c00 00000000` + pcmGUID + data4,
			"bits per sample, got 12, want a multiple of 8 in an extensible header"},
		{data4 + fmt1ch, "order of chunks, got data before fmt, want fmt first"},
		{fmt1ch, `data chunk, got the end of the file in or after chunk "fmt ", which declares 16 bytes, want a data chunk`},
		{``, `data chunk, got the end of the file, want a data chunk`},
		{fmt1ch + `"data" 0800`, `data chunk, got the end of the file in or after chunk "fmt ", which declares 16 bytes, want a data chunk`},
		{`"fmt " f0ffffff 0100 0100 401f0000 803e0000 0200 1000` + data4,
			`data chunk, got the end of the file in or after chunk "fmt ", which declares 4294967280 bytes, want a data chunk`},
		{`"junk" ffffffff 00` + fmt1ch + data4,
			`data chunk, got the end of the file in or after chunk "junk", which declares 4294967295 bytes, want a data chunk`},
		{`"cue " ffffffff ffffffff` + fmt1ch + data4,
			`data chunk, got the end of the file in or after chunk "cue ", which declares 4294967295 bytes, want a data chunk`},
	} {
		_, err := NewReader(bytes.NewReader(unhex(t, riff+c.dump)))
		var header *HeaderError
		if assert.ErrorAs(t, err, &header, c.want) {
			assert.EqualError(t, err, "wav: bad header: "+c.want)
			assert.Equal(t, header.What == "data chunk", errors.Is(err, io.ErrUnexpectedEOF), "cut files say so: %s", c.want)
		}
	}
	for dump, want := range map[string]string{
		`"ds64" 08000000 0000000000000000`: "ds64 chunk, got 8 bytes, want 24 or more",
		`"ds64" 1c000000 0000000000000000 feffffffffffffff 0000000000000000 00000000` + fmt1ch + data4: "data size in ds64, got 18446744073709551614, want at most 9223372036854775807",
	} {
		_, err := NewReader(bytes.NewReader(unhex(t, `"RF64" ffffffff "WAVE"`+dump)))
		assert.EqualError(t, err, "wav: bad header: "+want)
	}
}

func TestUnsupported(t *testing.T) {
	for dump, want := range map[string]string{
		`"fmt " 10000000 3412 0100 401f0000 803e0000 0200 1000`:                                                          "format 0x1234",
		`"fmt " 10000000 0100 0100 401f0000 00fa0000 0800 4000`:                                                          "64-bit PCM",
		`"fmt " 10000000 0300 0100 401f0000 803e0000 0200 1000`:                                                          "16-bit float",
		`"fmt " 28000000 feff 0100 401f0000 803e0000 0200 1000 1600 1000 00000000 0100 0000 2107 d311 8644 c8c1ca000000`: "subformat 010000002107d3118644c8c1ca000000",
	} {
		_, err := NewReader(bytes.NewReader(unhex(t, riff+dump+data4)))
		assert.Equal(t, &UnsupportedError{Encoding: want}, err)
		assert.EqualError(t, err, "wav: encoding, got "+want+", want PCM of 8 to 32 bits or float of 32 or 64 bits")
	}
}

func TestNotWAV(t *testing.T) {
	for content, want := range map[string]string{
		"":                              "an empty file",
		"Dear diary,\r\nno sound today": "text",
		"Zündung":                       "text",
		"RIFF":                          "the first 4 bytes of a RIFF file",
		"RIFF\x10\x00\x00\x00AVI LIST":  `a RIFF file of type "AVI "`,
		"RIFX\x00\x00\x00\x10WAVEfmt ":  "a big-endian RIFX file",
		"fLaC\x00\x00\x00\x22":          "a FLAC file",
		"OggS\x00\x02":                  "an Ogg file",
		"ID3\x03\x00":                   "an MP3 file",
		"FORM\x00\x00\x00\x00AIFF":      "an AIFF file",
		"\x00\x00\x00\x20ftypM4A ":      "an MP4 file",
		"\x00\x01\x02\x03\x04":          "a file that starts with 00010203",
		"\x80":                          "a file that starts with 80",
	} {
		_, err := NewReader(strings.NewReader(content))
		assert.Equal(t, &NotWAVError{Got: want}, err)
		assert.EqualError(t, err, "wav: not a WAV file, got "+want+", want RIFF, RF64 or BW64")
	}
}

func TestOpenErrorsNameThePath(t *testing.T) {
	dir := t.TempDir()
	_, err := Open(filepath.Join(dir, "none.wav"))
	assert.ErrorIs(t, err, fs.ErrNotExist)
	assert.Contains(t, err.Error(), "none.wav")
	_, err = Open(dir)
	assert.EqualError(t, err, "wav: read "+dir+": is a directory")
	var pathErr *fs.PathError
	assert.ErrorAs(t, err, &pathErr)

	path := filepath.Join(dir, "x.wav")
	for content, want := range map[string]string{
		"hello":                       "wav: " + path + ": not a WAV file, got text, want RIFF, RF64 or BW64",
		string(unhex(t, riff+fmt1ch)): "wav: " + path + `: bad header: data chunk, got the end of the file in or after chunk "fmt ", which declares 16 bytes, want a data chunk`,
		string(unhex(t, riff+`"fmt " 10000000 0600 0100 401f0000 803e0000 0100 0800`)): "wav: " + path + ": encoding, got A-law, want PCM of 8 to 32 bits or float of 32 or 64 bits",
	} {
		require.NoError(t, os.WriteFile(path, []byte(content), 0o600))
		_, err := Open(path)
		assert.EqualError(t, err, want)
	}
}

func TestErrorsOfTheInputComeThrough(t *testing.T) {
	boom := errors.New("boom")
	file := unhex(t, riff+fmt1ch+data4)
	for _, n := range []int{0, 5, 30} {
		_, err := NewReader(io.MultiReader(bytes.NewReader(file[:n]), iotest.ErrReader(boom)))
		assert.ErrorIs(t, err, boom, "after %d bytes", n)
		assert.EqualError(t, err, "wav: boom")
	}
	open := func() audio.Source {
		r, err := NewReader(io.MultiReader(bytes.NewReader(file[:len(file)-3]), iotest.ErrReader(boom)))
		require.NoError(t, err)
		return r
	}
	got, err := readAll(open(), 3)
	assert.Equal(t, samples4[:2], got, "whole frames come first")
	assert.ErrorIs(t, err, boom)
	audiotest.Check(t, open, 0)

	_, err = NewReader(idle{})
	assert.ErrorIs(t, err, io.ErrNoProgress)
}

// idle is a broken reader that gives neither bytes nor an error.
type idle struct{}

func (idle) Read([]byte) (int, error) { return 0, nil }
