package pump

import (
	"math"
	"math/cmplx"
	"time"

	"breakcue/audio"
	"breakcue/detect"
)

// Live sound is compared with the tone that is played. It comes back by the clock that it went out by, or by one within clockError
// of it, and goes on unheard while the points keep it away: wherever it is loud, it has the phase that one tone has which never
// stops. A note or a voice that happens to lie at the tone's frequency does not.
const (
	clockError = 300e-6 // of two sound cards' rates: crystals are within 100 ppm, and some room for each
	oursPast   = 4 * time.Second
	hopsPerSec = 400 // levels a second, so short that a note a hundred Hz off still shows in each
	leastOurs  = 24  // levels of the louder state that it takes to tell
	// strayPhase is the variance [rad^2] by which phases may differ from those of one tone, beyond what noise makes them differ from
	// one level to the next: hum beats with the tone, contact resistance turns it.
	strayPhase = 0.08
	mostChance = 0.7 // variance [rad^2] that noise makes, at most: more leaves nothing to compare
)

// phases are levels of a channel against the tone played, one after the other; the tone's phase counts from the first frame.
type phases struct {
	lockin
	hz, rate float64
	levels   []complex128
}

func newPhases(f audio.Format, hz float64, channel int) *phases {
	length := max(f.SampleRate/hopsPerSec, int(math.Ceil(float64(f.SampleRate)/hz)))
	return &phases{lockin: newLockin(f, hz, channel, length), hz: hz, rate: float64(f.SampleRate),
		levels: make([]complex128, 0, (strangeSeconds+1)*hopsPerSec)}
}

func (p *phases) add(block []float32) {
	p.lockin.add(block, func(level complex128) { p.levels = append(p.levels, level) })
}

// areOurs tells whether the levels above least are those of one tone that never stops and lies within clockError of the
// one played. The error is
// detect.ErrTooShort where they are too few to tell, detect.ErrNoTone where they are not.
func (p *phases) areOurs(least float64) error {
	count, first, last := 0, 0, 0
	var size, pairs float64
	var pair complex128
	for k, z := range p.levels {
		if cmplx.Abs(z) < least {
			p.levels[k] = 0
			continue
		}
		if count++; count == 1 {
			first = k
		}
		size += cmplx.Abs(z)
		if k > 0 {
			turn := z * cmplx.Conj(p.levels[k-1])
			pair += turn
			pairs += cmplx.Abs(turn)
		}
		last = k
	}
	if count < leastOurs || pairs == 0 {
		return detect.ErrTooShort
	}
	// A sum of levels whose phases have the variance v is exp(-v/2) of what it is without; the turns from one to the next have 2v.
	most := 2 * math.Pi * clockError * p.hz * float64(p.length) / p.rate // [rad] from one level to the next
	step := math.Pi / 4 / float64(last-first+1)
	best := 0.0
	for d := -most; d < most+step; d += step {
		best = max(best, cmplx.Abs(p.sumAt(d)))
	}
	chance := -math.Log(cmplx.Abs(pair) / pairs)
	if chance > mostChance || -2*math.Log(best/size)-chance > strayPhase+4*chance/math.Sqrt(float64(count)) {
		return detect.ErrNoTone
	}
	return nil
}

// sumAt adds up the levels turned back by d [rad] for each.
func (p *phases) sumAt(d float64) (sum complex128) {
	back, at := cmplx.Rect(1, -d), complex(1, 0)
	for _, z := range p.levels {
		sum += z * at
		at *= back
	}
	return sum
}

// reset forgets the levels.
func (p *phases) reset() {
	p.levels = p.levels[:0]
	p.lockin.reset()
}

// ours tells, as areOurs does, whether what is loud from a frame on, at the levels found, is the tone that is played. Only the newest
// oursPast counts: a card that loses samples lets the tone jump.
func (l *Follower) ours(cfg detect.Config, found detect.Findings, from int64) error {
	p := newPhases(l.format, l.opt.Tone, cfg.Channel)
	l.past.each(max(from, l.past.end-frames(l.format, oursPast)), p.add)
	return p.areOurs((found.High + found.Low) / 2)
}
