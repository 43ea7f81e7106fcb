//go:build !soak

package cli

// moments is how many times each series kills the program, or fills its disk; make soak does it more often.
const moments = 6

// padMoments is how many times a guided session is.
const padMoments = 16
