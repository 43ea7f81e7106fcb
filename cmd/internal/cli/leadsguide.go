package cli

import (
	"slices"

	"breakcue/cmd/internal/leads"
)

// leadsGuide stands at one step of the check of a cable. It knows neither sound nor screen.
type leadsGuide struct {
	steps     []leads.Step
	at        int  // -1: make safe; len(steps): what it comes to
	measuring bool // the step at hand is being measured
	more      bool // the list of steps is shown, to choose from
	stays     bool // at a step that went wrong, until somebody has decided
	note      string

	done    map[leads.Step]leads.Measure
	skipped map[leads.Step]bool
	told    map[leads.Step][]leads.Finding // what went wrong at each step
	order   []leads.Step                   // measured so far, repeats included
}

// leadsDeed is what a key asks of whoever measures.
type leadsDeed uint8

const (
	leadsNothing leadsDeed = iota
	leadsBegin             // measure the step at hand
	leadsCancel            // leave off measuring
	leadsEnd
)

// Keys of the guide, besides Enter.
const (
	keyLeadsBack = '-'
	keyLeadsOn   = '+'
	keyLeadsMore = '*'
)

func newLeadsGuide(resistor, stays bool) *leadsGuide {
	g := &leadsGuide{at: -1, stays: stays, done: map[leads.Step]leads.Measure{}, skipped: map[leads.Step]bool{}, told: map[leads.Step][]leads.Finding{}}
	for s := range leads.Step(leads.Steps) {
		if s != leads.Known || resistor {
			g.steps = append(g.steps, s)
		}
	}
	return g
}

// step returns the step at hand; false where cautions are read, or the verdict.
func (g *leadsGuide) step() (leads.Step, bool) {
	if g.at < 0 || g.at >= len(g.steps) {
		return 0, false
	}
	return g.steps[g.at], true
}

// over tells that the verdict is read.
func (g *leadsGuide) over() bool { return g.at >= len(g.steps) }

// wrong is what went wrong at the step at hand, while it is to be decided what becomes of that.
func (g *leadsGuide) wrong() []leads.Finding {
	s, ok := g.step()
	if !ok || g.measuring {
		return nil
	}
	return g.told[s]
}

// key takes a key, "" for Enter; ok is false where it means nothing.
func (g *leadsGuide) key(key string) (deed leadsDeed, ok bool) {
	g.note = ""
	switch {
	case key == string(keyQuit):
		return leadsEnd, true
	case g.more:
		return g.choose(key), true
	case g.measuring:
		return g.whileMeasuring(key)
	case key == string(keyLeadsMore):
		g.more = true
		return leadsNothing, true
	case key == string(keyLeadsBack):
		g.at = max(-1, g.at-1)
		return leadsNothing, true
	case key == string(keyLeadsOn) && !g.over():
		if s, at := g.step(); at {
			_, measured := g.done[s]
			g.skipped[s] = !measured
		}
		g.at++
		return leadsNothing, true
	case key != "":
		return leadsNothing, false
	case g.over():
		return leadsEnd, true
	case g.at < 0:
		g.at++
		return leadsNothing, true
	}
	g.measuring = true
	return leadsBegin, true
}

// whileMeasuring takes a key in those seconds.
func (g *leadsGuide) whileMeasuring(key string) (leadsDeed, bool) {
	switch key {
	case string(keyLeadsBack):
		g.measuring = false
		return leadsCancel, true
	case "":
		g.note = "it is being measured: keep still"
		return leadsNothing, true
	}
	return leadsNothing, false
}

// choose takes a step from the list by its digit.
func (g *leadsGuide) choose(key string) leadsDeed {
	if len(key) == 1 && key[0] >= '1' && int(key[0]-'1') < len(g.steps) {
		g.at, g.more = int(key[0]-'1'), false
		return leadsNothing
	}
	switch key {
	case "9":
		return leadsEnd
	case "8":
		g.at, g.more = len(g.steps), false
	case "", string(keyLeadsMore), string(keyLeadsBack):
		g.more = false
	default:
		g.note = "there is no such choice"
	}
	return leadsNothing
}

// measured takes what a step measured, and what is wrong by all findings so far. Where nothing is, or nobody is there to put it right, the
// next step that was not made is at hand.
func (g *leadsGuide) measured(s leads.Step, m leads.Measure, all []leads.Finding) {
	known := func(f leads.Finding) bool {
		for other, told := range g.told {
			if other != s && slices.ContainsFunc(told, func(t leads.Finding) bool { return t.Code == f.Code }) {
				return true
			}
		}
		return false
	}
	g.told[s] = nil
	for _, f := range all {
		if (f.Severity == leads.Warn || f.Severity == leads.Stop) && !known(f) {
			g.told[s] = append(g.told[s], f)
		}
	}
	g.measuring, g.done[s], g.skipped[s], g.note = false, m, false, ""
	g.order = append(g.order, s)
	if len(g.told[s]) > 0 && g.stays {
		return
	}
	g.goOn()
}

// goOn goes to the next step that was neither made nor skipped; after the last to the verdict.
func (g *leadsGuide) goOn() {
	for g.at++; g.at < len(g.steps); g.at++ {
		s := g.steps[g.at]
		if _, made := g.done[s]; !made && !g.skipped[s] {
			return
		}
	}
}
