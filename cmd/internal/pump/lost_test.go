package pump

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"breakcue/detect"
)

// A stretch lasts from where the signal was lost to where it was found; what is told of it meanwhile is no other one.
func TestLostStretches(t *testing.T) {
	var l lostOf
	for _, e := range []detect.Event{
		{Kind: detect.KindFound, Frame: 10}, // of nothing
		{Kind: detect.KindLost, Cause: detect.CauseLeadOff, Frame: 100, Set: 2},
		{Kind: detect.KindLost, Cause: detect.CauseNoFit, Frame: 150, Set: 2},
		{Kind: detect.KindOpen, Frame: 160},
		{Kind: detect.KindFound, Frame: 200},
		{Kind: detect.KindLost, Cause: detect.CausePlugOut, Frame: 300},
	} {
		l.take(e)
	}
	assert.Equal(t, []Lost{{Set: 2, Cause: detect.CauseLeadOff, From: 100, To: 200}, {Cause: detect.CausePlugOut, From: 300}}, l.list)
}
