package timing

import "math"

// Accuracy holds what a good dial of a range may do wrong.
type Accuracy struct{ MaxError, Hysteresis, Repeatability Length }

// accuracies are the maximum permissible errors of JIS B 7503:2011 for dials of 0.01 mm graduation, read in a catalogue's
// table; each line holds up to its range. MaxError is that of the whole range; local are those within any tenth of a
// revolution, half a revolution and one revolution.
var accuracies = []struct {
	upTo Length
	Accuracy
	local [3]Length
}{
	{1, Accuracy{0.008, 0.003, 0.003}, [3]Length{0.005, 0.008, 0.008}},
	{3, Accuracy{0.010, 0.003, 0.003}, [3]Length{0.005, 0.008, 0.009}},
	{5, Accuracy{0.012, 0.003, 0.003}, [3]Length{0.005, 0.009, 0.010}},
	{10, Accuracy{0.015, 0.003, 0.003}, [3]Length{0.005, 0.009, 0.010}},
	{20, Accuracy{0.025, 0.005, 0.004}, [3]Length{0.008, 0.010, 0.015}},
}

// accuracyLine returns the index of the line of accuracies for a range, the last one beyond the table.
func accuracyLine(rng Length) (i int, known bool) {
	for i, line := range accuracies {
		if rng <= line.upTo {
			return i, true
		}
	}
	return len(accuracies) - 1, false
}

// DefaultAccuracy returns the limits of JIS B 7503:2011 for a dial of the given range. The table ends at 20 mm; known
// tells whether the range lies in it, otherwise its last line is returned.
func DefaultAccuracy(rng Length) (a Accuracy, known bool) {
	i, known := accuracyLine(rng)
	return accuracies[i].Accuracy, known
}

// ErrorWithin returns the limit of error, plus or minus, of the difference between two readings that lie span apart [mm of
// plunger movement]. The error of a dial changes little over a small movement: within a tenth of a revolution, half a
// revolution and one revolution the limits are those of Local, beyond it MaxError. Where Local does not say, they are
// those of JIS B 7503:2011 for the dial's range, in proportion to MaxError: a dial that is half as good as the standard
// asks is taken as half as good everywhere, an assumption. The sign of span does not matter; for 0 the limit is 0. The
// dial must be one that Validate takes.
func (d Dial) ErrorWithin(span Length) Length {
	span = Length(math.Abs(float64(span)))
	if span == 0 {
		return 0
	}
	// A reading is never typed to a billionth: 0.1 mm is a tenth of a revolution however it was reckoned.
	turns := float64(span/d.PerRevolution) - 1e-9
	for i, upTo := range [...]float64{0.1, 0.5, 1} {
		if turns <= upTo {
			return d.local(i)
		}
	}
	return d.MaxError
}

// local returns the i-th local limit of error.
func (d Dial) local(i int) Length {
	if d.Local[i] > 0 {
		return d.Local[i]
	}
	n, _ := accuracyLine(d.Range)
	line := accuracies[n]
	limit := d.MaxError * (line.local[i] / line.MaxError)
	// Between limits that are known it must not fall below the one before, nor rise above the next.
	for _, known := range d.Local[:i] {
		limit = max(limit, known)
	}
	for _, known := range d.Local[i+1:] {
		if known > 0 {
			limit = min(limit, known)
		}
	}
	return limit
}

// localNames are the fields of Local in words.
var localNames = [3]string{"max error tenth revolution", "max error half revolution", "max error revolution"}

// validateLocal checks that no local limit is above one for a longer movement.
func (d Dial) validateLocal() error {
	most := d.MaxError
	for i := len(d.Local) - 1; i >= 0; i-- {
		if !(d.Local[i] >= 0 && d.Local[i] <= most) {
			return wrong(localNames[i], mm(d.Local[i]), "0..%g mm, the limit for a longer movement", most)
		}
		if d.Local[i] > 0 {
			most = d.Local[i]
		}
	}
	return nil
}
