// Package audio holds what every sound in breakcue has in common: the Format of a stream, the Source contract that
// files, the sound card and the built-in bench fulfil, and the generator of the test tone.
//
// Words and units:
//
//   - A sample is one number of one channel, nominally -1..+1 (full scale).
//   - A frame is one sample of each channel at the same instant. Positions and lengths are counted in frames, int64.
//   - dBFS is referred to a full-scale sine: a sine of amplitude 1 is 0 dBFS.
//
// The package knows nothing of detection or of timing.
package audio
