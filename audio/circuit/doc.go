// Package circuit predicts, at one frequency, what the points do to the test tone.
//
// Symbols, with w = 2*pi*f the angular frequency [rad/s]:
//
//	Rs  source resistance [ohm]: the output, the resistor in the cable on its side, the leads that the input does not share
//	RL  load resistance [ohm]: the input, and any resistor across it
//	Zi  what the input takes [ohm]: RL, and before it the blocking capacitor if there is one
//	C   condenser across the points [F]
//	Rc  resistance of the closed contacts [ohm]
//	Rk  leak across the open contacts [ohm]
//	Zc  coil across the points [ohm]: R + (jwL in parallel with Re, or what plates make of it) + what its far end goes to
//	Zp  everything across the points [ohm]: the contacts, C and Zc in parallel; and in series with these the leads that tone and
//	    input share, in parallel with these the capacitance of the leads
//
// The level at the input, relative to the electromotive force of the source, is
//
//	in line (series):  RL / (Rs + Zp + Zi)
//	across (shunt):    RL/Zi * Zq / (Rs + Zq),  Zq = Zi in parallel with Zp
//
// Both are bilinear in Zp, so levels of three known impedances between the clips (apart, together, a resistor) turn any other level into
// an impedance (Fixture), and impedances at many tones tell what is connected (Identify).
//
// Two such levels, closed and open, are complex numbers: the condenser may leave the magnitude nearly as it was and
// still turn the phase, so how well they can be told apart is their distance in the I/Q plane.
//
// Everything is linear, lumped and steady: no saturation, no rectifying oxide film.
package circuit
