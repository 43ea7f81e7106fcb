package session

import "strings"

// The steps that something beyond their lists hangs on, by ID. A step for each cylinder and phase begins with one of the prefixes:
// "tdc/left/as_found".
const (
	CableStep    = "cable"        // from it on the cable is on the points
	SetStep      = "set"          // the plates are moved
	TogetherStep = "put_together" // the cable comes off, and all else is put back

	gapFoundStep = "gap_found"
	gapStep      = "gap"

	tdcPrefix     = "tdc/"
	clipPrefix    = "clip/"
	measurePrefix = "measure/"
)

// FindsTDC tells whether top dead centre is looked for in a step.
func (s Step) FindsTDC() bool { return strings.HasPrefix(s.ID, tdcPrefix) }
