package cli

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"os"
	"strings"
	"syscall"
	"time"

	"github.com/spf13/pflag"

	"breakcue/audio"
	"breakcue/audio/wav"
	"breakcue/cmd/internal/pump"
	"breakcue/detect"
)

// minTonesApart is how far apart the tones of two sets of points must lie [Hz]: nearer ones are hard to tell apart.
const minTonesApart = 200

// recordingFlags are the flags of every command that looks through a recording.
type recordingFlags struct {
	tones    []float64
	channel  int
	wiring   string
	from, to time.Duration
}

func (f *recordingFlags) add(fs *pflag.FlagSet) {
	fs.Float64SliceVar(&f.tones, "tone", nil,
		"test tone in `HZ` (default: found by itself; give it twice for two sets of points)")
	fs.Lookup("tone").DefValue = "" // the text says it
	fs.IntVar(&f.channel, "channel", 0, "channel with the tone, from 1 (default: the one with the tone)")
	fs.StringVar(&f.wiring, "wiring", "", wiringHelp)
	fs.DurationVar(&f.from, "from", 0, "begin this far into the recording, such as 2.5s or 1m10s")
	fs.DurationVar(&f.to, "to", 0, "end this far into the recording (default: its end)")
}

// options checks the flags and turns them into what the analysis needs.
func (f *recordingFlags) options() (pump.Options, error) {
	o := pump.Options{Tones: f.tones, Channel: f.channel, From: f.from, To: f.to}
	var err error
	if o.Wiring, err = wiringOf(f.wiring); err != nil {
		return o, err
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
	if len(f.tones) == 2 && math.Abs(f.tones[0]-f.tones[1]) < minTonesApart {
		hint := fmt.Sprintf("play two tones %d Hz or more apart, one for each set of points", minTonesApart)
		return o, fail(ExitUsage, hint, "tones %g and %g Hz are too close to be told apart", f.tones[0], f.tones[1])
	}
	for _, hz := range f.tones {
		if !(hz >= detect.MinTone && hz <= 20000) {
			return o, fail(ExitUsage, "the test tone is usually 1000 to 3000 Hz", "tone %g Hz, want %d to 20000", hz, detect.MinTone)
		}
	}
	return o, nil
}

// wiringHelp explains --wiring.
const wiringHelp = "how the cable is wired: series (in line with the points) or shunt (across them); series is assumed"

// wiringOf understands --wiring; series is assumed.
func wiringOf(flag string) (detect.Wiring, error) {
	switch strings.ToLower(flag) {
	case "", "series":
		return detect.Series, nil
	case "shunt":
		return detect.Shunt, nil
	}
	return 0, fail(ExitUsage, "use --wiring series when the tone passes through the points, --wiring shunt when they short it",
		"wiring %q, want series or shunt", flag)
}

// wiringSource tells where the wiring comes from, for the output.
func (f *recordingFlags) wiringSource() string {
	if f.wiring == "" {
		return "assumed"
	}
	return "given"
}

// standardInput is the path that stands for standard input.
const standardInput = "-"

// nameOf is what people call the recording at path.
func nameOf(path string) string {
	if path == standardInput {
		return "standard input"
	}
	return path
}

// analyse looks through the recording at path. What a refused one holds besides the reason is told on standard error.
func analyse(ctx context.Context, env Env, path string, opt pump.Options) (pump.Analysis, error) {
	file := path
	if in := stream(env, path); in != nil {
		spooled, remove, err := spool(ctx, in)
		if err != nil {
			return pump.Analysis{}, recordingError(path, err)
		}
		defer remove()
		file = spooled
	}
	if opt.From == 0 {
		opt.From = beginOf(ctx, file)
	}
	a, err := pump.Analyse(ctx, func() (audio.Source, error) { return wav.Open(file) }, opt)
	if err != nil {
		return a, recordingError(path, err)
	}
	if a.Refused != nil {
		for _, c := range a.Caveats[:len(a.Caveats)-1] { // the last is the reason
			fmt.Fprintf(env.Err, "breakcue: note: %s\n", c.Message)
		}
	}
	return a, nil
}

// listensFrom labels the frame of a live recording from which on the tone stood at its level: its rise before that looks like
// points that close.
const listensFrom = "listening from here"

// beginOf returns how far into the recording listening begins; 0 where no label says so, or the file cannot be read. Cue points that
// found no place before the sound stand behind it: a file that seems to have none is passed over to its end.
func beginOf(ctx context.Context, file string) time.Duration {
	r, err := wav.Open(file)
	if err != nil {
		return 0 // whoever reads it next says why
	}
	defer r.Close()
	for buf := make([]float32, 1<<14*r.Format().Channels); len(r.Cues()) == 0 && err == nil && ctx.Err() == nil; {
		r.Skip(math.MaxInt64)
		_, err = r.Read(buf)
	}
	for _, c := range r.Cues() {
		if c.Label == listensFrom {
			return r.Format().Duration(c.Frame)
		}
	}
	return 0
}

// stream returns what opens path when it can be read only once (standard input, a pipe), nil for a file or a folder.
func stream(env Env, path string) func() (io.ReadCloser, error) {
	if path == standardInput {
		return func() (io.ReadCloser, error) { return io.NopCloser(env.In), nil }
	}
	if st, err := os.Stat(path); err != nil || st.Mode().IsRegular() || st.IsDir() {
		return nil
	}
	return func() (io.ReadCloser, error) { return os.Open(path) }
}

// spool copies a stream to a temporary file, since a recording is read twice. It ends with ctx, though opening and reading
// a pipe do not: what still waits for the pipe then is left behind, and gives up at the next byte.
func spool(ctx context.Context, open func() (io.ReadCloser, error)) (path string, remove func(), err error) {
	f, err := os.CreateTemp("", "breakcue-*.wav")
	if err != nil {
		return "", nil, err
	}
	remove = func() { os.Remove(f.Name()) }
	done := make(chan error, 1)
	go func() { done <- copyRecording(f, open) }()
	select {
	case err = <-done:
	case <-ctx.Done():
		err = context.Cause(ctx)
	}
	if err = errors.Join(err, f.Close()); err != nil {
		remove()
		return "", nil, err
	}
	return f.Name(), remove, nil
}

// copyRecording copies a stream that begins as a recording does; another one is not read on.
func copyRecording(w io.Writer, open func() (io.ReadCloser, error)) error {
	in, err := open()
	if err != nil {
		return err
	}
	defer in.Close()
	if _, err := wav.NewReader(io.TeeReader(in, w)); err != nil {
		return err
	}
	_, err = io.Copy(w, in)
	return err
}

// recordingError gives an error of opening or reading a recording its exit code and hint.
func recordingError(path string, err error) error {
	if cancelled(err) {
		return err
	}
	name := nameOf(path)
	var opt *pump.OptionError
	if errors.As(err, &opt) {
		return fail(ExitUsage, "run 'breakcue review "+path+"' without it to see what the recording holds", "%s: %w", name, err)
	}
	hint := "check the file with an audio player; breakcue reads WAV files (PCM or float)"
	switch {
	case errors.Is(err, fs.ErrNotExist):
		hint = "check the name and the folder"
	case errors.Is(err, fs.ErrPermission):
		hint = "make the file readable for you"
	case errors.Is(err, syscall.ENOSPC):
		hint = "make room for a copy, or name a folder that has some by the environment variable TMPDIR"
	case isDir(path):
		return fail(ExitFailed, "name a WAV file in it", "%s: is a folder, want a recording", path)
	}
	if !strings.Contains(err.Error(), path) || path == standardInput {
		err = fmt.Errorf("%s: %w", name, err)
	}
	return &Failure{Code: ExitFailed, Err: err, Hint: hint}
}

func isDir(path string) bool {
	st, err := os.Stat(path)
	return err == nil && st.IsDir()
}
