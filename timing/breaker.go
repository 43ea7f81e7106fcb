package timing

import "fmt"

// Rotation is a sense of rotation seen from the breaker plate's side: what the mechanic looks at with the cover off.
type Rotation string

// The senses, as in the engine sheet. The empty Rotation means that none is known.
const (
	Clockwise     Rotation = "clockwise"
	Anticlockwise Rotation = "anticlockwise"
)

// Other returns the opposite sense.
func (r Rotation) Other() Rotation {
	if r == Clockwise {
		return Anticlockwise
	}
	return Clockwise
}

// Breaker is a contact breaker as far as the timing depends on it.
type Breaker struct {
	CamRatio float64  // turns of the cam for one of the crank: 1, or 0.5 on most four-strokes
	Cam      Rotation // how the cam turns when the engine runs, seen from the plate's side
	Gap      Length   // of the points at full lift, more than 0, up to 2 mm
	// PlateRadius is from the cam's centre to the plate's rim, up to 500 mm; 0 when it is not known.
	PlateRadius Length
	// Sets is the number of sets of points, 1 or more. The cylinders take the sets in turn, in their order: with as many sets as
	// cylinders each has its own, with one set a cam of several lobes opens it for all.
	Sets int
}

// Validate returns a *FieldError for the first field out of its range.
func (b Breaker) Validate() error {
	switch {
	case b.CamRatio != 1 && b.CamRatio != 0.5:
		return wrong("cam ratio", fmt.Sprint(b.CamRatio), "1 (cam at crank speed) or 0.5 (at half speed)")
	case b.Cam != Clockwise && b.Cam != Anticlockwise:
		return wrong("cam rotation", fmt.Sprintf("%q", b.Cam), "%q or %q", Clockwise, Anticlockwise)
	case !(b.Gap > 0 && b.Gap <= 2):
		return wrong("gap", mm(b.Gap), "more than 0, up to 2 mm")
	case !(b.PlateRadius >= 0 && b.PlateRadius <= 500):
		return wrong("plate radius", mm(b.PlateRadius), "0..500 mm")
	case b.Sets < 1:
		return wrong("sets", fmt.Sprint(b.Sets), "1 or more")
	}
	return nil
}
