// Package detect turns samples of a test tone that passes breaker points into openings and closings.
//
// It takes slices of interleaved samples, never a stream, and knows nothing of files, sound cards or engines.
//
// Symbols and units used throughout:
//
//	n       frame number, absolute, counted from the first frame of the stream, lost frames included
//	fs      sample rate [frames/s]
//	f       tone frequency [Hz], w = 2*pi*f/fs [rad/frame]
//	x[n]    sample of the channel in use, full scale = 1
//	a       complex level of a state [full scale]: the tone is Re(a*exp(j*w*n)), |a| its amplitude
//	aC, aO  levels with the points closed and open; D = |aC-aO| is their distance in the I/Q plane
//	sigma   standard deviation of the noise in one sample [full scale]
//
// Terms after IEEE Std 181-2011: state level, transition, reference level instant (the 50 % point unless said).
package detect
