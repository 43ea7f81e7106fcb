package detect

import "math"

// Split takes two tones apart that come back summed in one channel, when the levels of neither are known: each of its two outputs is the
// sound less the other tone, for whoever learns levels and follows contacts as if there were but one tone. It learns the two levels of each
// tone by itself, and follows them; which of the two is which it does not know. The sequence of the levels is found as in a Pair, so that no
// output holds an edge of the other tone, not even the first one.
type Split struct{ p Pair }

const (
	splitGain  = 1.0 / 30 // of a hop, by which a level that stands follows the sound
	splitSteep = 1.0 / 4  // of splitGain^2, by which the tone's frequency does
	splitFaint = 0.1      // of the other tone
	splitSure  = 8.0      // standard deviations by which two levels of a tone differ at least
	splitLoud  = 0.1      // of the sound's power, that two tones that stand still leave over at most while the noise is not known
)

// NewSplit returns a Split for the tones [Hz] in a channel, from 0, of interleaved sound. Errors tell which argument is out of range.
func NewSplit(sampleRate, channels, channel int, tones [2]float64) (*Split, error) {
	var cfg [2]Config
	for i, hz := range tones {
		cfg[i] = Config{SampleRate: sampleRate, Channels: channels, Channel: channel, Set: i, Profile: Profile{Tone: hz, Closed: 1}}
	}
	p, err := NewPair(cfg[0], cfg[1])
	if err != nil {
		return nil, err
	}
	for i := range p.set {
		p.cfg[i].Profile.Closed = 0
		p.set[i].det, p.set[i].guide = nil, nil
		p.out[i] = make([]float32, 0, len(p.ring.buf))
	}
	p.Reset()
	return &Split{*p}, nil
}

// Process takes a block of whole interleaved frames, at most Most of them.
func (s *Split) Process(block []float32) { s.p.Process(nil, block) }

// Most returns how many frames are to be given to Process until Take: then what comes out does not depend on how the sound is cut.
func (s *Split) Most() int { return int(s.p.step - s.p.n%s.p.step) }

// Frame returns the number of the next frame.
func (s *Split) Frame() int64 { return s.p.n }

// Take returns the frames that have become clear of tone 0 or 1 since it was last called, valid until the next call of Process: the sound of
// one channel, less the other tone. So many frames before them went unheard: it was not known what was to be taken off.
func (s *Split) Take(tone int) (sound []float32, unheard int64) {
	sound, unheard = s.p.out[tone], s.p.unheard[tone]
	s.p.out[tone], s.p.unheard[tone] = sound[:0], 0
	return sound, unheard
}

// Guide names the Detector that hears what Take gives of tone 0 or 1, and the frame of the sound at which it began: it knows the levels better, and
// which state is which. nil: there is none, or no more. The Detector is only looked at, in Process.
func (s *Split) Guide(tone int, d *Detector, base int64) {
	p := &s.p
	t := &p.set[tone]
	if t.guide == d && t.base == base {
		return
	}
	if t.guide, t.base = d, base; d == nil || (d.state != Closed && d.state != Open) {
		return
	}
	// The level that the Detector is at is the one here that it is nearest to.
	now := d.track.level[idx(d.state)] * cis(d.track.phase-t.angle(base+d.n-int64(d.acc.n)))
	i := idx(d.state)
	if t.known[1-i] && (!t.known[i] || mag(now-t.level[1-i]) < mag(now-t.level[i])) {
		p.exchange(tone)
	}
}

// exchange lets what was called closed of a set be called open, and the other way round.
func (p *Pair) exchange(set int) {
	s, t, bit := &p.set[set], &p.path, 1<<set
	s.level[0], s.level[1] = s.level[1], s.level[0]
	s.known[0], s.known[1] = s.known[1], s.known[0]
	s.couple[0], s.couple[1] = s.couple[1], s.couple[0]
	for i := range s.couple {
		s.couple[i].of ^= 1
		p.set[1-set].couple[i].home ^= 1
	}
	was := t.cost
	for k := range t.cost {
		t.cost[k] = was[k^bit]
	}
	t.now, t.stood, t.came = t.now^bit, t.stood^bit, t.came^bit
	for i, back := range t.back {
		t.back[i] = 0
		for k := range 4 {
			t.back[i] |= back >> (2 * (k ^ bit)) & 3 << (2 * k)
		}
		t.state[i] ^= uint8(bit)
	}
	p.aim()
}

// Skip tells that lost frames are missing before the next one. What comes before them is passed on as it is: Take it first.
func (s *Split) Skip(lost int64) { s.p.Skip(nil, lost) }

// Finish passes on what there is.
func (s *Split) Finish() { s.p.passOn(nil, true) }

// span returns the distance of the two levels, where both are known; else that of the one from 0.
func (s *pairSet) span() float64 {
	switch s.known {
	case [2]bool{true, true}:
		return mag(s.level[0] - s.level[1])
	case [2]bool{true, false}:
		return mag(s.level[0])
	case [2]bool{false, true}:
		return mag(s.level[1])
	}
	return 0
}

// reach returns the steps that the two sets can take, as far as is known: none comes back more than splitFaint weaker than the other.
func (p *Pair) reach() (steps [2]float64) {
	a, b := p.set[0].span(), p.set[1].span()
	return [2]float64{max(a, splitFaint*b), max(b, splitFaint*a)}
}

// follow follows the level i of a set whose levels no Detector follows over a hop of n frames that ends at frame end; calm tells that nothing
// else is under way, noise2 is sigma^2.
func (s *pairSet) follow(end int64, n, i int, noise2 float64, calm bool) {
	dev := s.sum * complex(2/float64(n), 0)
	s.sum = 0
	if !s.own || !calm || !s.known[i] {
		return
	}
	a := s.level[i]
	s.level[i] += splitGain * dev
	a2 := mag2(a)
	if a2 < sureLevel*sureLevel*2*noise2*splitGain/float64(n) || a2 == 0 || s.known[1-i] && a2 < mag2(s.level[1-i]) {
		return // it tells nothing of the tone and the amplifier
	}
	ratio := dev / a
	if s.guide == nil {
		s.phase, s.at = math.Mod(s.angle(end), 2*math.Pi), end
		s.w += splitSteep * splitGain * splitGain * imag(ratio) / float64(n)
	}
	s.level[1-i] *= 1 + splitGain*ratio
}

// refitFree takes the levels of two tones, and the offset, that explain the newest sound up to frame to, of which they leave rest over, where
// nothing is known of the levels but what was heard.
func (p *Pair) refitFree(level [2]complex128, offset, rest float64, to int64) {
	power := rest + (mag2(level[0])+mag2(level[1]))/2
	steps := p.reach()
	least := min(max(steps[0], splitFaint*mag(level[1])), max(steps[1], splitFaint*mag(level[0])))
	if p.search >= 0 {
		if rest > splitLoud*power && float64(to-p.search) < pairPatien*pairLag*p.fs {
			return
		}
		p.noise2 = rest
		p.centre(to, offset)
	} else if rest > max(pairStill*p.noise2, p.noise2+pairStray*least*least) {
		return
	}
	sigma := math.Sqrt(2 * max(p.noise2, 1e-14) / float64(p.fit.length))
	changed := p.search >= 0
	now := p.path.now
	var at [2]int
	for i := range p.set {
		steps[i] = max(pairSame*max(steps[i], splitFaint*mag(level[1-i])), splitSure*sigma)
		at[i], _ = p.set[i].placeFree(level[i], now>>i&1, now>>(1-i)&1, steps[i])
	}
	for i := range p.set {
		if p.adoptFree(i, level[i], now>>i&1, at[1-i], pairFew*sigma+pairNew*least, steps[i]) {
			changed = true
		}
	}
	if changed {
		p.search = -1
		p.aim()
		p.again()
	}
}

// centre takes an offset of the input off the sound up to frame to.
func (p *Pair) centre(to int64, offset float64) {
	p.dc += offset
	for k := p.ring.from; k < to; k++ {
		if x := &p.ring.buf[k&p.ring.mask]; *x == *x && *x != 0 {
			*x -= float32(offset)
		}
	}
}

// returns tells that set i has come to its louder level with the change by into the joint state s, and that the phase of its tone, which was away
// meanwhile, may be another than expected: what that leaves over would be taken for a change of the other set.
func (p *Pair) returns(i, s, by int) bool {
	t := &p.set[i]
	at := s >> i & 1
	return t.det == nil && !t.firm && by>>i&1 != 0 && mag(t.level[at]) > mag(t.level[1-at])
}

// placeFree returns which level of a set, of which nobody knows which is which, a is beside a state of the other set, and how far it is off what
// is known of that; from step on it is another. now is the one that the path is at.
func (s *pairSet) placeFree(a complex128, now, other int, step float64) (best int, near float64) {
	best, near = -1, math.Inf(1)
	for i := range s.level {
		if off := mag(a - s.level[i] - s.beside(i, other)); s.known[i] && off < near {
			best, near = i, off
		}
	}
	if near >= step && s.known == [2]bool{true, true} && math.Abs(mag(s.level[0])-mag(s.level[1])) > step {
		if best = 0; math.Abs(mag(a)-mag(s.level[1])) < math.Abs(mag(a)-mag(s.level[0])) {
			best = 1 // the tone has come back at another phase
		}
	}
	switch {
	case best < 0:
		best = now
	case near > step && !s.known[1-best]:
		best, near = 1-best, math.Inf(1)
	}
	return best, near
}

// adoptFree takes a for a level of set k, of which nobody knows which is which. It is false where a is no farther than enough from a level that
// is known; from step on it is another.
func (p *Pair) adoptFree(k int, a complex128, now, other int, enough, step float64) bool {
	s := &p.set[k]
	i, near := s.placeFree(a, now, other, step)
	if near < enough {
		return false
	}
	if s.known[i] && (near < step || s.couple[i].n == 0) && p.blame(k, a, i, other) {
		return true
	}
	s.level[i], s.known[i], s.firm = s.uncoupled(a, i, other), true, false
	return true
}
