package detect

import (
	"math/cmplx"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestOffLevelsAreChecked(t *testing.T) {
	cfg := basicSynth().config()
	for name, off := range map[string][]OffLevel{
		"not finite":    {{Level: cmplx.Inf(), Cause: CauseLeadOff}},
		"another cause": {{Cause: CauseBounce}},
		"no cause":      {{}},
		"too many":      make([]OffLevel, maxOff+1),
	} {
		cfg.Profile.Off = off
		_, err := New(cfg)
		assert.ErrorContains(t, err, "off level", name)
	}
	cfg.Profile.Off = []OffLevel{{0, CauseLeadOff}, {0.1, CausePlugOut}, {1, CauseShorted}}
	_, err := New(cfg)
	require.NoError(t, err)
}
