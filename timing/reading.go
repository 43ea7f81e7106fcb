package timing

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// Reading is what was read on the dial at one opening, as distances from the dial's zero (see Zero) along the plunger.
type Reading struct {
	Text string // as typed
	// Pass is its number for people, from 1; 0 where its place among the others gives it.
	Pass int
	// None tells that nothing was read ("-"); the lengths are then 0.
	None bool
	// LastClosed and FirstOpen bracket the opening: the last reading with points closed and the first with points open. They
	// are the same when one reading was taken after stopping.
	LastClosed, FirstOpen Length
	// Bracket tells that two readings were typed, be they equal or not.
	Bracket bool
}

// NoReading is the text that stands for an opening without a reading.
const NoReading = "-"

const readingForms = "2.03/1.98 (last closed / first open), 1.98, 1,98, 0.078in, 1+98 (counter and pointer) or - (no reading)"

// Mid returns the middle of the bracket.
func (r Reading) Mid() Length { return (r.LastClosed + r.FirstOpen) / 2 }

// Width returns the width of the bracket, 0 for a single reading.
func (r Reading) Width() Length { return r.LastClosed - r.FirstOpen }

// name returns what the pass is called for people: its number, or at, and what was typed.
func (r Reading) name(at int) string {
	if r.Pass > 0 {
		at = r.Pass
	}
	return fmt.Sprintf("%d (%s)", at, strings.TrimSpace(r.Text))
}

// ParseReading reads a dial reading as people type it:
//
//	1.98  1,98  1.98mm  0.078in    a distance from zero; without a unit, in the dial's own
//	2.03/1.98                      last reading with points closed, first with points open; a unit on one is meant for both
//	1+98                           revolution counter and pointer [graduations] as they stand (see Face)
//	-                              no reading for this opening
//
// mark is the specified travel, used by a dial zeroed there; only such a dial can show a negative reading. It is an error
// when the dial cannot show the reading or the bracket is the wrong way round: in the running direction the piston comes
// up, so last closed is the larger one.
func ParseReading(text string, d Dial, mark Length) (Reading, error) {
	r := Reading{Text: text}
	s := strings.TrimSpace(text)
	if s == NoReading {
		r.None = true
		return r, nil
	}
	if s == "" {
		return r, fmt.Errorf("timing: reading, got nothing, want %s", readingForms)
	}
	closed, open, bracket := strings.Cut(s, "/")
	if !bracket {
		open = closed
	}
	if strings.Contains(open, "/") {
		return r, fmt.Errorf("timing: reading, got %q (more than two numbers), want %s", text, readingForms)
	}
	if strings.TrimSpace(closed) == "" || strings.TrimSpace(open) == "" {
		return r, fmt.Errorf("timing: bracket, got %q (one side is empty), want both, as 2.03/1.98, or one number alone", text)
	}
	values, err := d.values(closed, open)
	if err != nil {
		return r, err
	}
	for _, v := range values {
		if _, err := d.Movement(v, mark); err != nil {
			if strings.Contains(s[1:], "+") {
				return r, fmt.Errorf("%w; %q is counter and pointer of a dial whose figures rise as the plunger goes %s, with the counter at %d where it reads zero",
					err, s, d.Counting, d.CounterAtZero)
			}
			return r, err
		}
	}
	if values[0] < values[1] {
		size := "so larger, than"
		if d.Counting == CountsIn && strings.Contains(s[1:], "+") {
			size = "so with smaller figures on this dial, than" // they rise as the piston comes up
		}
		return r, fmt.Errorf("timing: bracket, got %q (the wrong way round), want the last reading with points closed first: it is farther from top dead centre, %s the first with points open", text, size)
	}
	r.LastClosed, r.FirstOpen, r.Bracket = values[0], values[1], bracket
	return r, nil
}

// values reads the two halves of a reading, which share a unit when only one of them has it.
func (d Dial) values(texts ...string) ([]Length, error) {
	unit := NoUnit
	var out []Length
	var bare []int
	for i, text := range texts {
		if counter, pointer, ok := cutCounter(text); ok {
			l, err := d.counted(text, counter, pointer)
			if err != nil {
				return nil, err
			}
			out = append(out, l)
			continue
		}
		q, err := ParseQuantity(text)
		if err != nil {
			// What is wrong with the number stays; what is allowed is told of readings: degrees, say, are not.
			wrong := strings.TrimSuffix(strings.TrimPrefix(err.Error(), "timing: number, "), ", want "+allowed)
			return nil, fmt.Errorf("timing: reading, %s, want %s", wrong, readingForms)
		}
		if q.Unit == Degree {
			return nil, fmt.Errorf("timing: reading, got %q, want a length: a dial shows no degrees", strings.TrimSpace(text))
		}
		if q.Unit == NoUnit {
			bare = append(bare, i)
			out = append(out, Length(q.Value))
			continue
		}
		if unit != NoUnit && q.Unit != unit {
			return nil, fmt.Errorf("timing: bracket, got %s and %s, want one unit for both", unit, q.Unit)
		}
		unit = q.Unit
		out = append(out, Length(q.Value)*unit.Length())
	}
	if unit == NoUnit {
		unit = d.Unit
	}
	for _, i := range bare {
		out[i] *= unit.Length()
	}
	return out, nil
}

// cutCounter splits "1+98" into counter and pointer. A leading plus is a sign, not a counter.
func cutCounter(text string) (counter, pointer string, ok bool) {
	counter, pointer, ok = strings.Cut(text, "+")
	counter, pointer = strings.TrimSpace(counter), strings.TrimSpace(pointer)
	return counter, pointer, ok && counter != ""
}

// counted turns counter and pointer, as they stand on the dial, into the distance from zero.
func (d Dial) counted(text, counter, pointer string) (Length, error) {
	graduations := math.Round(float64(d.PerRevolution / d.Graduation))
	refuse := func() (Length, error) {
		return 0, fmt.Errorf("timing: counter and pointer, got %q, want whole revolutions, +, and 0 up to (not including) %g graduations, as 1+98",
			strings.TrimSpace(text), graduations)
	}
	turns, err := strconv.ParseInt(strings.Replace(counter, "−", "-", 1), 10, 16)
	if err != nil {
		return refuse()
	}
	q, err := ParseQuantity(pointer)
	if err != nil || q.Unit != NoUnit || strings.ContainsAny(pointer, "+-−") || q.Value >= graduations {
		return refuse()
	}
	out := Length(float64(turns)-float64(d.CounterAtZero))*d.PerRevolution + Length(q.Value)*d.Graduation
	if d.Counting == CountsIn {
		out = -out
	}
	return out, nil
}
