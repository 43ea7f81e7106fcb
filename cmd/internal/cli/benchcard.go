package cli

import (
	"sync/atomic"
	"time"

	"github.com/spf13/pflag"

	"breakcue/audio"
	"breakcue/audio/bench"
	"breakcue/audio/circuit"
	"breakcue/audio/live"
	"breakcue/detect"
)

// builtInBench is the name of the sound card that is none.
const builtInBench = "built-in bench"

// contacts says what becomes of the points in a sound that is being made.
type contacts interface {
	// upTo returns the changes after those returned before, up to an instant that never falls [s from the start of the sound].
	upTo(at float64) []bench.Change
}

// bothContacts may have a second set of points.
type bothContacts interface {
	contacts
	// second returns the changes of the second set up to the instant that upTo was asked for last.
	second() []bench.Change
}

// builtInCards has one sound card, at whose cable are points that only exist here. No tone comes out of it.
func builtInCards(env Env, wired detect.Wiring, points contacts, seed uint64) Cards {
	return Cards{
		Invented: true,
		List:     benchDevices,
		Open: func(o live.Options) (Card, error) {
			cfg, err := builtInSound(o, wired, seed)
			if err != nil {
				return nil, err
			}
			b, err := bench.New(cfg)
			if err != nil {
				return nil, err
			}
			return &builtInCard{bench: b, points: points, both: o.Second != nil, piece: max(1, cfg.SampleRate/50), pace: newPace(env, cfg.SampleRate)}, nil
		},
	}
}

// benchDevices are the sound devices where there is the bench: whoever practises checks the cable of the same one that is listened with later.
func benchDevices() ([]live.Device, error) {
	return []live.Device{{
		Name: builtInBench, HostAPI: "breakcue", MaxInputs: 1, MaxOutputs: 2, DefaultRate: demoRate, DefaultInput: true, DefaultOutput: true,
	}}, nil
}

// benchNoise is that of its input [full scale]. It does not fall with a test tone that is played softer than usual.
const benchNoise = 1e-4

// benchCable is the cable of the bench, with what is at the points: what leads has where nothing is said of it.
func benchCable(wired detect.Wiring) (circuit.Circuit, error) {
	var f leadsBenchFlags
	f.add(pflag.NewFlagSet("", pflag.ContinueOnError))
	return f.circuit(wired)
}

// builtInSound is the sound of the cable for what is played.
func builtInSound(o live.Options, wired detect.Wiring, seed uint64) (bench.Config, error) {
	cable, err := benchCable(wired)
	if err != nil {
		return bench.Config{}, err
	}
	levels, err := cable.At(o.Tone.Hz)
	if err != nil {
		return bench.Config{}, err
	}
	var second *bench.Second
	if o.Second != nil {
		other, err := cable.At(o.Second.Hz)
		if err != nil {
			return bench.Config{}, err
		}
		second = &bench.Second{Tone: o.Second.Hz, Level: o.Second.Level, Closed: other.Closed, Open: other.Open}
	}
	rate := o.Rate
	if rate == 0 {
		rate = demoRate
	}
	return bench.Config{
		SampleRate: rate, Channels: 1, Frames: bench.Endless,
		Tone: o.Tone.Hz, Level: o.Tone.Level, Closed: levels.Closed, Open: levels.Open, Second: second, BandLimited: true,
		Noise: benchNoise,
		Ticks: bench.Ticks{Rate: 0.5, Length: 1e-4, Level: 0.02}, Seed: seed,
	}, nil
}

// builtInCard plays the bench at the pace of a sound card. It has no loudspeaker.
type builtInCard struct {
	bench  *bench.Bench
	points contacts
	both   bool // there are two sets of points
	piece  int  // most frames of one Read
	pace   *pace
}

func (c *builtInCard) Sound()                          {}
func (c *builtInCard) Hush()                           {}
func (c *builtInCard) AlertErr() error                 { return nil }
func (c *builtInCard) Nudge()                          { c.pace.nudged.Store(true) }
func (c *builtInCard) ToneFrom() int64                 { return 0 }
func (c *builtInCard) Entered(int64) (time.Time, bool) { return time.Time{}, false }
func (c *builtInCard) Close() error                    { return c.bench.Close() }
func (c *builtInCard) Format() audio.Format            { return c.bench.Format() }

// Read waits until the next frames would have come from a sound card, and returns a fiftieth of a second at most.
func (c *builtInCard) Read(dst []float32) (int, error) {
	if n := min(len(dst), c.piece); n > 0 { // the Bench refuses a dst of nothing
		dst = dst[:c.pace.wait(n)]
		last := c.bench.Frame() + int64(len(dst)) + bench.LookAhead
		if err := c.bench.Add(c.points.upTo(float64(last) / float64(c.pace.rate))...); err != nil {
			return 0, err
		}
		if both, ok := c.points.(bothContacts); ok && c.both {
			if err := c.bench.AddSecond(both.second()...); err != nil {
				return 0, err
			}
		}
	}
	return c.bench.Read(dst)
}

// pace lets frames come no faster than a clock.
type pace struct {
	now    func() time.Time
	sleep  func(time.Duration)
	rate   int // [frames/s]
	begun  bool
	from   time.Time // when frame 0 came
	frames int64     // so far
	nudged atomic.Bool
}

const (
	// doze is how long a nudge may be overlooked.
	doze = 4 * time.Millisecond
	// dozes is the most that is slept for one piece: a clock that nobody moves holds up nothing.
	dozes = 6
	// leeway is how much may be made up for: what was slept through with the lid closed never sounded.
	leeway = 500 * time.Millisecond
)

func newPace(env Env, rate int) *pace {
	p := &pace{now: env.Now, sleep: env.Sleep, rate: rate}
	if p.sleep == nil {
		p.sleep = func(d time.Duration) { <-time.NewTimer(d).C }
	}
	return p
}

// wait returns how many of the n frames, 1 or more, are there: after a nudge those that have come, otherwise all, after the
// time that they take.
func (p *pace) wait(n int) int {
	if !p.begun {
		p.begun, p.from = true, p.now()
	}
	for range dozes {
		left := p.due(n).Sub(p.now())
		if left <= 0 {
			break
		}
		if p.nudged.Load() {
			if come := p.come(); come > 0 && come < n {
				n = come
				break
			}
		}
		p.sleep(min(left, doze))
	}
	p.nudged.Store(false)
	if late := p.now().Sub(p.due(n)); late < 0 || late > leeway {
		p.from = p.from.Add(late)
	}
	p.frames += int64(n)
	return n
}

// due returns when n more frames have come.
func (p *pace) due(n int) time.Time {
	return p.from.Add(audio.Format{SampleRate: p.rate}.Duration(p.frames + int64(n)))
}

// come returns how many frames have come that were not read.
func (p *pace) come() int {
	return int(p.now().Sub(p.from).Seconds()*float64(p.rate)) - int(p.frames)
}
