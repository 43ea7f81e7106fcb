package cli

import (
	"math/rand/v2"
	"sync"

	"breakcue/audio/bench"
	"breakcue/cmd/internal/session"
	"breakcue/timing"
	"breakcue/timing/handturn"
	"breakcue/timing/logbook"
)

// benchHand is a hand that turns an invented engine, moves its plates and reads its dial, as it is told. It knows no clock but the
// frames of the sound that is made of what it does: see upTo. Told the same at the same frames, one seed does the same. Its methods
// may be called from any goroutine, and take effect with the frames that are made next.
type benchHand struct {
	mu      sync.Mutex
	sheets  session.Sheets
	rng     *rand.Rand
	turning *handturn.Turning
	turned  handturn.Stage                    // what the crank is turned for
	off     map[logbook.Place]timing.Angle    // how much before the mark the points open
	taken   map[logbook.Place][]handturn.Pass // whose reading was

	now    float64        // the sound is made up to here [s]
	closed [2]bool        // the points of each set, at now; where one is followed it is the first
	ahead  []handChange   // still to come
	others []bench.Change // of the second set, made and not yet asked for
	until  float64        // when what it does is over [s]
	then   func()         // what it does next; nil: it stands still

	at     logbook.Place // of the passes
	turns  bool          // it makes passes
	astray bool          // at the wrong turn
	pass   *handturn.Pass
	shift  float64 // from the time of the pass to that of the sound [s]
	next   bool    // the reading of the pass was taken
	dial   string  // what it showed at the pass before
}

// handChange is a change of a set of points, 0 or 1.
type handChange struct {
	bench.Change
	set int
}

// setAt returns the set of points, 0 or 1, that is measured at a place.
func (h *benchHand) setAt(place logbook.Place) int {
	if !h.sheets.AtOnce {
		return 0
	}
	return h.sheets.SetOf(place.Cylinder) - 1
}

// newBenchHand returns a hand that rests. It fails where the dial cannot follow the piston from before the opening on.
func newBenchHand(sheets session.Sheets, seed uint64) (h *benchHand, err error) {
	h = &benchHand{
		sheets: sheets, rng: rand.New(rand.NewPCG(seed, 21)), closed: [2]bool{true, true},
		off: map[logbook.Place]timing.Angle{}, taken: map[logbook.Place][]handturn.Pass{},
	}
	s := handturn.Scenario{
		Crank: sheets.Engine.Crank, Dial: sheets.Dial.Dial, Breaker: handturn.TypicalBreaker(sheets.Engine.Breaker.CamRatio),
		Hand: handturn.CarefulHand(), Seed: seed,
	}
	for i, name := range sheets.Engine.Cylinders {
		h.off[logbook.Place{Cylinder: name, Phase: logbook.AsFound}] = h.found(i)
		h.tighten(name)
	}
	for range 8 {
		s.Stages = nil
		for _, name := range sheets.Engine.Cylinders {
			for _, phase := range []logbook.Phase{logbook.AsFound, logbook.AsLeft} {
				s.Stages = append(s.Stages, h.stage(logbook.Place{Cylinder: name, Phase: phase}))
			}
		}
		if h.turning, err = s.Begin(); err == nil {
			h.turned = s.Stages[0]
			return h, nil
		}
		for at := range h.off { // the dial may not follow so far beyond the tolerance
			h.off[at] /= 2
		}
	}
	return nil, err
}

// Measure lets the hand make passes for a cylinder and phase, one after the other; see Next. As found every other cylinder opens
// early, well out of tolerance, the others late; as left they are right within hundredths of a degree, whether Set was called or not.
func (h *benchHand) Measure(place logbook.Place) {
	h.mu.Lock()
	defer h.mu.Unlock()
	if h.turns && place == h.at {
		return
	}
	h.stop("")
	h.at, h.turns = place, true
	h.then = h.approach
}

// Next tells that the reading of the newest opening was taken: then the next pass begins. Without it the pass is made again after
// 20 s. Before the points have opened in a pass it does nothing.
func (h *benchHand) Next() {
	h.mu.Lock()
	defer h.mu.Unlock()
	if h.pass != nil && !h.next && h.now >= h.pass.First.At+h.shift {
		h.next = true
		h.taken[h.at] = append(h.taken[h.at], *h.pass)
	}
}

// WrongTurn lets the passes be made, or no longer be made, at the top dead centre at which the points do not open. It returns false,
// and does nothing, where there is none: unless a cam at half speed has an odd number of lobes for each set of points.
func (h *benchHand) WrongTurn(on bool) bool {
	h.mu.Lock()
	defer h.mu.Unlock()
	if !h.sheets.SilentTDC() {
		return false
	}
	if on != h.astray && h.turns {
		h.stop("")
		h.turns, h.then = true, h.approach
	}
	h.astray = on
	return true
}

// Watch lets the hand open and close the points slowly, three times with a pause, again and again.
func (h *benchHand) Watch() {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.stop("")
	h.then = h.openAndClose
}

// Set lets the hand move the plate of a cylinder with the crank at the mark: points that open early are open, and close; then they
// flutter, and are just open. So they stay. What is measured as left after that is another setting than before.
func (h *benchHand) Set(place logbook.Place) {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.stop("")
	h.tighten(place.Cylinder)
	h.then = func() { h.movePlate(0, h.early(place.Cylinder)) }
	if h.sheets.AtOnce {
		h.then = h.moveBoth
	}
}

// Rest lets the hand leave the points closed, and stand still. The dial is left as it was read.
func (h *benchHand) Rest() {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.stop(h.shown())
}

// Dial returns what the dial showed at the newest opening, as the mechanic would type it: "2.03/1.98". It is empty before the
// first opening that Measure brings, and between each opening and its reading.
func (h *benchHand) Dial() string {
	h.mu.Lock()
	defer h.mu.Unlock()
	return h.shown()
}

// Truth returns how much more travel than specified (negative: less) was really left when the points began to open, on average over
// the passes whose reading was taken, and how many these are.
func (h *benchHand) Truth(place logbook.Place) (off timing.Length, passes int) {
	h.mu.Lock()
	defer h.mu.Unlock()
	all := h.taken[place]
	for _, p := range all {
		off += (p.First.Travel - h.sheets.Engine.Target.Travel) / timing.Length(len(all))
	}
	return off, len(all)
}

// second returns what became of the second set of points up to the instant that upTo was asked for last.
func (h *benchHand) second() []bench.Change {
	h.mu.Lock()
	defer h.mu.Unlock()
	out := h.others
	h.others = nil
	return out
}

// upTo makes what the hand does up to an instant of the sound, and returns what becomes of the points, or of the first set.
func (h *benchHand) upTo(at float64) (out []bench.Change) {
	h.mu.Lock()
	defer h.mu.Unlock()
	for {
		for len(h.ahead) > 0 && h.ahead[0].At <= at {
			c := h.ahead[0]
			h.closed[c.set], h.ahead = c.Closed, h.ahead[1:]
			if c.set == 0 {
				out = append(out, c.Change)
			} else {
				h.others = append(h.others, c.Change)
			}
		}
		if len(h.ahead) > 0 || h.until > at || h.then == nil {
			h.now = at
			return out
		}
		then := h.then
		h.then = nil
		then()
	}
}
