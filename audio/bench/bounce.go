package bench

import (
	"fmt"
	"math"
	"math/rand/v2"
)

// AddBounce returns the changes with bounce after each: one to five returns to the state left, of 20 to 500 us each,
// all within 2 ms of the change, and before the next. This is what the contacts of a running engine do. The same seed
// gives the same bounce; changes must be as Config wants them, and are not altered.
func AddBounce(changes []Change, seed uint64) []Change {
	const shortest, longest, window = 20e-6, 500e-6, 2e-3
	rng := rand.New(rand.NewPCG(seed, 4))
	var out []Change
	for i, ch := range changes {
		out = append(out, ch)
		end := ch.At + window
		if i+1 < len(changes) {
			end = math.Min(end, changes[i+1].At)
		}
		at := ch.At
		for range 1 + rng.IntN(5) {
			leave := at + shortest + rng.Float64()*(longest-shortest)
			back := leave + shortest + rng.Float64()*(longest-shortest)
			if back >= end {
				break
			}
			out = append(out, Change{leave, !ch.Closed}, Change{back, ch.Closed})
			at = back
		}
	}
	return out
}

// Chatter describes contacts that part slowly because the engine is turned by hand.
type Chatter struct {
	Speed  float64 // of the crank [degrees/s], 0.01..1000
	Lift   float64 // how far the cam opens the contacts [mm per degree of crank], 0.001..1; 0.01..0.05 as a rule
	Length float64 // mean time between two chances to make or break [s], 0.0001..1; 0.002 as a rule
}

// NoisyGap is the gap [mm] up to which slowly parting contacts still touch now and then.
const NoisyGap = 0.003

// Duration returns how long the contacts chatter [s]: NoisyGap/(Lift*Speed).
func (c Chatter) Duration() float64 { return NoisyGap / (c.Lift * c.Speed) }

// Validate returns an error that names the first field out of its range.
func (c Chatter) Validate() error {
	for _, f := range []struct {
		what        string
		got, lo, hi float64
	}{
		{"speed [degrees/s]", c.Speed, 0.01, 1000}, {"lift [mm/degree]", c.Lift, 0.001, 1}, {"length [s]", c.Length, 0.0001, 1},
	} {
		if !(f.got >= f.lo && f.got <= f.hi) {
			return fmt.Errorf("bench: chatter's %s, got %v, want %v..%v", f.what, f.got, f.lo, f.hi)
		}
	}
	return nil
}

// AddChatter returns the changes with each opening stretched over Chatter.Duration: at random instants the contacts are
// found closed with a probability that falls from 1 at the instant of the opening to 0 at the end of the chatter. Chatter
// ends half-way to the next closing at the latest. The same seed gives the same chatter; changes must be as Config wants
// them, and are not altered. It fails where c.Validate does.
func AddChatter(changes []Change, c Chatter, seed uint64) ([]Change, error) {
	if err := c.Validate(); err != nil {
		return nil, err
	}
	rng := rand.New(rand.NewPCG(seed, 5))
	var out []Change
	for i, ch := range changes {
		if ch.Closed {
			out = append(out, ch)
			continue
		}
		end := ch.At + c.Duration()
		if i+1 < len(changes) {
			end = math.Min(end, (ch.At+changes[i+1].At)/2)
		}
		closed := true
		for at := ch.At + c.Length*rng.ExpFloat64(); at < end; at += c.Length * rng.ExpFloat64() {
			share := 1 - (at-ch.At)/c.Duration() // of the time that the contacts are closed
			if now := rng.Float64() < share; now != closed {
				closed = now
				out = append(out, Change{at, closed})
			}
		}
		if closed {
			out = append(out, Change{end, false})
		}
	}
	return out, nil
}
