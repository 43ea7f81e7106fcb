package circuit

import "math/cmplx"

// Faults are the levels at the input when the cable is at fault, relative to the source's electromotive force. In line a clip that is off
// is like open points, across like points open for ever; what tells them apart is the condenser or coil that is no longer heard.
type Faults struct {
	// ClipOff is the level with a clip off the points: there is nothing but the capacitance of the leads between the clips.
	ClipOff complex128
	// ToneOff is the level with the lead or the plug of the output off, SenseOff with that of the input: 0 in either wiring. What leaks
	// from output to input, and hum on an input left open, come on top.
	ToneOff, SenseOff complex128
	// Shorted is the level with the clips, or the leads at the clips, touching: 0 ohm between them.
	Shorted complex128
}

// Faults returns the levels at frequency f [Hz], more than 0, with the cable at fault. It fails where Validate does.
func (c Circuit) Faults(f float64) (Faults, error) {
	if err := c.check(f); err != nil {
		return Faults{}, err
	}
	return Faults{ClipOff: c.level(f, cmplx.Inf()), Shorted: c.level(f, 0)}, nil
}
