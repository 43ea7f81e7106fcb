package handturn

import (
	"math"
	"sync"
)

const (
	phiEnd  = 8   // beyond it a normal variable is not found
	phiStep = 256 // places in a table for each 1
)

var phiTable = sync.OnceValue(func() *[2*phiEnd*phiStep + 2]float64 {
	var t [2*phiEnd*phiStep + 2]float64
	for i := range t {
		t[i] = math.Erfc(-(float64(i)/phiStep-phiEnd)/math.Sqrt2) / 2
	}
	return &t
})

// phi returns the standard normal distribution function at z, from a table: within 5e-7. The likelihoods need it too often for
// math.Erfc.
func phi(z float64) float64 { return lookUp(phiTable(), z) }

func lookUp(t *[2*phiEnd*phiStep + 2]float64, z float64) float64 {
	switch {
	case z <= -phiEnd:
		return 0
	case z >= phiEnd:
		return 1
	}
	x := (z + phiEnd) * phiStep
	i := int(x)
	return t[i] + (x-float64(i))*(t[i+1]-t[i])
}
