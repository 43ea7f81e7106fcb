package wav

import (
	"bytes"
	"fmt"
	"io"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// endlessFile is the header of a file of unknown length, then zeros for ever.
func endlessFile(t testing.TB, format string) io.Reader {
	return io.MultiReader(bytes.NewReader(unhex(t, riff+format+`"data" ffffffff`)), zeros{})
}

// zeros does not even write them, so that a benchmark times the reader alone.
type zeros struct{}

func (zeros) Read(p []byte) (int, error) { return len(p), nil }

var benchFormats = []struct{ name, fmt string }{
	{"8-bit", `"fmt " 10000000 0100 0100 80bb0000 80bb0000 0100 0800`},
	{"16-bit", fmt1ch},
	{"16-bit stereo", fmt2ch},
	{"24-bit", `"fmt " 10000000 0100 0100 80bb0000 80bb0000 0300 1800`},
	{"32-bit", `"fmt " 10000000 0100 0100 80bb0000 80bb0000 0400 2000`},
	{"32-bit float", `"fmt " 10000000 0300 0100 80bb0000 80bb0000 0400 2000`},
	{"64-bit float", `"fmt " 10000000 0300 0100 80bb0000 80bb0000 0800 4000`},
}

func TestReadDoesNotAllocate(t *testing.T) {
	for _, c := range benchFormats {
		r, err := NewReader(endlessFile(t, c.fmt))
		require.NoError(t, err)
		dst := make([]float32, 4096)
		assert.Zero(t, testing.AllocsPerRun(100, func() {
			if n, err := r.Read(dst); n == 0 || err != nil {
				panic(fmt.Sprint(n, err))
			}
		}), c.name)
	}
}

func BenchmarkRead(b *testing.B) {
	for _, c := range benchFormats {
		b.Run(c.name, func(b *testing.B) {
			r, err := NewReader(endlessFile(b, c.fmt))
			require.NoError(b, err)
			dst := make([]float32, 8192)
			frames := 0
			b.ReportAllocs()
			for b.Loop() {
				n, err := r.Read(dst)
				if err != nil {
					b.Fatal(err)
				}
				frames += n
			}
			b.ReportMetric(float64(frames)/b.Elapsed().Seconds()/1e6, "Mframes/s")
		})
	}
}
