package detect

import (
	"fmt"
	"math"
)

// Pair follows two sets of points whose tones come back summed in one channel. It is made by NewPair and used like a Detector: same
// input, same events, however the sound is cut into blocks, and nothing allocated while it runs.
//
// The best sequence of the joint states of both sets (pairpath.go) says at each frame in which state each set is. Each set has a Detector of its
// own, which hears the sound less the other set's tone in the state that it had there. A frame is given to it as soon as no sequence that
// is still possible disagrees about the other set: a few frames later as a rule, never more than pairLag. So neither Detector ever hears
// an edge of the other set, and all that a Detector knows of spikes, bounce, gain control and the placing of edges holds for each set.
//
// What no state of the two explains is held back until a fit of two tones to the newest sound (pairfit.go) tells the levels anew.
type Pair struct {
	cfg    [2]Config
	fs     float64
	set    [2]pairSet
	n      int64 // absolute number of the next frame
	ring   ring  // the sound less hum and offset; 0 where samples were lost, NaN where they are no numbers
	hum    canceller
	path   pairPath
	fit    pairFit
	dc     float64
	dcGain float64 // of a hop
	noise2 float64 // sigma^2
	floor2 float64 // least noise^2 that the states are told apart by
	step   int64   // frames after which it is looked what can be passed on
	hop    int
	acc    struct {
		n    int
		e, p float64 // sums of the residual and of its square
		last float64 // mean of the hop before
	}
	held    int64        // first frame that no state explains, -1: none
	search  int64        // frame at which the search for the levels began, -1: none is under way
	buf     []float32    // what a Detector is given next
	out     [2][]float32 // what is passed on where there is no Detector
	unheard [2]int64     // frames before out of which nothing is known
}

const (
	pairStep = 1.0 / 3000 // [s] after which it is looked what can be passed on, about
	pairLag  = 0.020      // [s] after which a frame is passed on though something is unclear
	// PairApart is how far the two tones of a Pair must be apart at least [Hz].
	PairApart = 150
	pairTrust = 4.0  // times floorSNR in power, that a level may be off before others are looked for
	pairAgree = 0.1  // of the step of the quieter set, by which a Detector's level may differ from one that was fitted
	pairOwn   = 0.05 // [s] for which fitted levels stand against those of a Detector that found a state
)

// NewPair returns a Pair at frame 0 in state Unknown. The two configurations must be of the same channel of the same sound; each gives its
// set of points the Set of its events. Errors tell which field is out of range or does not go with the other.
func NewPair(a, b Config) (*Pair, error) {
	for _, c := range []Config{a, b} {
		if err := c.Validate(); err != nil {
			return nil, err
		}
	}
	switch {
	case a.SampleRate != b.SampleRate || a.Channels != b.Channels || a.Channel != b.Channel:
		return nil, bad("format and channel of the second set", [3]int{b.SampleRate, b.Channels, b.Channel}, [3]int{a.SampleRate, a.Channels, a.Channel})
	case !(math.Abs(a.Profile.Tone-b.Profile.Tone) >= PairApart):
		return nil, bad("tones [Hz]", [2]float64{a.Profile.Tone, b.Profile.Tone}, fmt.Sprintf("at least %d Hz apart", PairApart))
	case a.Set == b.Set:
		return nil, bad("set of the second", b.Set, fmt.Sprintf("another than %d", a.Set))
	}
	zero := a.ZeroIsOpen && b.ZeroIsOpen
	p := &Pair{cfg: [2]Config{a, b}, fs: float64(a.SampleRate)}
	for i := range p.cfg {
		c := &p.cfg[i]
		c.ZeroIsOpen = zero
		own := *c
		own.Channels, own.Channel, own.Profile.Hum, own.Profile.Offset = 1, 0, Hum{}, 0
		d, err := New(own)
		if err != nil {
			return nil, err
		}
		c.Hold = d.cfg.Hold
		p.set[i].det, p.set[i].guide, p.set[i].apart = d, d, d.track.apart
	}
	for p.step = 4; float64(p.step) < pairStep*p.fs; p.step *= 2 {
	}
	p.hop = max(p.set[0].det.hop, p.set[1].det.hop)
	p.dcGain = 1 - math.Exp(-2*math.Pi*dcCorner*float64(p.hop)/p.fs)
	p.ring = newRing(int(4*pairLag*p.fs) + 64)
	p.path.back, p.path.state = make([]uint8, len(p.ring.buf)), make([]uint8, len(p.ring.buf))
	p.buf = make([]float32, 0, len(p.ring.buf))
	beat := p.fs / math.Abs(a.Profile.Tone-b.Profile.Tone)
	p.fit.length = int(max(float64(settleWindow*p.hop), pairBeats*beat))
	p.Reset()
	return p, nil
}

// Reset brings the Pair back to the state that NewPair gave it.
func (p *Pair) Reset() {
	p.n, p.dc = 0, p.cfg[0].Profile.Offset
	p.ring.reset(0)
	h := p.cfg[0].Profile.Hum
	if h.Freq == 0 {
		h = p.cfg[1].Profile.Hum
	}
	p.hum.begin(h, p.fs, p.cfg[0].Profile.Tone, p.cfg[1].Profile.Tone)
	sigma := max(p.cfg[0].Profile.Noise, p.cfg[1].Profile.Noise)
	p.noise2 = sigma * sigma
	for i := range p.set {
		s := &p.set[i]
		if s.det != nil {
			s.det.Reset()
		}
		*s = pairSet{det: s.det, guide: s.det, apart: s.apart}
	}
	p.restart()
}

// restart forgets the levels with their phases.
func (p *Pair) restart() {
	for i := range p.set {
		s := &p.set[i]
		s.known, s.own, s.firm, s.since, s.at, s.phase = [2]bool{}, true, false, p.n, p.n, 0
		s.level = [2]complex128{complex(mag(p.cfg[i].Profile.Closed), 0), complex(mag(p.cfg[i].Profile.Open), 0)}
		if s.w = 2 * math.Pi * p.cfg[i].Profile.Tone / p.fs; s.det != nil {
			s.w = s.det.track.w
		}
	}
	p.acc.n, p.acc.e, p.acc.p, p.acc.last = 0, 0, 0, 0
	p.path.restart()
	p.held, p.search = p.n, p.n
	p.aim()
}

// Detector returns the Detector of the first (0) or second (1) set, to be asked for its State, Levels, EdgeModel and Judge; it is fed by the
// Pair alone. Its frames are those of the sound, but it may be some behind.
func (p *Pair) Detector(set int) *Detector { return p.set[set].det }

// Config returns the configuration of the first (0) or second (1) set with defaults filled in.
func (p *Pair) Config(set int) Config { return p.cfg[set] }

// State returns what is known of a set, 0 or 1, at the newest frame, and the frame at which that began.
func (p *Pair) State(set int) (State, int64) { return p.set[set].det.State() }

// Suspicious tells that a change of either set may be under way.
func (p *Pair) Suspicious() bool {
	return p.held >= 0 || p.set[0].det.Suspicious() || p.set[1].det.Suspicious()
}

// Frame returns the absolute number of the next frame.
func (p *Pair) Frame() int64 { return p.n }

// Process takes a block of whole interleaved frames and appends the events that it brings to dst, as Detector.Process does. The IDs of the two
// sets' events differ.
func (p *Pair) Process(dst []Event, block []float32) []Event {
	ch := p.cfg[0].Channels
	if len(block)%ch != 0 {
		panic("detect: Process needs whole frames")
	}
	for i := p.cfg[0].Channel; i < len(block); i += ch {
		p.take(block[i])
		if p.n%p.step == 0 {
			dst = p.look(dst)
		}
	}
	return dst
}

// take takes the sample of the next frame.
func (p *Pair) take(raw float32) {
	x := math.NaN()
	if raw <= maxSample && raw >= -maxSample {
		x = float64(raw)
	}
	zero := x == 0 && !p.cfg[0].ZeroIsOpen
	sound := x == x && !zero
	if sound {
		if p.hum.on {
			x = p.hum.off(x)
		}
		if x -= p.dc; x == 0 && !p.cfg[0].ZeroIsOpen {
			x = math.SmallestNonzeroFloat32
		}
	}
	p.ring.push(float32(x))
	if p.search < 0 {
		e, ok := p.weigh(p.n, x, sound)
		if ok {
			p.acc.e += e
			p.acc.p += min(e*e, gateAt*gateAt*max(p.noise2, p.floor2))
			if p.hum.on && p.path.sure() && e*e < gateAt*gateAt*max(p.noise2, p.floor2) {
				p.hum.learn(e, 3*math.Sqrt(p.noise2))
			}
		}
		if p.acc.n++; p.acc.n == p.hop {
			p.endHop()
		}
	}
	if p.hum.on {
		p.hum.next()
	}
	p.n++
}

// endHop follows the offset and the noise.
func (p *Pair) endHop() {
	a := &p.acc
	mean, power := a.e/float64(a.n), a.p/float64(a.n)
	if p.path.sure() {
		p.dc += p.dcGain * 0.5 * (mean + a.last)
		p.noise2 += noiseGain * (min(power, 4*max(p.noise2, 1e-14)) - p.noise2)
	}
	p.path.endHop()
	for i := range p.set {
		s := &p.set[i]
		if p.learnCoupling(i, s.sum*complex(2/float64(a.n), 0)) {
			s.sum = 0
		}
		s.follow(p.n, a.n, p.path.now>>i&1, p.noise2, p.path.sure() && p.held < 0)
	}
	a.n, a.e, a.p, a.last = 0, 0, 0, mean
}

// look passes on what is clear.
func (p *Pair) look(dst []Event) []Event {
	if p.search >= 0 || (p.held >= 0 && p.n-p.held >= int64(p.fit.length)) {
		p.refit()
	}
	dst = p.passOn(dst, false)
	p.aim()
	return dst
}

// aim takes the levels of the Detectors, and prepares the phasors for the next frame.
func (p *Pair) aim() {
	if p.set[0].det == nil {
		steps := p.reach()
		p.set[0].apart, p.set[1].apart = steps[0], steps[1]
	}
	for i := range p.set {
		p.set[i].learn(p)
	}
	p.prepare(p.n)
	least := min(p.set[0].apart, p.set[1].apart)
	p.floor2 = max(least*least/2/floorSNR, 1e-14)
	p.path.inv, p.path.doubt = 0.5/max(p.noise2, p.floor2), 0.5/max(p.noise2, pairTrust*p.floor2)
}

// passOn gives each Detector the frames at which the other set's state is clear; with all it gives them whatever there is.
func (p *Pair) passOn(dst []Event, all bool) []Event {
	clear := [2]int64{p.n, p.n}
	if p.search < 0 {
		clear = p.clear()
	}
	if p.held >= 0 {
		clear = [2]int64{min(clear[0], p.held), min(clear[1], p.held)}
	}
	late := p.n - int64(pairLag*p.fs)
	if p.held >= 0 && p.held < late { // nobody will know
		p.held = -1
		p.path.misfit = 0
		if p.search >= 0 {
			p.held = p.n
		}
	}
	for i := range p.set {
		upto := max(clear[1-i], late)
		if all {
			upto = p.n
		}
		dst = p.give(dst, i, upto)
	}
	return dst
}

// give gives the Detector of set i the frames up to one.
func (p *Pair) give(dst []Event, i int, upto int64) []Event {
	mine, o := &p.set[i], &p.set[1-i]
	d, from := mine.det, mine.sent
	if upto <= from {
		return dst
	}
	mine.sent = upto
	k := len(dst)
	if p.search >= 0 && d == nil {
		p.unheard[i] += upto - from
		return dst
	}
	if p.search >= 0 { // what is heard of the other set's tone nobody knows
		for d.n < upto {
			if x := p.ring.at(d.n); x == x && x != 0 {
				dst = d.blank(dst)
			} else {
				p.buf = append(p.buf[:0], float32(x))
				dst = d.Process(dst, p.buf)
			}
		}
		return p.mark(dst, k, i)
	}
	p.buf = p.buf[:0]
	z := cis(o.angle(from))
	var beside [4]complex128 // of the tone itself, with its phase
	for k := range beside {
		if beside[k] = mine.beside(k>>i&1, k>>(1-i)&1); beside[k] != 0 {
			beside[k] *= cis(mine.angle(from))
		}
	}
	y := complex(1, 0)
	for n := from; n < upto; n++ {
		at := n & p.ring.mask
		x := p.ring.buf[at]
		if x == x && (x != 0 || p.cfg[0].ZeroIsOpen) {
			k := p.path.state[at]
			a := p.path.joint[k][1-i]
			x -= float32(real(a)*real(z) - imag(a)*imag(z))
			if b := beside[k]; b != 0 {
				x -= float32(real(b)*real(y) - imag(b)*imag(y))
			}
		}
		p.buf = append(p.buf, x)
		z *= o.turn
		y *= mine.turn
	}
	if d == nil {
		p.out[i] = append(p.out[i], p.buf...)
		return dst
	}
	dst = d.Process(dst, p.buf)
	return p.mark(dst, k, i)
}

// Skip tells that lost frames are missing before the next one, as Detector.Skip does: both sets are Unknown until their levels have been
// found again.
func (p *Pair) Skip(dst []Event, lost int64) []Event {
	if lost < 1 {
		return dst
	}
	dst = p.passOn(dst, true)
	for i := range p.set {
		if d := p.set[i].det; d != nil {
			k := len(dst)
			dst = p.mark(d.Skip(dst, lost), k, i)
		}
		p.set[i].sent += lost
	}
	p.n += lost
	p.hum.skip(lost)
	p.ring.reset(p.n)
	p.restart()
	return dst
}

// Flush ends the stream, as Detector.Flush does. After it only Reset makes sense.
func (p *Pair) Flush(dst []Event) []Event {
	p.held = -1
	dst = p.passOn(dst, true)
	for i := range p.set {
		k := len(dst)
		dst = p.mark(p.set[i].det.Flush(dst), k, i)
	}
	return dst
}
