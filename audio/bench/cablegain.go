package bench

import "math"

// autoGain follows the power of the input and sets the gain that brings it to the target.
type autoGain struct {
	cfg          AutoGain
	power        float64 // as followed
	up, down     float64 // parts of a change that a frame takes
	most, target float64
}

func newAutoGain(cfg AutoGain, rate int) autoGain {
	a := autoGain{cfg: cfg, most: Amplitude(cfg.Most), target: cfg.Target}
	if cfg.Target > 0 {
		a.up = 1 - math.Exp(-1/(cfg.Attack*float64(rate)))
		a.down = 1 - math.Exp(-1/(cfg.Release*float64(rate)))
	}
	return a
}

// next returns the gain for the sample v: the target over the RMS as followed, at most Most.
func (a *autoGain) next(v float64) float64 {
	if a.target == 0 {
		return 1
	}
	part := a.down
	if v*v > a.power {
		part = a.up
	}
	a.power += part * (v*v - a.power)
	return math.Min(a.most, a.target/math.Sqrt(a.power+1e-20))
}

// suppressor fades what stays as it is.
type suppressor struct {
	cfg         Suppress
	rate        float64
	since       int64
	after, over float64 // [frames]
}

func newSuppressor(cfg Suppress, rate int) suppressor {
	return suppressor{cfg: cfg, rate: float64(rate), after: cfg.After * float64(rate), over: cfg.Over * float64(rate)}
}

// begin notes that something has changed.
func (s *suppressor) begin(frame int64) { s.since = frame }

// at returns the gain at a frame: 1 at first, then falling by so many dB, evenly in dB.
func (s *suppressor) at(frame int64) float64 {
	past := float64(frame-s.since) - s.after
	if s.cfg.By == 0 || past <= 0 {
		return 1
	}
	return Amplitude(-s.cfg.By * math.Min(1, past/s.over))
}
