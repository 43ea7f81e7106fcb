package cli

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"strings"
	"time"

	"github.com/spf13/pflag"

	"breakcue/audio"
	"breakcue/audio/wav"
	"breakcue/cmd/internal/pump"
	"breakcue/detect"
)

// recordingFlags are the flags of every command that looks through a recording.
type recordingFlags struct {
	tones    []float64
	channel  int
	wiring   string
	from, to time.Duration
}

func (f *recordingFlags) add(fs *pflag.FlagSet) {
	fs.Float64SliceVar(&f.tones, "tone", nil, "test tone in `HZ` (default: found by itself; give it twice for two sets of points)")
	fs.IntVar(&f.channel, "channel", 0, "channel with the tone, from 1 (default: the one with the tone)")
	fs.StringVar(&f.wiring, "wiring", "", "how the cable is wired: series (in line with the points) or shunt (across them); series is assumed")
	fs.DurationVar(&f.from, "from", 0, "begin this far into the recording, such as 2.5s or 1m10s")
	fs.DurationVar(&f.to, "to", 0, "end this far into the recording (default: its end)")
}

// options checks the flags and turns them into what the analysis needs.
func (f *recordingFlags) options() (pump.Options, error) {
	o := pump.Options{Tones: f.tones, Channel: f.channel, From: f.from, To: f.to}
	switch strings.ToLower(f.wiring) {
	case "", "series":
	case "shunt":
		o.Wiring = detect.Shunt
	default:
		return o, fail(ExitUsage, "use --wiring series when the tone passes through the points, --wiring shunt when they short it",
			"wiring %q, want series or shunt", f.wiring)
	}
	switch {
	case len(f.tones) > 2:
		return o, fail(ExitUsage, "give --tone once, or twice for two sets of points", "%d tones, want at most 2", len(f.tones))
	case f.channel < 0:
		return o, fail(ExitUsage, "channels count from 1", "channel %d, want 1 or more", f.channel)
	case f.from < 0 || f.to < 0:
		return o, fail(ExitUsage, "count from the start of the recording", "a negative time (--from %v, --to %v)", f.from, f.to)
	case f.to != 0 && f.to <= f.from:
		return o, fail(ExitUsage, "give a --to that comes after --from", "--to %v is not after --from %v", f.to, f.from)
	}
	for _, hz := range f.tones {
		if !(hz >= detect.MinTone && hz <= 20000) {
			return o, fail(ExitUsage, "the test tone is usually 1000 to 3000 Hz", "tone %g Hz, want %d to 20000", hz, detect.MinTone)
		}
	}
	return o, nil
}

// wiringSource tells where the wiring comes from, for the output.
func (f *recordingFlags) wiringSource() string {
	if f.wiring == "" {
		return "assumed"
	}
	return "given"
}

// analyse looks through the recording at path; "-" is standard input.
func analyse(ctx context.Context, env Env, path string, opt pump.Options) (pump.Analysis, error) {
	open := func() (audio.Source, error) { return wav.Open(path) }
	if path == "-" {
		spooled, remove, err := spool(env.In)
		if err != nil {
			return pump.Analysis{}, fail(ExitFailed, "write it to a file and give its name", "standard input: %w", err)
		}
		defer remove()
		open = func() (audio.Source, error) { return wav.Open(spooled) }
	}
	a, err := pump.Analyse(ctx, open, opt)
	if err != nil {
		return a, recordingError(path, err)
	}
	return a, nil
}

// spool copies standard input to a temporary file, since a recording is read twice.
func spool(in io.Reader) (path string, remove func(), err error) {
	f, err := os.CreateTemp("", "breakcue-*.wav")
	if err != nil {
		return "", nil, err
	}
	remove = func() { os.Remove(f.Name()) }
	_, err = io.Copy(f, in)
	if err = errors.Join(err, f.Close()); err != nil {
		remove()
		return "", nil, err
	}
	return f.Name(), remove, nil
}

// recordingError gives an error of opening or reading a recording its exit code and hint.
func recordingError(path string, err error) error {
	if errors.Is(err, context.Canceled) {
		return err
	}
	var opt *pump.OptionError
	if errors.As(err, &opt) {
		return fail(ExitUsage, "run 'breakcue review "+path+"' without it to see what the recording holds", "%s: %w", path, err)
	}
	hint := "check the file with an audio player; breakcue reads WAV files (PCM or float)"
	switch {
	case errors.Is(err, fs.ErrNotExist):
		hint = "check the name and the folder"
	case errors.Is(err, fs.ErrPermission):
		hint = "make the file readable for you"
	case isDir(path):
		return fail(ExitFailed, "name a WAV file in it", "%s: is a folder, want a recording", path)
	}
	if msg := err.Error(); !strings.Contains(msg, path) && path != "-" {
		err = fmt.Errorf("%s: %w", path, err)
	}
	return &Failure{Code: ExitFailed, Err: err, Hint: hint}
}

func isDir(path string) bool {
	st, err := os.Stat(path)
	return err == nil && st.IsDir()
}
