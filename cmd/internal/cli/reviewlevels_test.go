package cli

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"breakcue/detect"
)

// A recording that is refused because its states are equally loud still tells how far apart they are in the I/Q plane.
func TestRefusedRecordingsTellTheDistanceOfTheirStates(t *testing.T) {
	l := levelsOf(detect.Levels{}, detect.Findings{High: 0.25, Low: 0.25, Distance: 0.025}, detect.Series)
	require.NotNil(t, l.IQDistance)
	assert.InDelta(t, -20, *l.IQDistance, 1e-9) // rounding of floats; a tenth is -20 dB
	require.NotNil(t, l.Contrast)
	assert.InDelta(t, 0, *l.Contrast, 1e-9) // the same

	l = levelsOf(detect.Levels{}, detect.Findings{High: 0.25, Low: 0.1}, detect.Series)
	assert.Nil(t, l.IQDistance, "not measured")
}
