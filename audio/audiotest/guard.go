package audiotest

import (
	"errors"
	"fmt"
	"math"

	"breakcue/audio"
)

// guarded is a destination whose untouched samples can be told: they hold a NaN that no source makes.
type guarded struct {
	samples []float32 // what Read is given; its capacity goes on past its length
	all     []float32
}

const (
	guardBits = 0x7fc5a5a5 // a quiet NaN with a payload
	guardLen  = 16         // samples past the end of dst
)

func newGuarded(n int) guarded {
	all := make([]float32, n+guardLen)
	for i := range all {
		all[i] = math.Float32frombits(guardBits)
	}
	return guarded{samples: all[:n], all: all}
}

// checkReturn holds one return of Read against the list in the documentation of audio.Source.
func (g guarded) checkReturn(n, channels int, err error) error {
	if n < 0 || n > len(g.samples)/channels {
		return fmt.Errorf("read returned %d frames, want 0..%d", n, len(g.samples)/channels)
	}
	if n > 0 && err != nil {
		return fmt.Errorf("read returned %d frames together with the error %w", n, err)
	}
	if n == 0 && err == nil {
		return errors.New("read returned neither frames nor an error")
	}
	for i, v := range g.all {
		touched := math.Float32bits(v) != guardBits
		if i >= n*channels && touched {
			return fmt.Errorf("read returned %d samples but touched sample %d of dst", n*channels, i)
		}
		if i < n*channels && !touched {
			return fmt.Errorf("read returned %d samples but did not write sample %d of dst", n*channels, i)
		}
	}
	var gap *audio.GapError
	if errors.As(err, &gap) && gap == nil {
		return errors.New("read returned a nil *audio.GapError")
	}
	return nil
}
