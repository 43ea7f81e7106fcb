package timing

import (
	"fmt"
	"math"
	"strconv"
)

// Face is what stands on a dial: its revolution counter and its pointer.
type Face struct {
	// Counter is the number of revolutions counted. Below 0 the dial has been turned back by more than it had counted: -2 is two
	// revolutions below the counter's 0, which a round counter with ten figures shows as 8.
	Counter int
	Pointer float64 // graduations past the pointer's 0, from 0 up to (not including) Turn, in whole tenths
	Turn    int     // graduations in one turn of the pointer
}

// Face returns what stands on the dial at a reading, to the nearest tenth of a graduation; 99.96 graduations carry over into
// the next turn. With figures that rise as the plunger goes in, backing off 1.98 mm from 5+00 puts the pointer on 02 and the
// counter on 3. The dial must be one that Validate takes and the reading one that Movement takes.
//
// It is the inverse of ParseReading: that one takes what String of a Face prints for this very reading.
func (d Dial) Face(reading Length) Face {
	turn := int(math.Round(float64(d.PerRevolution / d.Graduation)))
	tenths := int(math.Round(10 * float64(reading/d.Graduation)))
	if d.Counting == CountsIn {
		tenths = -tenths
	}
	revolutions := int(math.Floor(float64(tenths) / float64(10*turn)))
	return Face{
		Counter: d.CounterAtZero + revolutions,
		Pointer: float64(tenths-10*turn*revolutions) / 10,
		Turn:    turn,
	}
}

// String returns counter and pointer as ParseReading reads them: "3+02", "1+97.6", "-1+50".
func (f Face) String() string { return fmt.Sprintf("%d+%s", f.Counter, f.PointerText()) }

// PointerText returns the pointer as it is read off the face, with a tenth where it stands between two graduations: "02",
// "97.6".
func (f Face) PointerText() string {
	digits := len(strconv.Itoa(f.Turn - 1))
	if f.Pointer == math.Trunc(f.Pointer) {
		return fmt.Sprintf("%0*.0f", digits, f.Pointer)
	}
	return fmt.Sprintf("%0*.1f", digits+2, f.Pointer)
}
