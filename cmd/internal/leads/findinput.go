package leads

import (
	"fmt"
	"math"
	"strings"
)

const (
	gainSure   = 0.4 // [dB] by which a gain must move to be said to
	gainSteady = 0.2 // [dB] below which it is said to be steady
	fadeLate   = 0.6 // [s] after which the half of a fall is no gain control that reacts to a rise
	offsetMost = 0.02
)

// findInput says what the sound card does to the sound.
func (k *conclusion) findInput() {
	k.findClipping()
	k.findGain()
	k.findLosses()
	var offset float64
	unsteady := ""
	k.each(func(s Step, m *Measure) {
		if math.Abs(m.Offset) > math.Abs(offset) {
			offset = m.Offset
		}
		if !m.Steady && unsteady == "" {
			unsteady = stepWords(s)
		}
	})
	if math.Abs(offset) > offsetMost {
		k.say("offset", Note, fmt.Sprintf("the input has an offset of %s %% of full scale", figure(100*offset)),
			"nothing; where it comes from the bias of a microphone jack, a capacitor in the lead to the input keeps it out of the points")
	}
	if unsteady != "" {
		k.say("not_steady", Warn, fmt.Sprintf("the level did not stand still within %g s with the %s", stillTime, unsteady),
			"hold the clips still, look for a loose clip or plug, and make that step again")
	}
	if k.trip > 0 {
		rate := float64(k.opt.Format.SampleRate)
		k.say("round_trip", OK, fmt.Sprintf("sound takes %.1f ms (%.0f frames) from the output to the input", 1000*k.trip/rate, k.trip), "")
	}
}

func (k *conclusion) findClipping() {
	var share, over float64
	where := Apart
	k.each(func(s Step, m *Measure) {
		if m.Clipped > 0 && m.Over >= over {
			share, over, where = m.Clipped, m.Over, s
		}
	})
	if over == 0 {
		return
	}
	k.void = true
	k.doubt("the input clips")
	k.say("clipping", Stop, fmt.Sprintf("the input clips: %s %% of the samples are cut off with the %s", figure(100*share), stepWords(where)),
		fmt.Sprintf("turn the input down by about %.0f dB, or the output, and make the steps again", math.Max(1, over)))
}

// findGain tells a gain that moves by itself, and noise suppression, from a steady gain.
func (k *conclusion) findGain() {
	var fade, shift Quantity
	var after float64
	known, clipped := false, false
	k.each(func(s Step, m *Measure) {
		clipped = clipped || m.Clipped > 0
		if !m.Gain.Known {
			return
		}
		known = true
		if surely(m.Gain.Fade) > surely(fade) {
			fade, after = m.Gain.Fade, m.Gain.After
		}
		if surely(m.Gain.Shift) > surely(shift) {
			shift = m.Gain.Shift
		}
	})
	sure := func(q Quantity) bool { return surely(q) > gainSure }
	switch {
	case clipped: // a clipped level says nothing of the gain
	case !known:
		k.say("gain_unknown", Note, "cannot tell whether the input keeps its gain: nothing came back that is loud enough", "")
	case sure(fade) && fade.Value < 0 && after > fadeLate:
		k.doubt("the tone fades by itself")
		k.say("suppression", Stop, fmt.Sprintf("the tone fades by %s dB though nothing changed, %.1f s after it began: noise suppression takes it for noise",
			figure(-fade.Value), after), "switch noise suppression and speech enhancement off for this input: "+k.where())
	case sure(fade) || sure(shift):
		k.doubt("the input changes its own gain")
		by := math.Max(math.Abs(fade.Value), math.Abs(shift.Value))
		k.say("gain_moves", Stop, fmt.Sprintf("the input changes its own gain, by %s dB while nothing changed but what is played", figure(by)),
			"switch automatic gain control off for this input: "+k.where())
	case math.Abs(fade.Value)+2*fade.U < gainSteady && math.Abs(shift.Value)+2*shift.U < gainSteady:
		k.say("gain_steady", OK, fmt.Sprintf("the input keeps its gain to %s dB", figure(math.Max(0.01, math.Max(math.Abs(fade.Value)+2*fade.U,
			math.Abs(shift.Value)+2*shift.U)))), "")
	}
}

// surely is what a quantity is off 0 at least: there are ten to choose from in a check, so chance is kept four uncertainties away.
func surely(q Quantity) float64 { return math.Abs(q.Value) - 4*q.U }

// where says where such things are switched off, on the computer's system where that is known.
func (k *conclusion) where() string {
	switch k.opt.System {
	case "linux":
		return "in the mixer of the sound card, and in the sound server's settings of the input"
	case "windows":
		return "in the sound settings, at the properties of the input (enhancements, exclusive use)"
	case "darwin":
		return "in the sound settings, and at the microphone mode of the menu bar"
	}
	return "in the sound settings of the computer, at the input, and in the mixer of the sound card"
}

func (k *conclusion) findLosses() {
	var zeros, lost int64
	jumps := 0
	k.each(func(_ Step, m *Measure) {
		zeros, lost, jumps = zeros+m.Zeros, lost+m.Lost, jumps+m.Jumps
	})
	if zeros == 0 && lost == 0 && jumps == 0 {
		return
	}
	var parts []string
	for _, p := range []struct {
		n    int64
		what string
	}{{lost, "frame%s told by the sound card"}, {int64(jumps), "jump%s of the phase"}, {zeros, "sample%s of silence within the tone"}} {
		if p.n > 0 {
			parts = append(parts, fmt.Sprintf("%d "+p.what, p.n, map[bool]string{false: "s"}[p.n == 1]))
		}
	}
	k.say("dropouts", Warn, "sound was lost: "+strings.Join(parts, ", "), "close what else uses the machine or the sound card, and choose a larger buffer")
}

// stepWords says what the clips are on.
func stepWords(s Step) string {
	return [Steps]string{"clips apart", "clips together", "clips on the resistor", "points closed", "points open"}[s]
}
