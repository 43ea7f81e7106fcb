package detect

import "fmt"

// OffLevel is a level at which the cable is off, and what that means. Without one in the Profile, and in line, a level of nothing means
// CauseLeadOff where the level with the points open is known to stand clearly above nothing: a condenser goes on passing the tone, a
// lead in the air does not.
type OffLevel struct {
	Level complex128 // [full scale], in the phase reference of Profile.Closed and Open
	Cause Cause      // CauseLeadOff, CausePlugOut or CauseShorted
}

// maxOff is how many levels of a cable that is off may be named.
const maxOff = 8

func (o OffLevel) validate() error {
	switch {
	case !finite(o.Level):
		return bad("off level", o.Level, "a finite number")
	case !o.Cause.cableOff():
		return bad("cause of an off level", o.Cause, fmt.Sprintf("%s, %s or %s", CauseLeadOff, CausePlugOut, CauseShorted))
	}
	return nil
}

// cableOff tells that a cause is one of a cable that is off.
func (c Cause) cableOff() bool { return c == CauseLeadOff || c == CausePlugOut || c == CauseShorted }
