package leads

import (
	"fmt"
	"math"
	"math/cmplx"

	"breakcue/audio"
)

const (
	snrGood   = 30.0 // [dB]
	snrLeast  = 15.0
	humFine   = -15.0 // [dB] over the tone
	humMuch   = 6.0
	toneLow   = 400.0  // [Hz]
	toneHigh  = 6000.0 // [Hz]
	turnLeast = 0.05   // of a turn by which lost blocks must turn the tone to be seen
)

// chooseTone chooses the tone at which closed and open lie farthest apart over the noise: not at an end of the band, and the usual one of the
// wiring where it hardly matters.
func (k *conclusion) chooseTone() {
	best := math.Inf(-1)
	for i, f := range k.hz {
		c, o := k.m[Closed].Tones[i], k.m[Open].Tones[i]
		d, larger := cmplx.Abs(c.Level.Value()-o.Level.Value()), math.Max(cmplx.Abs(c.Level.Value()), cmplx.Abs(o.Level.Value()))
		u := math.Hypot(c.U, o.U)
		if larger == 0 {
			continue
		}
		k.r.Choices = append(k.r.Choices, Choice{Hz: f, Distance: Quantity{Value: d / larger, U: u / larger}, Over: 20 * math.Log10(d/math.Max(u, 1e-9)),
			OffMains: math.Min(offMains(f, 50), offMains(f, 60))})
		score := k.score(i, d, u)
		if k.opt.Tone > 0 {
			score = -math.Abs(f - k.opt.Tone)
		}
		if score > best {
			best, k.tone = score, i
		}
	}
	if k.tone >= 0 {
		k.r.Tone = k.hz[k.tone]
	}
}

// score is the distance over the noise [dB], less what speaks against the tone.
func (k *conclusion) score(i int, d, u float64) float64 {
	f := k.hz[i]
	if f < toneLow || f > toneHigh || i < 2 || i >= len(k.hz)-2 {
		return -1000 + 20*math.Log10(math.Max(d, 1e-9)/math.Max(u, 1e-9))
	}
	lo, hi := 800.0, 1250.0
	if k.r.Wiring == Across {
		lo, hi = 2000, 5000
	}
	octaves := math.Max(0, math.Max(math.Log2(lo/f), math.Log2(f/hi)))
	score := 20*math.Log10(math.Max(d, 1e-9)/math.Max(u, 1e-9)) - 3*octaves - 0.5*math.Abs(math.Log2(f/math.Sqrt(lo*hi)))
	if LeastTurn(f/float64(k.opt.Format.SampleRate), k.opt.Format.SampleRate) < turnLeast {
		score -= 3
	}
	return score
}

// LeastTurn returns the least distance from whole turns, 0..0.5, by which the blocks that sound cards lose turn a tone of f cycles a frame at
// so many frames a second: powers of two of 64 frames, and hundredths of a second.
func LeastTurn(f float64, rate int) float64 {
	least := 0.5
	for _, block := range []int{64, 128, 256, 512, 1024, 2048, 4096, rate / 100, rate / 50} {
		turns := f * float64(block)
		least = math.Min(least, math.Abs(turns-math.Round(turns)))
	}
	return least
}

// louder says how far the output may be turned up: beyond, two diodes each way round cut the tone off (from memory).
const louder = "turn the output up (to 0.2 V rms at most, where the cable has diodes)"

// findLevels says how good the tone and the contrast are, and how loud the hum is.
func (k *conclusion) findLevels() {
	if !k.ordered {
		return
	}
	s, tone := k.loud, k.tone
	if tone < 0 {
		tone = nearestOf(k.hz, map[bool]float64{false: 1000, true: 3000}[k.r.Wiring == Across])
	}
	if k.parted {
		s = Closed
		if k.r.Wiring == Across {
			s = Open
		}
	}
	m := k.m[s]
	amplitude := cmplx.Abs(k.level(s, tone)) * audio.Amplitude(k.opt.Level)
	k.findHum(amplitude)
	noise := math.Max(m.Noise, 1e-7)
	snr := 20 * math.Log10(math.Max(amplitude, 1e-9)/math.Sqrt2/noise)
	text := fmt.Sprintf("SNR %.0f dB with the %s, at %.0f Hz", snr, stepWords(s), k.hz[tone])
	switch {
	case snr >= snrGood:
		k.say("snr", OK, text, "")
	case snr >= snrLeast:
		k.say("snr", Warn, text+": openings are placed less exactly than they could be", louder+", then the input, until just below clipping")
	default:
		k.say("snr", Stop, text+": too little to trust an opening", louder+", then the input; look for a bad plug and for what makes the noise")
	}
	if !k.parted {
		return
	}
	k.findDistance(noise)
}

func (k *conclusion) findHum(amplitude float64) {
	var h Hum
	where := Apart
	k.each(func(s Step, m *Measure) {
		points := s == Closed || s == Open
		if m.Hum.Level > h.Level && (points || !k.has(Closed, Open)) {
			h, where = m.Hum, s
		}
	})
	if h.Hz == 0 || amplitude == 0 {
		return
	}
	db := 20 * math.Log10(h.Level/amplitude)
	text := fmt.Sprintf("mains hum (%.1f Hz) with the %s, %.0f dB below the tone", h.Hz, stepWords(where), -db)
	if db > 0 {
		text = fmt.Sprintf("mains hum (%.1f Hz) with the %s, %.0f dB above the tone", h.Hz, stepWords(where), db)
	}
	switch {
	case db <= humFine:
		k.say("hum", OK, text+": fine", "")
	case db <= humMuch:
		k.say("hum", Note, text+": it is taken out", "keep the cable away from mains leads, and run a laptop on its battery")
	default:
		earth := "earth the engine to the computer's case only once"
		if k.r.Wiring == InLine {
			// The engine carries the tone there: joined to the case, it would lie past the load.
			earth = "see that neither a screen of the cable nor the computer's case touches the engine"
		}
		k.say("hum", Warn, text, "keep the cable away from mains leads and lamps, run a laptop on its battery, and "+earth)
	}
}
