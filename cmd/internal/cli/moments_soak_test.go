//go:build soak

package cli

// moments is how many times each series kills the program, or fills its disk.
const moments = 500

// padMoments is how many times a guided session is.
const padMoments = 500
