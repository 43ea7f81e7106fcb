package cli

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"time"

	"breakcue/audio"
	"breakcue/audio/live"
	"breakcue/audio/wav"
	"breakcue/cmd/internal/awake"
	"breakcue/cmd/internal/cue"
	"breakcue/cmd/internal/pump"
	"breakcue/detect"
)

// liveRun hears live sound and shows it. What a command makes of it, it does in the functions, which are called on the one
// goroutine that hears; an error of theirs ends the run, errQuit without being one.
type liveRun struct {
	env      Env // its Err goes past the noise of the sound system
	flags    *liveFlags
	card     *opened
	rate     int   // [frames/s]
	begin    int64 // frame from which on the tone stands at its level
	follower follower
	hear     *hearing
	delays   *delays
	sentry   *sentry
	watch    levelWatch

	event func(detect.Event) error
	key   func(cue.Key) error
	line  func(string) error // of standard input, where there is no screen
	tick  func() error       // after each block

	screen   *cue.Screen   // nil: lines, or nothing
	written  func() error  // why lines can no longer be written
	take     *pump.Take    // nil: nothing is recorded
	begun    bool          // begin is marked in it, or the first frame after it where begin itself was lost
	lines    <-chan string // of standard input; nil: nobody asks for any
	keys     chan cue.Key
	sounding bool           // the alert is, for as long as the points are open
	undo     []func() error // what is to be closed, in reverse order
}

// liveView says how a run shows itself.
type liveView struct {
	keys   string // what the keys do
	prompt string // what a reading is asked with
	// record names the file to record to, once the sound is known; nil: that of --record.
	record func(f audio.Format, device string) (path string, err error)
	names  [2]string // of two sets of points; empty: by their numbers
	silent bool      // nothing for people on standard output
	ask    bool      // lines of standard input are wanted where there is no screen
}

// errQuit ends a run because somebody asked for it.
var errQuit = errors.New("ended by key")

// margin is how long after the tone has been played at its level it is awaited at the input: the round trip of most cards.
const margin = 400 * time.Millisecond

// cueRoom is how many cue points of a recording survive a crash.
const cueRoom = 2000

// start opens everything. What it has opened is closed again with an error.
func (f *liveFlags) start(ctx context.Context, env Env, v liveView) (r *liveRun, err error) {
	r = &liveRun{env: env, flags: f, delays: &delays{}, sentry: newSentry()}
	defer func() {
		if err != nil {
			empty := r.take != nil && r.take.Frames() == 0
			err = errors.Join(err, r.close())
			if empty {
				os.Remove(f.record) // it holds nothing, and would be in the way of the next try
			}
			r = nil
		}
	}()
	// A file that exists is refused before a tone is heard.
	if _, err := os.Lstat(f.record); f.record != "" && err == nil {
		return r, fail(ExitFailed, "choose another name: nothing is ever overwritten", "%s exists already", f.record)
	}
	if err := r.quiet(); err != nil {
		return r, err
	}
	env = r.env
	if r.card, err = f.openCard(ctx, env, r.sentry.urgent); err != nil {
		return r, err
	}
	r.undo = append(r.undo, r.card.Close)
	format := r.card.Format()
	r.rate = format.SampleRate
	if v.record != nil {
		if f.record, err = v.record(format, r.card.name); err != nil {
			return r, err
		}
	}
	if f.record != "" {
		w, err := wav.Create(f.record, wav.Spec{SampleRate: format.SampleRate, Channels: format.Channels, Encoding: wav.PCM24, Room: cueRoom})
		if err != nil {
			return r, recordError(f.record, err)
		}
		r.take = pump.NewTake(w, format)
		// The card is closed before the recording, which may wait for the disk: the tone does not go on so long.
		r.undo = append(r.undo, r.endTake, r.card.Close)
	}
	r.begin = r.card.ToneFrom() + int64(margin.Seconds()*float64(r.rate))
	r.follower, err = f.follow(format, r.card.options, r.begin)
	if err != nil {
		return r, &Failure{Code: ExitAudio, Err: err, Hint: "choose another sound card or another --channel"}
	}
	release, err := awake.Hold(ctx, "listening for the contact-breaker points")
	if err != nil {
		fmt.Fprintf(env.Err, "breakcue: note: %s\n", strings.TrimPrefix(err.Error(), "awake: "))
	}
	r.undo = append(r.undo, func() error { release(); return nil })
	return r, r.show(v)
}

// quiet keeps the noise of the sound system off the screen.
func (r *liveRun) quiet() error {
	if r.env.Cards.Quiet == nil || r.env.Err != io.Writer(os.Stderr) {
		return nil
	}
	saved, restore, err := r.env.Cards.Quiet()
	if err != nil {
		return err
	}
	r.env.Err = saved
	r.undo = append(r.undo, func() error { restore(); return nil })
	return nil
}

// show begins to show: the big screen on a terminal, lines elsewhere.
func (r *liveRun) show(v liveView) error {
	env := r.env
	var out shower = nowhere{}
	switch {
	case v.silent:
		r.lines = r.linesIf(v.ask)
	case env.OutTTY && env.InTTY && !r.flags.plain:
		screen, err := cue.OpenScreen(cue.Options{Getenv: env.Getenv, Now: env.Now, Shown: r.delays.shown, Screen: env.Screen})
		if err != nil {
			return &Failure{Code: ExitFailed, Err: err, Hint: "try --plain"}
		}
		r.screen, out = screen, screen
		r.undo = append(r.undo, screen.Close)
		r.keys = make(chan cue.Key, 64)
	default:
		lines := cue.NewLines(env.Out, env.Now)
		r.written, out = lines.Err, lines
		if r.lines = r.linesIf(env.InTTY || v.ask); r.lines == nil {
			v.keys = ""
		}
	}
	r.hear = &hearing{follower: r.follower, out: out, now: env.Now, rate: r.rate, wiring: r.flags.wired}
	if r.flags.sets == 2 {
		r.hear.both(cmp.Or(v.names[0], "set 1"), cmp.Or(v.names[1], "set 2"))
	}
	r.hear.failing = r.failing
	r.hear.view = cue.View{Heading: r.flags.heading(r.card.options, r.card.name), Keys: v.keys, Prompt: v.prompt, Note: caution}
	r.watchLevels(v.silent)
	r.hear.health()
	r.hear.refresh()
	return nil
}

// linesIf gives the lines of standard input when they are wanted.
func (r *liveRun) linesIf(wanted bool) <-chan string {
	if !wanted {
		return nil
	}
	return linesOf(r.env.In)
}

// caution stands on the screen until something happens.
const caution = "Ignition off, plugs out? Take the cable off before the engine is kicked."

// nowhere shows nothing.
type nowhere struct{}

func (nowhere) Show(cue.View) {}

// listen hears until the time is over, a key or a signal ends it, or something fails. Then everything is closed.
func (r *liveRun) listen(ctx context.Context) (err error) {
	defer func() { err = errors.Join(err, r.close()) }()
	ctx, stop := context.WithCancelCause(ctx)
	defer stop(nil)
	if r.screen != nil {
		go r.forward(ctx, stop)
	}
	var failed error // what else went wrong while the run was ending
	check := func(err error) {
		if err != nil && ctx.Err() != nil && !errors.Is(err, errQuit) {
			failed = errors.Join(failed, err)
		}
		if err != nil {
			stop(err)
		}
	}
	_, err = pump.Run(ctx, r.card, []pump.Hearer{r.follower}, pump.Span{To: int64(r.flags.length.Seconds() * float64(r.rate))}, pump.Taps{
		Block: r.record,
		Gap:   r.lost,
		Event: func(e detect.Event) {
			if e.Kind == detect.KindOpen && e.Stage == detect.Decided && !r.sentry.outdated(r.follower) { // not found by looking back
				r.delays.entered(r.card, e, len(r.hear.order)+1)
			}
			r.alert(e)
			r.hear.event(e)
			if e.Kind == detect.KindOpen || e.Kind == detect.KindClose {
				e = e.Instant(r.follower.EdgeModel(e.Set))
			}
			r.watch.event(r, e)
			check(r.event(e))
		},
		After: func() {
			check(r.input())
			r.alertWhileOpen()
			r.sentry.post(r.follower)
			if r.written != nil {
				check(r.written())
			}
			r.hear.tick()
			r.watch.tick(r)
			if r.tick != nil {
				check(r.tick())
			}
		},
	})
	switch {
	case errors.Is(err, errQuit):
		return failed
	case errors.As(err, new(*live.DeviceError)):
		return errors.Join(cardError(err), failed)
	case err == nil && failed == nil && r.flags.length > 0 && !r.known():
		reason := cmp.Or(r.reason(), detect.ErrTooShort)
		return &Failure{Code: ExitInconclusive, Err: fmt.Errorf("%s: %w", r.card.name, reason), Hint: liveHint(reason)}
	}
	return errors.Join(err, failed)
}

// forward takes keys from the screen. Ctrl-C ends the run even where no sound comes.
func (r *liveRun) forward(ctx context.Context, stop context.CancelCauseFunc) {
	for {
		select {
		case <-ctx.Done():
			return
		case <-r.screen.Lost(): // the window was closed, and whichever tells of it first
			stop(interrupted{syscall.SIGHUP})
			return
		case k, ok := <-r.screen.Keys():
			if !ok {
				stop(interrupted{syscall.SIGHUP})
				return
			}
			if k.Name == cue.Interrupt {
				stop(interrupted{os.Interrupt})
				return
			}
			select {
			case r.keys <- k:
				r.card.Nudge()
			case <-ctx.Done():
				return
			}
		}
	}
}

// input hands on what was typed.
func (r *liveRun) input() error {
	for {
		select {
		case k := <-r.keys:
			if err := r.key(k); err != nil {
				return err
			}
		case line, ok := <-r.lines:
			if !ok {
				r.lines = nil
				continue
			}
			if err := r.line(line); err != nil {
				return err
			}
		default:
			return nil
		}
	}
}

// record takes a block. When the recording fails, listening goes on.
func (r *liveRun) record(block []float32) error {
	r.watch.hums.add(block, r.card.Format().Channels, max(0, r.flags.channel-1))
	if !r.recorded() {
		r.hear.view.Record = ""
		return nil
	}
	before := r.take.Frames()
	r.take.Write(block)
	if from := max(r.begin, before); !r.begun && from < r.take.Frames() {
		r.begun = true
		r.take.Mark(from, listensFrom)
	}
	at := r.hear.seconds(r.take.Frames() - r.take.Missing()).Truncate(time.Second)
	r.hear.view.Record = fmt.Sprintf("recording %s %d:%02d", filepath.Base(r.flags.record), int(at.Minutes()), int(at.Seconds())%60)
	return nil
}

// recorded tells that there is a recording, and nothing wrong with it.
func (r *liveRun) recorded() bool { return r.take != nil && r.take.Err() == nil }

// failing tells what no longer works while listening goes on.
func (r *liveRun) failing() string {
	if r.take != nil && r.take.Err() != nil {
		return "NOT RECORDING: " + r.take.Err().Error()
	}
	if err := r.card.AlertErr(); err != nil {
		return "NO ALERT: " + err.Error()
	}
	return ""
}

// lost takes a loss of frames.
func (r *liveRun) lost(frames int64) {
	if r.follower.Frame() < r.begin {
		r.begin += frames // the tone stands at its level later by as much
	}
	if r.take != nil {
		r.take.Silence(frames)
	}
}

// mark puts a cue point into the recording.
func (r *liveRun) mark(e detect.Event, label string) {
	if r.take != nil {
		r.take.Mark(e.Frame, label)
	}
}

// endTake closes the recording and tells what it lacks.
func (r *liveRun) endTake() error {
	err := r.take.Close()
	if n := r.take.Missing(); n > 0 {
		fmt.Fprintf(r.env.Err, "breakcue: note: %v of lost sound is not in the recording: what came after it stands that much earlier there\n",
			r.hear.seconds(n).Round(time.Second))
	}
	if n := r.take.Unmarked(); n > 0 {
		fmt.Fprintf(r.env.Err, "breakcue: note: %s could not be marked in the recording: cue points reach to frame %d\n",
			pump.Count(n, "place", "places"), uint32(math.MaxUint32))
	}
	return err
}

// alert beeps at an opening.
func (r *liveRun) alert(e detect.Event) {
	switch {
	case r.flags.alertWhile:
		r.alertWhileOpen()
	case r.card.options.Alert == nil || e.Kind != detect.KindOpen:
	case e.Stage == detect.Decided && r.hear.unplugged:
	case e.Stage == detect.Decided:
		r.card.Sound()
	case e.Stage == detect.Withdrawn:
		r.card.Hush()
	}
}

// alertWhileOpen sounds for as long as the points are known to be open: sound that was lost may have ended it without an event.
func (r *liveRun) alertWhileOpen() {
	if r.card.options.Alert == nil || !r.flags.alertWhile {
		return
	}
	open := r.open() && !r.hear.unplugged
	switch {
	case open && !r.sounding:
		r.card.Sound()
	case !open && r.sounding:
		r.card.Hush()
	}
	r.sounding = open
}

// close closes everything, the newest first. It tells every error.
func (r *liveRun) close() (err error) {
	for i := len(r.undo) - 1; i >= 0; i-- {
		err = errors.Join(err, r.undo[i]())
	}
	r.undo = nil
	return err
}

// recordError says why a recording could not be begun.
func recordError(path string, err error) error {
	hint := "name another file or folder"
	switch {
	case errors.Is(err, fs.ErrExist):
		hint = "choose another name: nothing is ever overwritten"
	case errors.Is(err, fs.ErrNotExist):
		hint = "make the folder first"
	case errors.Is(err, fs.ErrPermission):
		hint = "choose a folder that you may write to"
	case errors.As(err, new(*wav.WriteError)):
		hint = "make room and try again, or name another file or folder"
	}
	return &Failure{Code: ExitFailed, Err: err, Hint: hint}
}
