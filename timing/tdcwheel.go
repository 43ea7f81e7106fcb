package timing

import (
	"fmt"
	"math"
	"strings"
)

// Turning says how the crank was turned up to a reading.
type Turning uint8

// The ways of turning.
const (
	TurnedForwards  Turning = iota // in the running direction
	TurnedBackwards                // against it
	// TurnedRising: the piston came up to it, so forwards before top dead centre and backwards after it.
	TurnedRising
)

// turnings are the words for them, whole or the first letter alone.
var turnings = [...]string{"forwards", "backwards", "rising"}

// String returns "forwards", "backwards" or "rising".
func (t Turning) String() string { return turnings[min(int(t), len(turnings)-1)] }

// parseTurning reads a Turning.
func parseTurning(text string) (Turning, bool) {
	for i, word := range turnings {
		if s := strings.ToLower(text); s == word || s == word[:1] {
			return Turning(i), true
		}
	}
	return 0, false
}

// HeightPair is what a degree wheel reads at one height of the piston on both sides of top dead centre.
type HeightPair struct {
	Height        Length // dial movement from top dead centre, along the plunger [mm], more than 0
	Before, After Angle  // on the wheel, before top dead centre and after it [degrees]
	Turning       Turning
}

// TopPoint is what a degree wheel and a dial read together, on either side of top dead centre.
type TopPoint struct {
	Wheel   Angle  // [degrees]
	Dial    Length // from any zero, larger = piston lower [mm of plunger movement]
	Turning Turning
}

// maxTDCLines is the largest number of pairs or points taken.
const maxTDCLines = 1000

// ParseDistance reads one dial reading as typed, as ParseReading does, but wherever the dial's zero stands: while top dead
// centre is looked for it stands nowhere yet.
func (d Dial) ParseDistance(text string) (Length, error) {
	if strings.TrimSpace(text) == NoReading || strings.Contains(text, "/") {
		return 0, fmt.Errorf("timing: reading, got %q, want one number", strings.TrimSpace(text))
	}
	values, err := d.values(text)
	if err != nil {
		return 0, err
	}
	if !(math.Abs(float64(values[0])) <= float64(d.Range)) {
		return 0, wrong("reading", d.Format(values[0]), "-%s..%s (what the dial can show)", d.Format(d.Range), d.Format(d.Range))
	}
	return values[0], nil
}

// ParseDistances reads several, with spaces or semicolons between them: "0.00 -0.01 0.00". A unit stands without a space.
func (d Dial) ParseDistances(text string) ([]Length, error) {
	var out []Length
	for _, word := range strings.FieldsFunc(text, func(r rune) bool { return r == ';' || r == ' ' || r == '\t' || r == '\n' || r == '\r' }) {
		l, err := d.ParseDistance(word)
		if err != nil {
			return nil, err
		}
		if len(out) == maxTDCLines {
			return nil, wrong("readings", fmt.Sprintf("more than %d", maxTDCLines), "at most so many")
		}
		out = append(out, l)
	}
	return out, nil
}

const heightForms = `"2.00: 340.1 20.3" (height on the dial: wheel before, wheel after, then forwards, backwards or rising), with a semicolon before the next`

// ParseHeights reads pairs of equal heights: "2.00: 340.1 20.3; 5.00: 327.7 32.6 rising". Each is a dial reading, counted
// from top dead centre, a colon, the wheel before and after top dead centre, and how the crank was turned up to the readings:
// forwards, backwards or rising (or the first letter), forwards when left out. Semicolons or lines part the pairs.
func (d Dial) ParseHeights(text string) ([]HeightPair, error) {
	var out []HeightPair
	for _, item := range tdcLines(strings.ReplaceAll(text, ";", "\n")) {
		refuse := func(why string) ([]HeightPair, error) {
			return nil, fmt.Errorf("timing: equal heights, got %q (%s), want %s", item, why, heightForms)
		}
		height, angles, ok := strings.Cut(item, ":")
		if !ok {
			return refuse("no colon after the height")
		}
		words := strings.Fields(angles)
		if len(words) < 2 || len(words) > 3 {
			return refuse("not two wheel readings")
		}
		var p HeightPair
		var err error
		if p.Height, err = d.ParseDistance(height); err != nil {
			return nil, err
		}
		if p.Before, err = parseWheel(words[0]); err != nil {
			return nil, err
		}
		if p.After, err = parseWheel(words[1]); err != nil {
			return nil, err
		}
		if len(words) == 3 {
			if p.Turning, ok = parseTurning(words[2]); !ok {
				return refuse(fmt.Sprintf("%q is no way of turning", words[2]))
			}
		}
		if len(out) == maxTDCLines {
			return refuse(fmt.Sprintf("more than %d pairs", maxTDCLines))
		}
		out = append(out, p)
	}
	return out, nil
}

const pointForms = `"351.5 0.37" (wheel, dial, then forwards, backwards or rising), one point a line`

// ParsePoints reads points, one a line: wheel, dial, and how the crank was turned up to it, forwards when left out. Empty
// lines and what follows a # are passed over.
func (d Dial) ParsePoints(text string) ([]TopPoint, error) {
	var out []TopPoint
	for _, line := range tdcLines(text) {
		refuse := func(why string) ([]TopPoint, error) {
			return nil, fmt.Errorf("timing: point, got %q (%s), want %s", line, why, pointForms)
		}
		words := strings.Fields(line)
		if len(words) < 2 || len(words) > 3 {
			return refuse("not two readings")
		}
		var p TopPoint
		var err error
		if p.Wheel, err = parseWheel(words[0]); err != nil {
			return nil, err
		}
		if p.Dial, err = d.ParseDistance(words[1]); err != nil {
			return nil, err
		}
		if len(words) == 3 {
			var ok bool
			if p.Turning, ok = parseTurning(words[2]); !ok {
				return refuse(fmt.Sprintf("%q is no way of turning", words[2]))
			}
		}
		if len(out) == maxTDCLines {
			return refuse(fmt.Sprintf("more than %d points", maxTDCLines))
		}
		out = append(out, p)
	}
	return out, nil
}

// tdcLines returns the lines of text that say something, without comments and outer spaces.
func tdcLines(text string) []string {
	var out []string
	for line := range strings.Lines(text) {
		line, _, _ = strings.Cut(line, "#")
		if line = strings.TrimSpace(line); line != "" {
			out = append(out, line)
		}
	}
	return out
}

// parseWheel reads a degree wheel: degrees, with or without a sign for them.
func parseWheel(text string) (Angle, error) {
	q, err := ParseQuantity(text)
	if err != nil {
		return 0, err
	}
	a, err := q.Angle(Degree)
	if err != nil {
		return 0, err
	}
	if !(a >= -360 && a <= 360) {
		return 0, wrong("degree wheel", deg(a), "-360..360°")
	}
	return a, nil
}

// wheelStep guesses to which step a wheel was read, from the finest that the readings need: 1, 0.5, 0.25, 0.2, 0.1 or 0.05°.
func wheelStep(readings []Angle) Angle {
	for _, step := range []Angle{1, 0.5, 0.25, 0.2, 0.1} {
		fits := true
		for _, a := range readings {
			n := float64(a / step)
			fits = fits && math.Abs(n-math.Round(n)) < 1e-6
		}
		if fits {
			return step
		}
	}
	return 0.05
}

// turn brings an angle into 0..360.
func turn(a Angle) Angle {
	a = Angle(math.Mod(float64(a), 360))
	if a < 0 {
		a += 360
	}
	if a >= 360 { // a tiny negative angle, rounded
		a = 0
	}
	return a
}

// halfTurn brings an angle into -180..180.
func halfTurn(a Angle) Angle {
	a = turn(a)
	if a > 180 {
		a -= 360
	}
	return a
}
