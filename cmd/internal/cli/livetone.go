package cli

import (
	"breakcue/cmd/internal/leads"
	"breakcue/detect"
)

const (
	toneInLine = 1000 // [Hz], about: the condenser passes less of it than of a higher tone
	toneAcross = 3250 // [Hz], about: a source coil left on the points shorts a lower one
	toneReach  = 60   // [Hz] by which the tone may lie off these
	toneMains  = 8    // [Hz] that it keeps from the harmonics of the mains, 50 and 60 Hz
)

// liveTone chooses the test tone [Hz] for a wiring and a sample rate. It keeps clear of the harmonics of the mains, and is such that
// the blocks that sound cards lose, powers of two of 64 frames and hundredths of a second, turn its phase as far from whole turns as
// can be: so the loss shows in the tone that comes back.
func liveTone(w detect.Wiring, sampleRate int) float64 {
	about := toneInLine
	if w == detect.Shunt {
		about = toneAcross
	}
	return toneNear(about, sampleRate)
}

// toneNear does so for a frequency that is wanted about [Hz].
func toneNear(about, sampleRate int) float64 {
	for about+toneReach > int(detect.MaxTone(sampleRate)) {
		about /= 2
	}
	best, tone := -1.0, about
	for hz := about - toneReach; hz <= about+toneReach; hz++ {
		if offMains(hz, 50) < toneMains || offMains(hz, 60) < toneMains {
			continue
		}
		if turn := leads.LeastTurn(float64(hz)/float64(sampleRate), sampleRate); turn > best {
			best, tone = turn, hz
		}
	}
	return float64(tone)
}

// offMains returns how far a frequency is off the nearest harmonic of mains [Hz].
func offMains(hz, mains int) int {
	r := hz % mains
	return min(r, mains-r)
}

const (
	alertLowest  = 500  // [Hz]
	alertHighest = 2500 // [Hz]
	alertApart   = 200  // [Hz] from the test tone
)

// alertTone chooses the alert for a test tone of so many Hz: twice of it, or as many octaves off as it takes. Over whole periods of both
// the two are orthogonal, so that what leaks of the alert into the input cancels.
func alertTone(hz float64) float64 {
	f := 2 * hz
	for f < alertLowest {
		f *= 2
	}
	for f > alertHighest || f == hz {
		f /= 2
	}
	return f
}
