//go:build live_test && cgo && !nolive && unix

package live

import (
	"testing"

	"github.com/gordonklaus/portaudio"
	"github.com/stretchr/testify/require"
	"golang.org/x/sys/unix"
)

// cpu returns the time that this process has spent on all cores. [s]
func cpu(b *testing.B) float64 {
	var u unix.Rusage
	require.NoError(b, unix.Getrusage(unix.RUSAGE_SELF, &u))
	return float64(u.Utime.Nano()+u.Stime.Nano()) / 1e9
}

// What a second of live sound costs, in points of one core: a bare callback that passes the input on, and a Stream that is read.
// Run it for a while: .ci/with .ci/live go test -tags live_test -run '^$' -bench LiveCPU -benchtime 20x ./audio/live
func BenchmarkLiveCPU(b *testing.B) {
	b.Run("bare", func(b *testing.B) {
		require.NoError(b, portaudio.Initialize())
		defer portaudio.Terminate()
		seconds := make(chan bool, 100)
		frames := 0
		in, err := portaudio.DefaultInputDevice()
		require.NoError(b, err)
		p := portaudio.LowLatencyParameters(in, in)
		p.Input.Channels, p.Output.Channels = 1, 2 // as the stream below
		stream, err := portaudio.OpenStream(p, func(in, out []float32, _ portaudio.StreamCallbackTimeInfo, _ portaudio.StreamCallbackFlags) {
			clear(out)
			copy(out, in)
			if frames += len(in); frames >= 48000 {
				frames = 0
				seconds <- true
			}
		})
		require.NoError(b, err)
		require.NoError(b, stream.Start())
		<-seconds
		before := cpu(b)
		b.ResetTimer()
		for range b.N {
			<-seconds
		}
		b.ReportMetric(100*(cpu(b)-before)/float64(b.N), "%core")
		require.NoError(b, stream.Stop())
		require.NoError(b, stream.Close())
	})
	b.Run("stream", func(b *testing.B) {
		o := plain("system")
		o.Inputs = 1
		o.Alert = &Alert{Voice: Voice{Hz: 2000, Level: -6, Channel: 2}}
		s, err := Open(o)
		require.NoError(b, err)
		dst := make([]float32, 4096)
		second := func() {
			for frames := 0; frames < 48000; {
				n, err := s.Read(dst)
				require.NoError(b, err)
				frames += n
			}
		}
		second()
		before := cpu(b)
		b.ResetTimer()
		for range b.N {
			second()
		}
		b.ReportMetric(100*(cpu(b)-before)/float64(b.N), "%core")
		require.NoError(b, s.Close())
	})
}

// From the entry of the callback to the return of Read, for real. One operation is one Read.
func BenchmarkLiveWake(b *testing.B) {
	s, err := Open(plain("system"))
	require.NoError(b, err)
	reportWaits(b, s)
	require.NoError(b, s.Close())
}
