package session

import (
	"errors"
	"fmt"
	"slices"

	"breakcue/timing/logbook"
)

// SetOf returns the set of points, from 1, that serves a cylinder; 0 where there is but one set, or no such cylinder.
func (s Sheets) SetOf(cylinder string) int {
	i := slices.Index(s.Engine.Cylinders, cylinder)
	if i < 0 || s.Engine.Breaker.Sets < 2 {
		return 0
	}
	return i%s.Engine.Breaker.Sets + 1
}

// BySet tells that the points of two sets are heard at once, and which one, from 1, serves a cylinder: of says so, 0 for none. From
// then on a reading belongs to an opening of the set that serves its cylinder; one whose set is not known (0) belongs to any.
func (r *Recorder) BySet(of func(cylinder string) int) { r.setOf = of }

// At tells where the next reading belongs: Next and Waiting go by it.
func (r *Recorder) At(place logbook.Place) { r.at = place }

// Hand tells in live sound which points are at hand from now on, by the place that is measured, and writes it: an approach of the
// other set that begins while they are awaits no reading. With one set of points it is At.
func (r *Recorder) Hand(place logbook.Place) error {
	r.At(place)
	if r.hand = r.set(); r.hand == 0 {
		return nil
	}
	return r.goTo(place)
}

// set is that of the place where the next reading belongs; 0: any.
func (r *Recorder) set() int {
	if r.setOf == nil {
		return 0
	}
	return r.setOf(r.at.Cylinder)
}

// of another tells that a set is not the one wanted; 0 is any.
func another(set, wanted int) bool { return set > 0 && wanted > 0 && set != wanted }

// awaits tells that an approach awaits a reading, and one at the place at hand.
func (r *Recorder) awaits(at int) bool {
	return !r.pairs[at].done && !another(r.heard.approaches[at].Set, r.set())
}

// Elsewhere returns how many approaches of the other set than that of the place at hand await a reading: see At.
func (r *Recorder) Elsewhere() (n int) {
	for at, p := range r.pairs {
		if !p.done && another(r.heard.approaches[at].Set, r.set()) {
			n++
		}
	}
	return n
}

// notServed says why a reading cannot be that of an opening: its cylinder is served by the other set of points. Empty: it is.
func (r *Recorder) notServed(at int, place logbook.Place) string {
	if r.setOf == nil {
		return ""
	}
	a := r.heard.approaches[at]
	return notServedBy(a, r.setOf(place.Cylinder), place.Cylinder)
}

func notServedBy(a Approach, set int, cylinder string) string {
	if !another(a.Set, set) {
		return ""
	}
	return fmt.Sprintf("opening %d is of set %d of the points, cylinder %s has set %d", a.ID, a.Set, cylinder, set)
}

// served refuses a new reading of an approach where its cylinder is served by the other set of points.
func (c *Corrector) served(approach int, cylinder string) error {
	if said := notServedBy(c.b.approaches[approach], c.b.sheets.SetOf(cylinder), cylinder); said != "" {
		return errors.New(said)
	}
	return nil
}

// otherSet says of openings of the points that were not measured what became of them.
func (p *printer) otherSet(edges []Edge) {
	if n := len(edges); n > 0 {
		p.sentence("", "%s of the other set of points while one was measured: kept in the journal, no pass.", count(n, "opening"))
	}
}
