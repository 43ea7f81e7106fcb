package leads

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"breakcue/audio/circuit"
)

// What the output's resistance is goes into every figure, and without a known resistor nobody has measured it: then the figures are
// ranges, and the truth lies within them. Told what the output has, they are as close as with the resistor.
func TestAnOutputOfUnknownResistance(t *testing.T) {
	for _, output := range []float64{1, 120, 580} {
		for _, wired := range []circuit.Circuit{
			{Source: output, Series: 100, Load: 47, Condenser: 0.22e-6, Contact: 3},
			{Wiring: circuit.Shunt, Source: output, Series: 100, Input: 10e3, Condenser: 0.22e-6, Contact: 3},
		} {
			cfg := usual()
			cfg.Circuit = wired
			for _, told := range []bool{false, true} {
				o := Options{Level: -12}
				if told {
					o.Cable, o.CableTolerance = &wired, 0.01
				}
				got := newRig(t, cfg, o).all(false)
				require.NotNil(t, got.Connected)
				c, r := got.Connected.Condenser, got.Connected.Contact
				require.NotNil(t, c)
				require.NotNil(t, r)
				if told {
					assert.InEpsilon(t, 0.22e-6, c.Value, 0.02, "%s, output %v", wired.Wiring, output) // the noise, twice
					assert.InEpsilon(t, 3, r.Value, 0.05, "%s, output %v", wired.Wiring, output)
					assert.Less(t, c.U, 0.02*c.Value)
					continue
				}
				// The farther end of an evenly filled range is 1.73 of what it counts as; a little for the noise.
				assert.InDelta(t, 0.22e-6, c.Value, 1.8*c.U, "%s, output %v", wired.Wiring, output)
				assert.InDelta(t, 3, r.Value, 1.8*r.U, "%s, output %v", wired.Wiring, output)
				assert.Greater(t, c.U, 0.15*c.Value, "what nobody measured is not told as if it were")
				var text string
				for _, f := range got.Findings {
					if f.Code == "condenser" {
						text = f.Text
					}
				}
				assert.Contains(t, text, "the output may have up to 600 Ω; a known resistor settles it")
			}
		}
	}
}
