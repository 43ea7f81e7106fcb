package bench

import (
	"fmt"
	"math/cmplx"
	"time"
)

// Second is a second set of points in the same channel, with a tone of its own. The fields up to Changes are those of Config; all others of
// Config are common to both sets.
type Second struct {
	Tone               float64 // [Hz]
	Level              float64 // [dBFS]
	Closed, Open, Leak complex128
	StartOpen          bool
	Changes            []Change
	// Coupling is what both sets share of a cable: the first set's tone and the second's are 1 + Coupling[0] and 1 + Coupling[1] times as
	// loud while the points of the other set are open. Magnitudes below 1; the zero value leaves it out.
	Coupling [2]complex128
}

// couple returns what a tone is multiplied by while the other set is at level: 1 at its closed level, 1 + coupling at its open one, and in
// proportion between, where an edge takes some frames.
func (v *voice) couple(level, coupling complex128) complex128 {
	if coupling == 0 || v.cfg.Open == v.cfg.Closed {
		return 1
	}
	return 1 + coupling*(level-v.cfg.Closed)/(v.cfg.Open-v.cfg.Closed)
}

// second returns the Config of the second set alone, without noise; c.Second must not be nil.
func (c Config) second() Config {
	s := c.Second
	c.Tone, c.Level, c.Closed, c.Open, c.Leak, c.StartOpen, c.Changes = s.Tone, s.Level, s.Closed, s.Open, s.Leak, s.StartOpen, s.Changes
	c.Second = nil
	return c
}

// validateSecond looks at the second set, if there is one.
func (c Config) validateSecond() error {
	if c.Second == nil {
		return nil
	}
	if err := c.second().Validate(); err != nil {
		return fmt.Errorf("%w (of the second set)", err)
	}
	for _, z := range c.Second.Coupling {
		if !(cmplx.Abs(z) < 1) { // NaN, too
			return fmt.Errorf("bench: coupling of the two sets, got %v, want magnitudes below 1", c.Second.Coupling)
		}
	}
	return nil
}

// SecondTruth returns what happened to the second set of points, as Truth does of the first; nothing where there is none.
func (b *Bench) SecondTruth(hold time.Duration) Truth {
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.second == nil {
		return Truth{}
	}
	return b.second.cfg.truth(hold)
}

// AddSecond adds changes of the second set of points, as Add does of the first. It fails where there is none.
func (b *Bench) AddSecond(changes ...Change) error {
	b.mu.Lock()
	defer b.mu.Unlock()
	if b.second == nil {
		return fmt.Errorf("bench: second set of points, got none, want one in the Config")
	}
	return b.second.add(b.frame, changes)
}
