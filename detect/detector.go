package detect

import (
	"math"
	"math/cmplx"
)

// Detector follows the contacts sample by sample. It is made by New, fed by Process and Skip, and ended by Flush.
// It works on one goroutine at a time, allocates nothing while it runs, and gives the same events however the sound is
// cut into blocks.
//
// The contact state and what moves it:
//
//	from      to        when
//	UNKNOWN   CLOSED    the level stands still for a window and lies at the closed level (acquire)
//	UNKNOWN   OPEN      the same at the open level
//	CLOSED    OPEN      the trigger or the window says so: event open, decided
//	OPEN      CLOSED    the same the other way: event close, decided
//	CLOSED    LOST      the level stays between the two for lostAfter, or the two have come too close, or the
//	OPEN      LOST      samples are exact zeros for zeroLost: event lost
//	LOST      CLOSED    as from UNKNOWN: event found
//	LOST      OPEN      as from UNKNOWN: event found
//	CLOSED    UNKNOWN   the second look at the newest edge finds no step: the level is looked for anew
//	OPEN      UNKNOWN   the same
//	any       UNKNOWN   Skip: samples were lost (event fault)
//
// Where one step explains all the sound after an edge, changes that the trigger saw in it are taken back, and the state is put
// right at once (contacts.tidy, correct).
//
// What the changes mean for openings and closings (bounce) is the business of type contacts.
type Detector struct {
	cfg Config
	fs  float64
	hop int // frames over which levels are averaged (see hopLength)

	n     int64 // absolute number of the next frame
	ring  ring
	track tracker
	trig  trigger
	cable cable
	state State
	since int64 // frame at which state began

	win      window4
	fired    int64      // frame at which the trigger fired last
	fires    int        // times it fired in quick succession
	mute     int        // hops for which it is silenced
	stood    complex128 // where the level stood last while the states, equally loud, were not yet told apart
	doubt    bool       // the levels and the state contradict each other
	misfit   int64      // frames for which the level has lain between the two
	zeroRun  int64      // exact zeros up to now
	zeroFrom int64
	nan      int64   // frames not finite in the running fault, reported once a stretch
	least    uint32  // float bits of the least sample that is sound
	dc       float64 // running mean of the samples, taken off (the input may have an offset)
	dcGain   float64 // of a hop
	mean     float64 // of the residual of the last hop
	acc      accumulator
	contacts contacts
	ref      refiner
	hum      canceller
	sum      summary
}

const (
	hopTime     = 0.0005 // [s] least length of a hop
	littleImage = 0.01   // of the tone's level, well below what the window asks of a level that stands still
	// maxSample is the largest sample taken for sound [full scale]: a float file may be scaled as 16-bit numbers, but not
	// much beyond. What lies above counts as no number.
	maxSample     = 1e5
	settleWindow  = 4      // hops that make a window
	settledStep   = 0.25   // of the distance of the two levels: a level that has settled does not step by so much and stay what it was
	flutterTime   = 0.0015 // [s] between firings of the trigger that follow one another too quickly
	flutterFires  = 8      // such firings in a row that are let pass
	hopSigmas     = 8.0    // half the distance of the levels in a hop, by chance once in 50: exp(-D^2 h / 16 sigma^2)
	settledSigmas = 6.0    // and so many standard deviations of the noise in half a window
	lostAfter     = 0.5    // [s] of a level between the two
	zeroLost      = 0.25   // [s] of exact zeros, where zeros are not open contacts
	zeroFault     = 0.0007 // [s] of exact zeros that are reported as a dropout
	dcCorner      = 10.0   // [Hz] corner of the first-order high-pass that takes off the offset
	lookAhead     = 0.006  // [s] of sound after a decision that the placing waits for
	lookBack      = 0.020  // [s] of sound before it
	ringTime      = 0.5    // [s] of sound kept
)

// New returns a Detector at frame 0 in state Unknown. The error is that of cfg.Validate.
func New(cfg Config) (*Detector, error) {
	if err := cfg.Validate(); err != nil {
		return nil, err
	}
	if cfg.Hold == 0 {
		cfg.Hold = DefaultHold
	}
	d := &Detector{cfg: cfg, fs: float64(cfg.SampleRate)}
	d.hop = hopLength(d.fs, cfg.Profile.Tone)
	d.dcGain = 1 - math.Exp(-2*math.Pi*dcCorner*float64(d.hop)/d.fs)
	if !cfg.ZeroIsOpen {
		d.least = 1
	}
	d.track.turns = make([]turn, d.hop)
	d.ring = newRing(int(ringTime * d.fs))
	d.sum.before = make([]float64, 0, levelsKept)
	d.ref = newRefiner(int((lookBack+softLook*lookAhead)*d.fs)+4*settleWindow*d.hop, cfg)
	d.contacts.log = make([]change, 0, logged)
	d.Reset()
	return d, nil
}

// hopLength returns how many frames make a hop for a tone of f Hz: hopTime and half a period at least, and such that the tone
// nearly comes to a whole number of half periods. What a lock-in over h frames leaves of the tone's image at 2f is
// |sin(w h) / (h sin w)|, w = 2 pi f/fs; the first length that leaves little is taken, or the best of up to three times the
// least.
func hopLength(fs, f float64) int {
	w := 2 * math.Pi * f / fs
	least := int(math.Max(4, math.Max(hopTime*fs, fs/(2*f)-0.5)))
	best, length := math.Inf(1), least
	for h := least; h <= 3*least; h++ {
		image := math.Abs(math.Sin(w*float64(h)) / (float64(h) * math.Sin(w)))
		if image < best {
			best, length = image, h
		}
		if best < littleImage {
			break
		}
	}
	return length
}

// Reset brings the Detector back to the state that New gave it.
func (d *Detector) Reset() {
	d.n, d.state, d.since, d.dc, d.mean = 0, Unknown, 0, d.cfg.Profile.Offset, 0
	d.ring.reset(0)
	d.track = newTracker(d.cfg, d.track.turns)
	d.hum.begin(d.cfg.Profile.Hum, d.fs, d.cfg.Profile.Tone)
	d.contacts = newContacts(d.cfg, d.contacts.log)
	d.cable = newCable(d.cfg)
	d.sum = summary{rate: d.fs, before: d.sum.before[:0]}
	d.restart()
}

// restart forgets what was gathered over the last hops, not the levels.
func (d *Detector) restart() {
	d.acc = accumulator{}
	d.win = window4{}
	d.misfit, d.zeroRun, d.zeroFrom, d.nan, d.doubt = 0, 0, 0, 0, false
	d.fired, d.fires, d.mute, d.stood = d.n, 0, 0, 0
	d.trig = trigger{}
}

// Config returns the configuration with defaults filled in.
func (d *Detector) Config() Config { return d.cfg }

// State returns what is known of the contacts at the newest frame, and the frame at which that began.
func (d *Detector) State() (State, int64) { return d.state, d.since }

// Suspicious tells that a change may be under way: what has come since speaks for the other state, but not yet enough.
func (d *Detector) Suspicious() bool { return d.trig.suspicious() }

// Frame returns the absolute number of the next frame.
func (d *Detector) Frame() int64 { return d.n }

// Process takes a block of whole interleaved frames and appends the events that it brings to dst, in the order in which
// they became known. A block with a part of a frame is a caller bug and panics. Samples that are not finite count as 0
// and are reported as KindFault.
func (d *Detector) Process(dst []Event, block []float32) []Event {
	ch := d.cfg.Channels
	if len(block)%ch != 0 {
		panic("detect: Process needs whole frames")
	}
	for i := d.cfg.Channel; i < len(block); {
		switch x := block[i]; {
		case !(x <= maxSample && x >= -maxSample): // NaN, infinite or absurd
			dst = d.blank(d.notFinite(dst))
			i += ch
		case x == 0 && !d.cfg.ZeroIsOpen:
			if d.zeroRun == 0 {
				d.zeroFrom = d.n
			}
			d.zeroRun++
			d.nan = 0
			dst = d.blank(dst)
			i += ch
		default:
			if d.zeroRun > 0 {
				dst = d.endZeros(dst)
			}
			d.nan = 0
			dst, i = d.stretch(dst, block, i, ch)
		}
	}
	return dst
}

// flutter silences the trigger for a window when it fires again and again: then the levels it goes by are wrong (the tone has
// come back at another phase), or the contacts bounce faster than it can tell. The window finds the level anew.
func (d *Detector) flutter() {
	if d.n-d.fired > max(int64(flutterTime*d.fs), int64(2*d.hop)) {
		d.fires = 0
	}
	d.fired = d.n
	if d.fires++; d.fires > flutterFires {
		d.fires, d.mute = 0, settleWindow+1
	}
}

// change turns the state to the other one. level is the measured level of the new state, nil to go on with the one known.
func (d *Detector) change(dst []Event, from int64, level *complex128) []Event {
	to := other(d.state)
	before := d.track.beforeChange(d.state)
	d.cable.change(d.state, d.track.level, d.hopNoise2())
	d.track.enter(to, level)
	d.state, d.since = to, from
	d.misfit = 0
	d.track.advance(d.acc.n)
	d.acc, d.win = accumulator{}, window4{}
	d.trig.reset()
	return d.contacts.change(dst, change{
		to: to, frame: from, decided: d.n - 1, levels: d.track.level, before: before, phased: d.track.phased,
	}, &d.cable)
}

// correct puts the state right, at the level a found in the refiner's window. Where that level is the other state's, neither is to be
// believed, and the state is looked for anew.
func (d *Detector) correct(to State, since int64, a complex128) {
	if is, ok := d.track.classify(a, 0); !ok || is != to {
		d.doubt = true
		return
	}
	d.state, d.since = to, since
	was := d.track.level[idx(to)]
	d.track.reacquire(to, d.ref.unturned(d, a))
	d.cable.jump(was, d.track.level[idx(to)])
	d.win, d.misfit = window4{}, 0
	d.trig.reset()
}

// endHop looks at the hop that has just been filled.
func (d *Detector) endHop(dst []Event) []Event {
	d.acc.close()
	dev := d.acc.deviation() * cmplx.Conj(d.track.start)
	mean := d.acc.mean()
	d.dc += d.dcGain * 0.5 * (mean + d.mean) // a hop may be half a period: over two of them a tone cancels
	d.mean = mean
	quality := d.acc.weight
	d.mute = max(0, d.mute-1)
	power := d.acc.power()
	d.acc = accumulator{}
	d.track.advance(d.hop)
	if quality < d.hop/2 {
		d.win = window4{} // too many zeros to tell
	} else {
		d.win.push(dev)
		switch d.state {
		case Closed, Open:
			dst = d.watch(dst, dev, power)
		default:
			if !d.cable.why.cableOff() { // else it is told what is there
				d.sum.outside += int64(d.hop)
			}
			dst = d.acquire(dst)
		}
	}
	if d.zeroRun > int64(zeroLost*d.fs) && (d.state == Closed || d.state == Open) {
		dst = d.lose(dst, CauseDropout)
	}
	dst, ok := d.contacts.tick(dst, d)
	if d.doubt || !ok {
		// What looked like a change was none: find out anew where the contacts stand.
		d.doubt = false
		dst = d.contacts.finish(dst, d, CauseNoStep)
		d.state, d.since, d.cable.doubted = Unknown, d.n, true
		d.track.distrust()
		d.restart()
	}
	return dst
}

// endZeros reports a run of exact zeros that is long enough to be a loss of samples.
func (d *Detector) endZeros(dst []Event) []Event {
	run, from := d.zeroRun, d.zeroFrom
	d.zeroRun = 0
	if run < int64(zeroFault*d.fs) || from == 0 { // zeros before the first sound are padding
		return dst
	}
	e := d.contacts.single(KindFault, CauseDropout, from, d.n-1)
	e.LastFrame = from + run
	return append(dst, e)
}

// notFinite reports the first frame of a stretch of samples that are NaN or infinite.
func (d *Detector) notFinite(dst []Event) []Event {
	d.nan++
	if d.nan > 1 {
		return dst
	}
	return append(dst, d.contacts.single(KindFault, CauseNotFinite, d.n, d.n))
}

// Skip tells that lost frames are missing before the next one. Edges decided but not yet placed are placed with the sound
// there is, or withdrawn; the state is Unknown until the level has been found again. lost below 1 does nothing.
func (d *Detector) Skip(dst []Event, lost int64) []Event {
	if lost < 1 {
		return dst
	}
	dst = d.contacts.finish(dst, d, CauseGap)
	e := d.contacts.single(KindFault, CauseGap, d.n, d.n)
	d.n += lost
	d.hum.skip(lost)
	e.LastFrame = d.n
	dst = append(dst, e)
	d.ring.reset(d.n)
	d.track.forget()
	d.restart()
	d.cable.gap()
	d.state, d.since = Unknown, d.n
	return dst
}

// Flush ends the stream: edges still on their way are settled with the sound there is, or withdrawn. After it only Reset
// makes sense.
func (d *Detector) Flush(dst []Event) []Event {
	if d.zeroRun > 0 {
		dst = d.endZeros(dst)
	}
	return d.contacts.finish(dst, d, CauseStreamEnd)
}

func other(s State) State {
	if s == Closed {
		return Open
	}
	return Closed
}

// Indices of the levels.
const (
	closedIdx = 0
	openIdx   = 1
)

func idx(s State) int {
	if s == Open {
		return openIdx
	}
	return closedIdx
}
