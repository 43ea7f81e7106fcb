package pump

import (
	"fmt"
	"math"

	"breakcue/detect"
)

const (
	loudSample = 0.25  // [full scale] from which on a sample counts as loud
	clipLevel  = 0.5   // [full scale] below which samples are too coarse to tell clipping from a rounded crest
	clipRun    = 3     // samples in a row at the extreme that are a flat top: a tone below a sixth of the rate has them only when cut
	clipShare  = 0.15  // of the loud samples: 0.25 dB of overdrive [calculated]; an 8-bit tone that just fits has up to 0.12
	clipEnough = 0.001 // of all samples: fewer are a knock on the table
)

// extremes watches the largest samples of one channel, to tell clipping and samples over full scale, and those that are no numbers.
type extremes struct {
	all, loud, over, notFinite int64
	side                       [2]crest // of positive and of negative samples
}

// crest is the extreme on one side, how many samples make flat tops there, and how many were there in a row just now.
type crest struct {
	top  float64
	flat int64
	run  int64
}

// glance is how many samples are looked at together, to tell whether one of them reaches an extreme.
const glance = 64

// take adds the samples of channel c, from 0, of a block of frames.
func (e *extremes) take(block []float32, channels, c int) {
	const size = glance
	for size*channels <= len(block) {
		if loud, below := e.below(block[:size*channels], channels, c); below {
			e.all += size
			e.loud += loud
			e.side[0].run, e.side[1].run = 0, 0
		} else {
			e.addAll(block[:size*channels], channels, c)
		}
		block = block[size*channels:]
	}
	e.addAll(block, channels, c)
}

// below tells whether all samples of glance frames lie below what has to be looked at closely, the extremes up to now and full scale, and
// how many of them are loud. It works on the bits of the samples: without their sign they are ordered as the magnitudes are, NaN and infinity lie above.
func (e *extremes) below(block []float32, channels, c int) (loud int64, below bool) {
	const sign = 1 << 31
	loudBits := math.Float32bits(loudSample)
	near := max(loudBits, math.Float32bits(float32(min(e.side[0].top, e.side[1].top, 1))))
	quiet, all := uint32(0), uint32(sign) // the top bit of a difference of two magnitudes tells which is larger
	if channels == 1 {
		for _, x := range (*[glance]float32)(block) { // no index to check: most recordings are of this kind
			m := math.Float32bits(x) &^ sign
			all &= m - near
			quiet += (m - loudBits) >> 31
		}
	} else {
		for ; c < len(block); c += channels {
			m := math.Float32bits(block[c]) &^ sign
			all &= m - near
			quiet += (m - loudBits) >> 31
		}
	}
	return glance - int64(quiet), all != 0
}

func (e *extremes) addAll(block []float32, channels, c int) {
	for ; c < len(block); c += channels {
		e.add(float64(block[c]))
	}
}

func (e *extremes) add(x float64) {
	e.all++
	up, down := &e.side[0], &e.side[1]
	if x < 0 {
		up, down, x = down, up, -x
	}
	if !(x <= detect.MaxSample) {
		e.notFinite++
	}
	down.run = 0
	if !(x >= loudSample && x <= math.MaxFloat32) { // not finite either
		up.run = 0
		return
	}
	e.loud++
	if x > 1 {
		e.over++
	}
	switch {
	case x > up.top:
		*up = crest{top: x, run: 1}
	case x < up.top:
		up.run = 0
	default:
		if up.run++; up.run == clipRun {
			up.flat += clipRun
		} else if up.run > clipRun {
			up.flat++
		}
	}
}

// caveats says what the samples give cause to.
func (e *extremes) caveats() []Caveat {
	var out []Caveat
	top, flat := 0.0, 0.0
	for _, s := range e.side {
		top = max(top, s.top)
		if s.top >= clipLevel {
			flat += float64(s.flat)
		}
	}
	if e.over > 0 {
		out = append(out, Caveat{"over_full_scale", fmt.Sprintf("%s over full scale, the largest by %.0f dB: no sound card gives that; record again, or scale the file down",
			Count(int(e.over), "sample lies", "samples lie"), 20*math.Log10(top))})
	}
	if flat > clipShare*float64(e.loud) && flat > clipEnough*float64(e.all) {
		out = append(out, Caveat{"clipped", fmt.Sprintf("the sound is clipped: %.0f %% of the loud samples are cut off at the same level; turn the input or the tone down",
			100*flat/float64(e.loud))})
	}
	return out
}

// Count says how many: "1 opening", "3 openings".
func Count(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}
