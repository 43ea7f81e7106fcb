// Package leads checks the real cable before the work: with the clips apart, together, on a known resistor, on the points closed and
// on the points open. It says what is connected, what is wrong with the steps, the sound card or the points, which tone tells closed
// from open best, and keeps that as a Profile.
//
// It has no clock but the frames and plays nothing itself: Want says what is to be played, Process takes what comes back.
//
// Symbols, for each tone of frequency f:
//
//	X     what is played, a complex amplitude whose phase is that at frame 0 of the stream
//	Y     what comes back, on the same footing
//	z     Y/X, the level: all that lies between output and input, the delay of the sound card included
//	za,zt z with the clips apart and together
//	zr    z with a resistor R between the clips
//	B     the resistance of the cable as the clips see it [ohm]: R*(zr-za)/(zt-zr), or as the cable's values have it
//	Z     what lies between the clips [ohm]: B*(zt-z)/(z-za)
//
// Any linear cable is such a bilinear map of Z, in line or across, leak and all: three standards fix it (open, short and load).
package leads
