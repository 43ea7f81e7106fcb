package pump

import (
	"fmt"
	"math"
)

const (
	loudSample = 0.25  // [full scale] from which on a sample counts as loud
	clipLevel  = 0.5   // [full scale] below which samples are too coarse to tell clipping from a rounded crest
	clipRun    = 3     // samples in a row at the extreme that are a flat top: a tone below a sixth of the rate has them only when cut
	clipShare  = 0.15  // of the loud samples: 0.25 dB of overdrive [calculated]; an 8-bit tone that just fits has up to 0.12
	clipEnough = 0.001 // of all samples: fewer are a knock on the table
)

// extremes watches the largest samples of one channel, to tell clipping and samples over full scale.
type extremes struct {
	all, loud, over int64
	side            [2]crest // of positive and of negative samples
}

// crest is the extreme on one side, how many samples make flat tops there, and how many were there in a row just now.
type crest struct {
	top  float64
	flat int64
	run  int64
}

func (e *extremes) add(x float64) {
	e.all++
	up, down := &e.side[0], &e.side[1]
	if x < 0 {
		up, down, x = down, up, -x
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
