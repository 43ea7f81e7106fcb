package leads

import "fmt"

// Phase is a part of a step.
type Phase uint8

// The phases.
const (
	Quiet    Phase = iota // nothing is played: noise and hum
	Settling              // many tones are played, and the level does not stand still yet
	Comb                  // many tones are measured
	Single                // one tone is measured, for some seconds
	Done                  // the step is over
)

// String returns "quiet", "settling", "comb", "single" or "done".
func (p Phase) String() string {
	names := [...]string{"quiet", "settling", "comb", "single", "done"}
	if int(p) >= len(names) {
		return fmt.Sprintf("phase %d", uint8(p))
	}
	return names[p]
}

// MarshalText implements encoding.TextMarshaler.
func (p Phase) MarshalText() ([]byte, error) { return []byte(p.String()), nil }
