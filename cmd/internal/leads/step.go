package leads

import "fmt"

// Step is what the clips of the cable are on while it is measured.
type Step uint8

// The steps, in the order in which they are best made. Known may be left out.
const (
	Apart    Step = iota // clips apart, touching nothing
	Together             // clips on each other
	Known                // clips on a resistor of known value
	Closed               // clips on the points, points closed
	Open                 // clips on the points, points open
)

// Steps is the number of steps.
const Steps = 5

// String returns "apart", "together", "resistor", "closed" or "open".
func (s Step) String() string {
	names := [Steps]string{"apart", "together", "resistor", "closed", "open"}
	if s >= Steps {
		return fmt.Sprintf("step %d", uint8(s))
	}
	return names[s]
}

// MarshalText implements encoding.TextMarshaler.
func (s Step) MarshalText() ([]byte, error) { return []byte(s.String()), nil }
