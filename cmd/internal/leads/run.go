package leads

import (
	"math"
	"math/cmplx"

	"breakcue/audio"
)

const (
	quietTime   = 0.6  // [s] of silence that is measured
	combTime    = 1.0  // [s] of the comb that is measured, whole periods of 40 ms
	singleTime  = 3.0  // [s] of one tone that are measured
	guardTime   = 0.4  // [s] that a sound card takes at most from output to input
	tripSpare   = 0.06 // [s] beyond the round trip, once it is known
	stillTime   = 3.0  // [s] from the comb's beginning after which the level is measured though it does not stand still
	stillPart   = 0.01 // change from block to block of a level that stands still
	stillBeside = 0.1  // the same where a tone that was asked for sounds in all others
	stillFor    = 5    // blocks, of 40 ms
	stillNoise  = 4.0  // times the noise that a change may be
	mostAgain   = 4    // times that a phase is begun anew after a loss
	mostHeard   = 8    // channels that are looked at where none is named
)

// run is a step under way. It keeps the sound of the phase, and measures at its end.
type run struct {
	c     *Check
	step  Step
	phase Phase
	heard []int       // channels that are kept, from 0
	sound [][]float32 // of the phase, for each of these
	first int64       // absolute frame of its first sample
	began bool        // it is being kept

	quiet, comb, single stretch
	onset               stretch // of the comb, up to its measurement
	from                int64   // frame from which the comb stands at its level as it goes out
	singleFrom          int64   // the same for the single tone
	still               int     // blocks in a row
	last                [][]complex128
	resync              [][]complex128 // levels before a jump of the phase, until it is taken out
	noise               []float64      // norm of a block's levels without a tone, for each channel
	steady              bool
	again               int
	lost                int64
	jumps               int
	zeros               int64
	clipped             bool
	power               float64 // of the last block [mean square], the loudest channel
}

// stretch is sound that is kept, of each channel.
type stretch struct {
	sound [][]float32
	first int64 // absolute frame of the first sample
	shift int64 // what the phases are ahead of it
}

// at returns the absolute frame of sample i, resynchronised.
func (s stretch) at(i int) int64 { return s.first + s.shift + int64(i) }

func newRun(c *Check, s Step) *run {
	r := &run{c: c, step: s}
	if c.opt.Channel > 0 {
		r.heard = []int{c.opt.Channel - 1}
	} else {
		for ch := range min(mostHeard, c.opt.Format.Channels) {
			r.heard = append(r.heard, ch)
		}
	}
	r.enter(Quiet)
	return r
}

// enter begins a phase.
func (r *run) enter(p Phase) {
	r.phase, r.again = p, 0
	r.clear()
	r.c.ask(r.want())
}

// clear begins anew to keep sound.
func (r *run) clear() {
	r.sound, r.began, r.still, r.last = make([][]float32, len(r.heard)), false, 0, nil
}

// want is what is to be played in the phase.
func (r *run) want() audio.Chord {
	switch r.phase {
	case Settling, Comb:
		return r.c.chord()
	case Single:
		return r.c.single()
	}
	return audio.Chord{Level: r.c.opt.Level}
}

// frames returns how many frames so many seconds are.
func (r *run) frames(seconds float64) int64 {
	return int64(math.Round(seconds * float64(r.c.opt.Format.SampleRate)))
}

// period is that of the comb [frames].
func (r *run) period() int64 { return int64(r.c.opt.Format.SampleRate / grid) }

// arrives returns the frame from which what is played now is surely back.
func (r *run) arrives() int64 {
	wait := r.frames(guardTime)
	if t := r.c.trip; t.known {
		wait = min(wait, int64(t.frames)+r.frames(tripSpare))
	}
	return r.c.from + wait
}

// take takes the next frame.
func (r *run) take(frame []float32) {
	if r.phase == Done || r.c.from == 0 {
		return
	}
	n := r.c.frame
	switch {
	case r.began:
	case r.phase == Quiet && n < r.arrives(), r.phase == Comb && n < r.arrives():
		return
	case n < r.c.from-r.frames(2*audio.SoftStart.Seconds()): // told ahead of its time
		return
	}
	if !r.began {
		r.began, r.first = true, n
	}
	for i, ch := range r.heard {
		v := frame[ch]
		if v-v != 0 {
			v = 0
		}
		if v >= fullScale || v <= -fullScale {
			r.clipped = true
		}
		r.sound[i] = append(r.sound[i], v)
	}
	if kept := int64(len(r.sound[0])); kept%r.period() == 0 {
		r.block(kept)
	}
}

// block ends a block of a period.
func (r *run) block(kept int64) {
	r.loudness(kept)
	switch r.phase {
	case Quiet:
		if kept >= r.frames(quietTime) {
			r.quiet = r.keep()
			r.noise = r.noiseNorms()
			r.enter(Settling)
		}
	case Settling:
		r.settle(kept)
	case Comb:
		if r.watch(kept) && kept >= r.frames(combTime) {
			r.comb = r.keep()
			r.enter(Single)
		}
	case Single:
		if r.first+kept >= r.arrives()+r.frames(singleTime) {
			r.single, r.singleFrom = r.keep(), r.c.from
			r.phase = Done
			r.c.ask(r.want())
			r.finish()
			r.quiet, r.comb, r.single, r.onset = stretch{}, stretch{}, stretch{}, stretch{}
		}
	}
}

// keep takes the sound of the phase.
func (r *run) keep() stretch { return stretch{r.sound, r.first, r.c.shift} }

// loudness sets the power of the last block.
func (r *run) loudness(kept int64) {
	r.power = 0
	for _, x := range r.sound {
		var p float64
		for _, v := range x[kept-r.period():] {
			p += float64(v) * float64(v)
		}
		r.power = math.Max(r.power, p/float64(r.period()))
	}
}

// noiseNorms returns the norm of the comb's levels in a block of silence, for each channel: what noise and hum alone make.
func (r *run) noiseNorms() (norms []float64) {
	for _, x := range r.quiet.sound {
		var sum float64
		blocks := len(x) / int(r.period())
		for b := range blocks {
			at := b * int(r.period())
			z := r.c.block(x[at:at+int(r.period())], r.quiet.at(at))
			sum += norm2(z) / float64(blocks)
		}
		norms = append(norms, math.Sqrt(sum))
	}
	return norms
}

// latest returns the comb's levels in the last block, for each channel.
func (r *run) latest(kept int64) (z [][]complex128) {
	at := kept - r.period()
	for _, x := range r.sound {
		z = append(z, r.c.block(x[at:], r.first+r.c.shift+at))
	}
	return z
}

// settle waits until the levels stand still in each channel.
func (r *run) settle(kept int64) {
	now := r.latest(kept)
	before := r.last
	r.last = now
	if r.first+kept < r.arrives()+r.period() || before == nil {
		return
	}
	r.still++
	part := stillPart
	if r.c.beside() {
		part = stillBeside
	}
	for i := range now {
		change := math.Sqrt(distance2(now[i], before[i]))
		if change > math.Max(part*math.Sqrt(norm2(now[i])), stillNoise*r.noise[i]) {
			r.still = 0
		}
	}
	r.steady = r.still >= stillFor
	if r.steady || r.first+kept >= r.c.from+r.frames(stillTime) {
		r.onset, r.from = r.keep(), r.c.from
		r.enter(Comb)
	}
}

// watch looks for jumps of the phase in the comb; after one, which it takes out, the phase begins anew. It tells whether there was none.
func (r *run) watch(kept int64) bool {
	now := r.latest(kept)
	if r.resync != nil {
		r.caughtUp(now)
	}
	before := r.last
	r.last = now
	if before == nil {
		return true
	}
	for i := range now {
		silent := zeros(r.sound[i][kept-r.period():], r.c.opt.Format.SampleRate)
		r.zeros += silent
		if silent > 0 && r.again < mostAgain {
			r.again++
			r.clear()
			return false
		}
		if jumped(now[i], before[i], r.noise[i]) {
			r.jumps++
			if r.again++; r.again > mostAgain {
				return true
			}
			r.clear()
			r.resync = before
			return false
		}
	}
	return true
}

// caughtUp takes a jump out: by as many frames as bring the levels now into step with those before. Only whole frames can be lost, and
// the comb tells them but for its period, which matters to none of its tones.
func (r *run) caughtUp(now [][]complex128) {
	loud := 0
	for i := range now {
		if norm2(now[i]) > norm2(now[loud]) {
			loud = i
		}
	}
	best, lost := math.Inf(-1), int64(0)
	for d := range r.period() {
		var sum float64
		for k, v := range now[loud] {
			at := v * cmplx.Rect(1, -2*math.Pi*phaseOf(r.c.hz[k], d, r.c.opt.Format.SampleRate))
			sum += real(at * cmplx.Conj(r.resync[loud][k]))
		}
		if sum > best {
			best, lost = sum, d
		}
	}
	r.c.shift += lost
	for i := range now {
		for k := range now[i] {
			now[i][k] *= cmplx.Rect(1, -2*math.Pi*phaseOf(r.c.hz[k], lost, r.c.opt.Format.SampleRate))
		}
	}
	r.resync = nil
}

// skip notes a loss that was told. What is kept of the phase is worth nothing then.
func (r *run) skip(lost int64) {
	if r.phase == Done {
		return
	}
	r.lost += lost
	if r.began {
		r.clear()
	}
}

// progress returns how far the step has come.
func (r *run) progress() Progress {
	usual := []float64{0, quietTime + guardTime, quietTime + 2*guardTime + 0.2, quietTime + 2*guardTime + 0.2 + combTime}
	total := usual[3] + guardTime + singleTime
	p := Progress{Step: r.step, Phase: r.phase, Part: 1, Clipping: r.clipped, Level: audio.DBFS(math.Sqrt(2 * r.power))}
	if r.phase != Done {
		kept := float64(len(r.sound[0])) / float64(r.c.opt.Format.SampleRate)
		p.Part = math.Min(1, (usual[r.phase]+kept)/total)
		p.Waiting = r.c.from == 0
	}
	return p
}
