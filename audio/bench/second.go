package bench

import (
	"fmt"
	"time"
)

// Second is a second set of points in the same channel, with a tone of its own. The fields are those of Config; all others are common to
// both sets.
type Second struct {
	Tone               float64 // [Hz]
	Level              float64 // [dBFS]
	Closed, Open, Leak complex128
	StartOpen          bool
	Changes            []Change
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
