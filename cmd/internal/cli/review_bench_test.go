//go:build unix

package cli

import (
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"syscall"
	"testing"
	"time"

	"breakcue/audio/bench"
	"breakcue/audio/wav"
)

// BenchmarkReview runs the built program on recordings of 30 minutes and of 3 hours (48 kHz, 16-bit, mono, SNR 30 dB, one
// opening in 45 s) on one core, and prints times real time and peak memory. Both must be the same for both lengths.
// BREAKCUE_BENCH_HOURS=0 leaves out the long one, which needs 1 GB of disk.
func BenchmarkReview(b *testing.B) {
	bin := filepath.Join(b.TempDir(), "breakcue")
	build := exec.Command("go", "build", "-tags", "nolive", "-o", bin, "breakcue/cmd/breakcue")
	build.Env = append(os.Environ(), "CGO_ENABLED=0")
	if out, err := build.CombinedOutput(); err != nil {
		b.Fatalf("%v\n%s", err, out)
	}
	lengths := []int{30, 180}
	if os.Getenv("BREAKCUE_BENCH_HOURS") == "0" {
		lengths = lengths[:1]
	}
	for _, minutes := range lengths {
		b.Run(strconv.Itoa(minutes)+"min", func(b *testing.B) {
			path := filepath.Join(b.TempDir(), "take.wav")
			writeTake(b, path, minutes)
			b.ResetTimer()
			for range b.N {
				cmd := exec.Command(bin, "review", path, "--json")
				cmd.Env = append(os.Environ(), "GOMAXPROCS=1")
				start := time.Now()
				if err := cmd.Run(); err != nil {
					b.Fatal(err)
				}
				took := time.Since(start).Seconds()
				b.ReportMetric(float64(60*minutes)/took, "x_real_time")
				if ru, ok := cmd.ProcessState.SysUsage().(*syscall.Rusage); ok {
					b.ReportMetric(float64(ru.Maxrss)/1024, "peak_MiB")
				}
			}
		})
	}
}

func writeTake(b *testing.B, path string, minutes int) {
	const rate = 48000
	cfg := bench.Config{
		SampleRate: rate, Channels: 1, Frames: int64(minutes) * 60 * rate, Tone: 1000, Level: -12, Closed: 1,
		Noise: bench.NoiseFor(bench.Amplitude(-12), 30), Seed: 1,
	}
	for at := 20.0; at+5 < float64(minutes*60); at += 45 {
		cfg.Changes = append(cfg.Changes, bench.Change{At: at}, bench.Change{At: at + 1.5, Closed: true})
	}
	src, err := bench.New(cfg)
	if err != nil {
		b.Fatal(err)
	}
	if err := copyTo(path, src); err != nil {
		b.Fatal(err)
	}
}

// copyTo records the whole of src.
func copyTo(path string, src *bench.Bench) error {
	w, err := wav.Create(path, wav.Spec{SampleRate: src.Format().SampleRate, Channels: 1, Encoding: wav.PCM16})
	if err != nil {
		return err
	}
	buf := make([]float32, 1<<14)
	for {
		n, err := src.Read(buf)
		if n == 0 && err != nil {
			return w.Close()
		}
		if err := w.Write(buf[:n*src.Format().Channels]); err != nil {
			return err
		}
	}
}
