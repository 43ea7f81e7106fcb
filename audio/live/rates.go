//go:build cgo && !nolive

package live

import (
	"errors"
	"slices"
	"time"

	"github.com/gordonklaus/portaudio"
)

// usualRates are the rates that every device is asked for. [frames/s]
var usualRates = []int{44100, 48000, 88200, 96000, 192000}

// ratesTime is how long all devices together are asked for their rates: through a sound server each question takes some
// milliseconds, and a long list of devices should not keep anybody waiting.
const ratesTime = 2 * time.Second

// rates asks for which of the usual rates and own a stream with these parameters could be had, see Device.Rates. It opens
// no stream: nothing is heard. After the deadline it asks no further.
func rates(p portaudio.StreamParameters, deadline time.Time, own int) []int {
	ask := append([]int{own}, usualRates...)
	slices.Sort(ask)
	list := []int{}
	for _, rate := range slices.Compact(ask) {
		if time.Now().After(deadline) {
			return nil
		}
		p.SampleRate = float64(rate)
		switch err := portaudio.IsFormatSupported(p, func(in, out []float32) {}); {
		case err == nil:
			list = append(list, rate)
		case !errors.Is(err, portaudio.InvalidSampleRate):
			return nil
		}
	}
	return list
}
