package pump

import (
	"math"
	"math/cmplx"

	"breakcue/audio"
)

// lockin gives the level of a tone in one channel, over so many frames at a time, in the phase of a tone that began with the first frame.
type lockin struct {
	channels, channel int
	length            int // frames of a level
	turn, at, sum     complex128
	n                 int
}

func newLockin(f audio.Format, hz float64, channel, length int) lockin {
	return lockin{channels: f.Channels, channel: channel, length: length, turn: cmplx.Rect(1, -2*math.Pi*hz/float64(f.SampleRate)), at: 1}
}

// add calls level with each level that the block completes.
func (l *lockin) add(block []float32, level func(complex128)) {
	for i := l.channel; i < len(block); i += l.channels {
		l.sum += complex(float64(block[i]), 0) * l.at
		l.at *= l.turn
		if l.n++; l.n < l.length {
			continue
		}
		level(l.sum * complex(2/float64(l.n), 0))
		l.sum, l.n = 0, 0
		l.at /= complex(cmplx.Abs(l.at), 0) // rounding adds up over minutes
	}
}

// reset begins anew.
func (l *lockin) reset() { l.at, l.sum, l.n = 1, 0, 0 }
