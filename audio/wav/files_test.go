package wav

import (
	"io"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"breakcue/audio"
	"breakcue/audio/audiotest"
)

// outside names a file that another program wrote: testdata/wav/README.md has the commands.
func outside(name string) string { return filepath.Join("..", "..", "testdata", "wav", name) }

// The ramps in the files, after testdata/wav/README.md, scaled by arithmetic that shares nothing with the decoders.
var ramps = map[string]func(i, c int) float32{
	"u8":  func(i, c int) float32 { return float32((i+17*c)%256-128) / 128 },
	"s16": func(i, c int) float32 { return float32((257*i+4099*c)%65536-32768) / 32768 },
	"s24": func(i, c int) float32 { return float32((65793*i+1049603*c)%(1<<24)-1<<23) / (1 << 23) },
	"s32": func(i, c int) float32 { return float32(float64((16843009*i+268698115*c)%(1<<32)-1<<31) / (1 << 31)) },
	"f":   func(i, c int) float32 { return float32(i-150)/256 + float32(c)/4096 },
}

// readAll reads a source to its end in blocks and returns the samples and the error.
func readAll(src audio.Source, block int) ([]float32, error) {
	var all []float32
	dst := make([]float32, block*src.Format().Channels)
	for {
		n, err := src.Read(dst)
		if err != nil {
			return all, err
		}
		all = append(all, dst[:n*src.Format().Channels]...)
	}
}

func TestFilesOfOtherPrograms(t *testing.T) {
	for _, c := range []struct {
		name, ramp string
		want       audio.Format
	}{
		{"sox_u8_1ch_8k.wav", "u8", audio.Format{SampleRate: 8000, Channels: 1, Frames: 300, Encoding: "8-bit PCM"}},
		{"sox_s16_1ch_44k.wav", "s16", audio.Format{SampleRate: 44100, Channels: 1, Frames: 300, Encoding: "16-bit PCM"}},
		{"sox_s16_2ch_48k.wav", "s16", audio.Format{SampleRate: 48000, Channels: 2, Frames: 300, Encoding: "16-bit PCM"}},
		{"sox_s16_6ch_16k.wav", "s16", audio.Format{SampleRate: 16000, Channels: 6, Frames: 300, Encoding: "16-bit PCM"}},
		{"sox_s24_2ch_96k.wav", "s24", audio.Format{SampleRate: 96000, Channels: 2, Frames: 300, Encoding: "24-bit PCM"}},
		{"sox_s32_1ch_192k.wav", "s32", audio.Format{SampleRate: 192000, Channels: 1, Frames: 300, Encoding: "32-bit PCM"}},
		{"sox_f32_1ch_48k.wav", "f", audio.Format{SampleRate: 48000, Channels: 1, Frames: 300, Encoding: "32-bit float"}},
		{"sox_f64_1ch_22k.wav", "f", audio.Format{SampleRate: 22050, Channels: 1, Frames: 300, Encoding: "64-bit float"}},
		{"sox_pipe_s16_1ch_44k.wav", "s16", audio.Format{SampleRate: 44100, Channels: 1, Frames: -1, Encoding: "16-bit PCM"}},
		{"ffmpeg_u8_1ch_11k.wav", "u8", audio.Format{SampleRate: 11025, Channels: 1, Frames: 300, Encoding: "8-bit PCM"}},
		{"ffmpeg_s16_2ch_44k_tags.wav", "s16", audio.Format{SampleRate: 44100, Channels: 2, Frames: 300, Encoding: "16-bit PCM"}},
		{"ffmpeg_s24_1ch_176k.wav", "s24", audio.Format{SampleRate: 176400, Channels: 1, Frames: 300, Encoding: "24-bit PCM"}},
		{"ffmpeg_s24_8ch_48k.wav", "s24", audio.Format{SampleRate: 48000, Channels: 8, Frames: 300, Encoding: "24-bit PCM"}},
		{"ffmpeg_s32_3ch_88k.wav", "s32", audio.Format{SampleRate: 88200, Channels: 3, Frames: 300, Encoding: "32-bit PCM"}},
		{"ffmpeg_f32_2ch_32k.wav", "f", audio.Format{SampleRate: 32000, Channels: 2, Frames: 300, Encoding: "32-bit float"}},
		{"ffmpeg_f64_1ch_48k.wav", "f", audio.Format{SampleRate: 48000, Channels: 1, Frames: 300, Encoding: "64-bit float"}},
		{"ffmpeg_rf64_s16_2ch_48k.wav", "s16", audio.Format{SampleRate: 48000, Channels: 2, Frames: 300, Encoding: "16-bit PCM"}},
		{"ffmpeg_pipe_s16_1ch_44k.wav", "s16", audio.Format{SampleRate: 44100, Channels: 1, Frames: -1, Encoding: "16-bit PCM"}},
		{"ffmpeg_pipe_rf64_s16_1ch_44k.wav", "s16", audio.Format{SampleRate: 44100, Channels: 1, Frames: -1, Encoding: "16-bit PCM"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			r, err := Open(outside(c.name))
			require.NoError(t, err)
			defer r.Close()
			assert.Equal(t, c.want, r.Format())
			got, err := readAll(r, 64)
			assert.Equal(t, io.EOF, err)
			var want []float32
			for i := range 300 {
				for ch := range c.want.Channels {
					want = append(want, ramps[c.ramp](i, ch))
				}
			}
			assert.Equal(t, want, got)
			audiotest.Check(t, func() audio.Source {
				r, err := Open(outside(c.name))
				require.NoError(t, err)
				return r
			}, 0)
		})
	}
}

func TestEncodingsNotSupportedAreNamed(t *testing.T) {
	for name, want := range map[string]string{
		"sox_alaw.wav":        "A-law",
		"sox_ima_adpcm.wav":   "IMA ADPCM",
		"ffmpeg_ms_adpcm.wav": "Microsoft ADPCM",
		"ffmpeg_mulaw.wav":    "mu-law",
	} {
		_, err := Open(outside(name))
		var unsupported *UnsupportedError
		require.ErrorAs(t, err, &unsupported)
		assert.Equal(t, UnsupportedError{Path: outside(name), Encoding: want}, *unsupported)
		assert.Contains(t, err.Error(), want)
	}
}

// Every file of testdata/wav is in one of the tables above.
func TestNoFileIsLeftOut(t *testing.T) {
	files, err := filepath.Glob(outside("*.wav"))
	require.NoError(t, err)
	assert.Len(t, files, 19+4)
	readme, err := os.ReadFile(outside("README.md"))
	require.NoError(t, err)
	for _, f := range files {
		assert.Contains(t, string(readme), "`"+filepath.Base(f)+"`")
	}
}
