package cli

import (
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/pflag"

	"breakcue/cmd/internal/session"
	"breakcue/detect"
	"breakcue/timing/logbook"
)

// longestSetName is up to how many letters the cylinders of a set name it on the screen.
const longestSetName = 12

// setNames are what two sets of points are called: by their cylinders where that is short.
func setNames(s session.Sheets) (names [2]string) {
	var of [2][]string
	for _, c := range s.Engine.Cylinders {
		if set := s.SetOf(c); set == 1 || set == 2 {
			of[set-1] = append(of[set-1], c)
		}
	}
	for i, cylinders := range of {
		names[i] = strings.Join(cylinders, " + ")
		if len(names[i]) > longestSetName || strings.Trim(names[i], "0123456789 +") == "" { // a number alone may be that of a set
			names[i] = fmt.Sprintf("set %d", i+1)
		}
	}
	return names
}

// checkSets finds out whether both sets of points are followed at once: as the flags say, or as a session that is gone on with did. It
// refuses an engine that has another number of them.
func (s *liveSession) checkSets(fs *pflag.FlagSet) error {
	f := s.flags
	if s.sheets.AtOnce && !fs.Changed("sets") && !fs.Changed("tone") {
		f.live.sets = 2
		if err := f.live.check(); err != nil {
			return err
		}
	}
	if s.sheets.AtOnce = f.live.sets == 2; !s.sheets.AtOnce {
		return nil
	}
	switch n := s.sheets.Engine.Breaker.Sets; n {
	case 2:
		return nil
	case 1:
		return fail(ExitUsage, "give one --tone and leave --sets out; where the engine has two sets, its sheet is to say so: sets = 2 under [breaker]",
			"two sets of points are asked for, and the engine sheet has one")
	default:
		return fail(ExitUsage, "measure one set after the other, with one tone", "two sets of points are asked for, and the engine sheet has %d", n)
	}
}

// bySet tells that a recording has both sets of points, each by a tone of its own.
func (f *sessionFlags) bySet(s session.Sheets) bool {
	return len(f.rec.tones) == 2 && s.Engine.Breaker.Sets == 2
}

// atOnce is how many sets of points are followed at once, as the journal has it: 0 for one.
func (s *liveSession) atOnce() int {
	if s.sheets.AtOnce {
		return 2
	}
	return 0
}

// setAt returns the set of points that is measured at a place, from 1; 0 where one is followed.
func (s *liveSession) setAt(place logbook.Place) int {
	if !s.sheets.AtOnce {
		return 0
	}
	return s.sheets.SetOf(place.Cylinder)
}

// takeInHand says to the screen and to the journal which points are measured from now on: openings of the others are no passes. Readings
// that are not typed by hand may be of either.
func (s *liveSession) takeInHand() error {
	h := s.run.hear
	if h.second == nil {
		return nil
	}
	h.hand = 0
	if s.guide != nil {
		if st, _, _ := s.guide.Step(); st.Work != session.ByRead {
			return nil
		}
	}
	if len(s.later) > 0 || !s.run.env.InTTY {
		return nil
	}
	h.hand = s.setAt(s.typist.Place)
	h.refresh()
	return s.rec.Hand(s.typist.Place)
}

// elsewhere tells that the points at hand are not those of a place.
func (s *liveSession) elsewhere(place logbook.Place) bool {
	return s.run.hear.second != nil && s.run.hear.hand != s.setAt(place)
}

// note gives an opening its number in the journal, which is that on the screen, and marks it in the recording. Of two sets the one that was
// decided first may settle last, and one that was none leaves its number free.
func (s *liveSession) note(e detect.Event, c *session.Change) {
	if number := s.run.hear.number(e.ID); s.sheets.AtOnce && number > 0 {
		c.ID = int64(number)
	}
	s.ids = append(s.ids, slices.Repeat([]int64{0}, max(int(c.ID)-len(s.ids), 0))...)
	s.ids[c.ID-1] = e.ID
	label := fmt.Sprintf("points open %d", c.ID)
	if s.sheets.AtOnce {
		label += " (" + s.run.hear.of(e.Set).name + ")"
	}
	s.run.mark(e, label)
}
