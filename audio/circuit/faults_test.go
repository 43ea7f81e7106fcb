package circuit

import (
	"math/cmplx"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Computed by hand: 1 nF is 159.155 kohm at 1 kHz, 1/(2*pi*1e3*1e-9). In line it stands before 150 ohm in all, 50 of them the load;
// across it lies beside a load of 10 kohm that 100 ohm drive.
func TestFaults(t *testing.T) {
	line, err := Circuit{Source: 20, Series: 79, Lead: 1, Load: 50, LeadC: 1e-9, Condenser: 0.22 * uF, Contact: 1}.Faults(1000)
	require.NoError(t, err)
	assert.InDelta(t, 50/159155., cmplx.Abs(line.ClipOff), 1e-9)
	assert.InDelta(t, 89.946, cmplx.Phase(line.ClipOff)*180/3.14159265, 0.001, "90 degrees less 150/159155 rad")
	assert.InDelta(t, 1./3, real(line.Shorted), 1e-12)
	assert.Zero(t, line.ToneOff)
	assert.Zero(t, line.SenseOff)

	across, err := Circuit{Wiring: Shunt, Source: 99, Lead: 1, Load: 10e3, LeadC: 1e-9, Common: 0.5, Condenser: 0.22 * uF}.Faults(1000)
	require.NoError(t, err)
	assert.InDelta(t, 0.990099, cmplx.Abs(across.ClipOff), 1e-6)
	assert.InDelta(t, 0.5/100.5, real(across.Shorted), 1e-6, "what both share is still there")
	assert.Zero(t, across.ToneOff)
	assert.Zero(t, across.SenseOff)

	_, err = Circuit{}.Faults(1000)
	require.ErrorContains(t, err, "circuit: load resistance")
	_, err = Circuit{Load: 1}.Faults(0)
	require.ErrorContains(t, err, "circuit: frequency")
}
