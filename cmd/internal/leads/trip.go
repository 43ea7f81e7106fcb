package leads

import (
	"math"
	"math/cmplx"
)

// trip is what is known of the way from output to input and back.
type trip struct {
	known  bool
	frames float64
}

const (
	tripSNR   = 10.0 // times its noise that the comb must be for the round trip to be read off it
	tripMatch = 0.75 // part of the comb that a delay must bring into step
)

// delay returns the delay [frames], 0 or more and below half of the comb's period, that brings the levels of the comb into step, and how much of them
// it does, 0..1. A condenser delays tones differently; the figure is then some frames off.
func (c *Check) delay(z []complex128) (frames, match float64) {
	rate := float64(c.opt.Format.SampleRate)
	var total float64
	for _, v := range z {
		total += cmplx.Abs(v)
	}
	at := func(d float64) float64 {
		var sum complex128
		for k, v := range z {
			sum += v * cmplx.Rect(1, 2*math.Pi*c.hz[k]*d/rate)
		}
		return cmplx.Abs(sum)
	}
	best := -1.0
	for d := 0.0; d < rate/grid/2; d += 0.5 {
		if s := at(d); s > best {
			best, frames = s, d
		}
	}
	for step := 0.25; step > 0.005; step /= 2 {
		for _, d := range []float64{frames - step, frames + step} {
			if s := at(d); s > best {
				best, frames = s, d
			}
		}
	}
	if total == 0 {
		return 0, 0
	}
	frames = math.Mod(frames+rate/grid/2, rate/grid/2)
	return frames, best / total
}

// onsetAt returns the frame at which the comb rises in the sound x from the frame first on, to some milliseconds; false where it does not, or
// has risen before. Windows of the comb's period, which hear no hum, hold half of its level when half of them is before its rise.
func (c *Check) onsetAt(x []float32, first int64) (int64, bool) {
	period := c.opt.Format.SampleRate / grid
	hop := max(1, period/8)
	at := func(i int) float64 { return math.Sqrt(norm2(c.block(x[i:i+period], first+int64(i)))) }
	if len(x) < 3*period {
		return 0, false
	}
	full := at(len(x) - period)
	for i := 0; i+period <= len(x); i += hop {
		if at(i) > full/2 {
			return first + int64(i+period/2), i > 0
		}
	}
	return 0, false
}
