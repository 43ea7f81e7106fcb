// Package bench is the built-in test bench: a sound that is made as if a tone went through contacts and came back.
//
// A Config says how the tone, the cable, the contacts and the shop behave; New makes an audio.Source of it; Truth tells,
// beside the sound, when the contacts really opened and closed. The sound depends on the Config alone: the same seed
// gives the same samples, however they are read, and memory does not grow with the length. A Bench may also be given changes
// while it plays, and then sounds as if all of them had stood in the Config.
//
// The sample of the tone's channel in frame n is the real part of
//
//	A * (level(n) + leak) * exp(j*2*pi*tone*n/rate)
//
// plus hum, ticks and noise, then clipped to -1..1 as a converter does. A is the amplitude of the tone; level is Closed
// or Open, with either a gated edge (the first frame at or after the instant has the new level) or a band-limited one,
// as an anti-alias filter makes it. The other channels have the same hum and ticks and noise of their own.
package bench
