package session

import (
	"encoding/json"
	"strings"

	"breakcue/timing"
	"breakcue/timing/logbook"
)

// Spot is an opening, or the openings of one approach, where it stands in its take and in the work.
type Spot struct {
	Approach
	File  string         // of the take, as the journal names it; empty when it does not
	Place *logbook.Place // as the step tells in which it was heard, or its newest reading; nil when neither does
	Next  *float64       // when the next approach of the take begins [s]; nil for the last
	// Kept is its newest reading when that cannot be used as it was typed; empty otherwise. Unused is why the reading that it has is
	// not used, whatever was typed.
	Kept, Unused string
}

// Awaiting returns the approaches that await a reading, take after take in the order of their openings: those that no reading
// names, and those whose newest reading cannot be used as it was typed. "-" is no such reading.
func (c *Corrector) Awaiting() []Spot {
	var out []Spot
	for i := range c.b.approaches {
		if c.b.apart[i] {
			continue
		}
		if s := c.spot(i); !c.b.read[i] || s.Kept != "" {
			out = append(out, s)
		}
	}
	return out
}

// Spot returns where an opening stands; take may be 0 as in Opening. It is an error when there is no such opening.
func (c *Corrector) Spot(take int, id int64) (Spot, error) {
	_, at, err := c.opening(take, id)
	if err != nil {
		return Spot{}, err
	}
	return c.spot(at), nil
}

func (c *Corrector) spot(at int) Spot {
	s := Spot{Approach: c.b.approaches[at]}
	for _, e := range c.entries {
		if d, ok := e.Data.(logbook.Take); ok && d.Take == s.Take {
			s.File = d.File
		}
	}
	if next := at + 1; next < len(c.b.approaches) && c.b.approaches[next].Take == s.Take {
		s.Next = &c.b.approaches[next].TimeS
	}
	if place, ok := c.b.place[at]; ok {
		s.Place = &place
	}
	if p, place, ok := c.newest(at); ok {
		s.Place, s.Unused = &place, p.Unused
		if p.Unused != "" && p.Unused != noReading && unusableBecause(c.b.sheets.Setup, p.Reading) == p.Unused {
			s.Kept = p.Reading
		}
	}
	return s
}

// stands tells that a pass is the one that its opening has, be it that a later setting took its place.
func (p Pass) stands() bool { return p.Unused == "" || p.Unused == workedAfter }

// newest returns the pass of an approach that stands, or else the one that was written last.
func (c *Corrector) newest(approach int) (p Pass, place logbook.Place, ok bool) {
	for _, s := range c.b.series {
		for _, q := range s.passes {
			if q.Edge == nil || c.b.of[openingKey{q.Edge.Take, q.Edge.ID}] != approach {
				continue
			}
			if !ok || q.stands() || !p.stands() && q.Entry > p.Entry {
				p, place, ok = q, s.place, true
			}
		}
	}
	return p, place, ok
}

// Unusable says why a reading cannot be used, or nothing: NoReading for "-".
func (c *Corrector) Unusable(text string) string {
	return unusableBecause(c.b.sheets.Setup, strings.TrimSpace(text))
}

// Give returns the correction that gives an opening a reading whatever it has now, or none: "-". The one that it has gets another
// text or is thrown away; one that was taken out before stays out, and a new one is written. A correction without New and
// Changes says so already. take may be 0 as in Opening; at is needed where Spot knows no place, and may else be nil. It is an error when
// the reading cannot be used.
func (c *Corrector) Give(take int, id int64, at *logbook.Place, text string) (of Correction, err error) {
	text = strings.TrimSpace(text)
	take, approach, err := c.opening(take, id)
	if err != nil {
		return of, err
	}
	none := c.Unusable(text) == noReading
	p, place, has := c.newest(approach)
	if has {
		at = &place
	}
	switch {
	case has && p.stands():
		of.Seq = p.Entry
		if none {
			return of, c.Set(&of, "unusable", thrownByHand)
		}
		return of, c.Read(&of, text)
	case has && p.Unused == noReading && none:
		return of, nil
	case has && !none && p.Unused == c.Unusable(p.Reading):
		of.Seq = p.Entry
	default:
		if of, err = c.fresh(take, approach, at); err != nil || none {
			return of, err
		}
	}
	return of, c.Read(&of, text)
}

// Half returns the entry of a last reading with the points closed, "2.03/", that an opening is to have at a place.
func (c *Corrector) Half(of Spot, at logbook.Place, text string) logbook.Data {
	unusable := unusableBecause(c.b.sheets.Setup, strings.TrimSuffix(strings.TrimSpace(text), "/"))
	return halfEntry(Typed{Text: strings.TrimSpace(text), Place: at}, of.ID, unusable)
}

// Completed puts a first half before a reading, where it goes before it: not before a whole one or "-".
func Completed(half, text string) string {
	text = strings.TrimSpace(text)
	second := strings.TrimPrefix(text, "/") // the second half as some write it: "/1.98"
	if half == "" || text == timing.NoReading || strings.Contains(second, "/") {
		return text
	}
	return half + second
}

// completes tells that an amendment gave a reading the text that begins with a first half.
func completes(a logbook.Amend, half logbook.LastClosed) bool {
	var text string
	if a.Field != "text" || json.Unmarshal(a.To, &text) != nil {
		return false
	}
	first := half.Text
	if _, after, numbered := strings.Cut(first, string(numberSign)); numbered {
		first = after
	}
	return strings.HasPrefix(text, first)
}
