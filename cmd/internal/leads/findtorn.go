package leads

import (
	"math"
	"math/cmplx"
	"slices"
)

const (
	tornPart  = 0.05 // of the distance of clips apart and together by which levels must lie where none can
	tornLess  = 0.3  // of that which is left once the step is moved to where its phases belong
	tornSteps = 0.5  // [frames] of the search
)

// findTorn tells whether the phases of the steps belong together. Whatever lies between the clips takes power and gives none, so that B/(Z+B),
// which is 0 with the clips apart and 1 with them together, lies in the circle about 1/2 with the radius 1/2: a resonance goes round in it. Sound
// that was lost between two steps turns each tone by another angle, and takes many out; a time that brings them all back is how much was lost.
// Which of apart and together is which does not matter, nor the wiring.
func (k *conclusion) findTorn() {
	if !k.has(Apart, Together) || k.unsure != "" {
		return
	}
	if d := k.distance(Apart, Together); d.Value < certain*d.U || d.Value < alikePart*math.Max(k.size(Apart).Value, k.size(Together).Value) {
		return
	}
	// A jump was taken out but for whole periods, which a tone that does not come round in one knows.
	jumps := slices.ContainsFunc(k.r.Measures, func(m Measure) bool { return m.Jumps > 0 })
	if jumps && slices.ContainsFunc(k.hz, func(f float64) bool { return !onGrid(f) }) {
		k.sayTorn()
		return
	}
	for _, s := range []Step{Known, Closed, Open} {
		if !k.has(s) {
			continue
		}
		out, u := k.outside(s, 0)
		if out < tornPart || out < certain*u {
			continue
		}
		least := out
		for d := tornSteps; d < float64(k.opt.Format.SampleRate)/grid; d += tornSteps {
			off, _ := k.outside(s, d)
			least = math.Min(least, off)
		}
		if least > math.Max(tornLess*out, 2*u) {
			continue
		}
		k.sayTorn()
		return
	}
}

// sayTorn says that phases do not belong together.
func (k *conclusion) sayTorn() {
	k.torn, k.void = true, true
	k.doubt("sound was lost between the steps")
	k.say("lost_between", Stop, "sound was lost between the steps without a word of the sound card: their phases do not belong together",
		"make all steps again, one soon after the other")
}

// outside returns how far the levels of a step, were they so many frames later, lie outside the circle of what can be, as the root of the mean
// square over the tones in parts of the distance of clips apart and together; u is what noise makes of it at most.
func (k *conclusion) outside(s Step, frames float64) (out, u float64) {
	var sum, weight, noise float64
	for i, f := range k.hz {
		za, zt := k.level(Apart, i), k.level(Together, i)
		z := k.level(s, i) * cmplx.Rect(1, 2*math.Pi*math.Mod(f*frames/float64(k.opt.Format.SampleRate), 1))
		span := cmplx.Abs(zt - za)
		off := math.Max(0, cmplx.Abs(z-(za+zt)/2)-span/2)
		sum, weight = sum+off*off, weight+span*span
		for _, of := range []Step{Apart, Together, s} {
			noise += 2 * k.m[of].Tones[i].U * k.m[of].Tones[i].U
		}
	}
	return math.Sqrt(sum / weight), math.Sqrt(noise / weight)
}
