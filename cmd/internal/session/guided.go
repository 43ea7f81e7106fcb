package session

import (
	"fmt"
	"slices"
	"strings"

	"breakcue/timing/logbook"
)

// Measures tells whether openings heard in a step are passes: those of the steps in which dial readings are typed are, and no
// others.
func Measures(step string) bool { return strings.HasPrefix(step, measurePrefix) }

// Progress is how far a guided session went. Steps are named by their ID, in the order of the job.
type Progress struct {
	Done     []string `json:"done"`
	Skipped  []string `json:"skipped"`
	Begun    []string `json:"begun"` // and neither done nor skipped since
	NotBegun []string `json:"not_begun"`
	// Ticked and NotTicked are the things that must be put back before the engine runs; of those not ticked the ones that a step
	// may have taken off.
	Ticked    []string `json:"put_back"`
	NotTicked []string `json:"not_put_back"`
	// Openings are those heard in the other steps than those that measure, which await no reading.
	Openings []Edge `json:"openings_between"`

	titles map[string]string // of the steps, by ID
}

// progressOf tells how far a session went, amendments applied; ok is false for one without a guide. Where there are no steps its
// entries alone tell.
func progressOf(entries []logbook.Entry, steps []Step) (p Progress, ok bool) {
	var order, refit []string
	titles := map[string]string{}
	for _, st := range steps {
		titles[st.ID] = st.Title
		if order = append(order, st.ID); st.Work == ByTick {
			refit = st.Do
		}
	}
	l, guided := newLedger(steps), false
	for _, e := range entries {
		switch d := e.Data.(type) {
		case logbook.Step:
			guided = true
			if !slices.Contains(order, d.Step) && d.Step != goOn {
				order = append(order, d.Step)
			}
			l.took(d)
		case logbook.Tick:
			l.tick(d)
		}
	}
	p = Progress{Done: []string{}, Skipped: []string{}, Begun: []string{}, NotBegun: []string{}, Ticked: []string{}, NotTicked: []string{}, Openings: []Edge{}, titles: titles}
	for _, id := range order {
		list := &p.NotBegun
		switch l.state[id] {
		case "":
		case logbook.StepDone:
			list = &p.Done
		case logbook.StepSkipped:
			list = &p.Skipped
		default:
			list = &p.Begun
		}
		*list = append(*list, id)
	}
	for _, one := range refit {
		switch {
		case l.ticked[l.back][one]:
			p.Ticked = append(p.Ticked, one)
		case l.awaited(steps, one):
			p.NotTicked = append(p.NotTicked, one)
		}
	}
	return p, guided
}

// guided notes how far a guided session went.
func (b *builder) guided(entries []logbook.Entry) {
	if p, ok := progressOf(entries, b.steps); ok {
		b.report.Steps = &p
	}
}

// mostNamed is how many steps the report names that became the same.
const mostNamed = 4

// steps says how far the work went.
func (p *printer) steps(s Progress) {
	said := fmt.Sprintf("Steps: %d done.", len(s.Done))
	for _, some := range []struct {
		ids  []string
		what string
	}{{s.Skipped, "Skipped"}, {s.Begun, "Begun but not done"}, {s.NotBegun, "Not begun"}} {
		if n := len(some.ids); n > 0 {
			var names []string
			for _, id := range some.ids {
				names = append(names, s.name(id))
			}
			if n > mostNamed+1 {
				names = append(names[:mostNamed], fmt.Sprintf("and %d more", n-mostNamed))
			}
			said += fmt.Sprintf(" %s (%d): %s.", some.what, n, strings.Join(names, "; "))
		}
	}
	p.sentence("", "%s", said)
	switch {
	case len(s.NotTicked) > 0:
		p.sentence("", "Not ticked as put back: %s.", strings.Join(s.NotTicked, "; "))
	case len(s.Ticked) > 0:
		p.sentence("", "Ticked as put back: all %d.", len(s.Ticked))
	}
	if n := len(s.Openings); n > 0 {
		p.sentence("", "%s heard in other steps than those that measure: kept in the journal, no pass.", count(n, "opening"))
	}
}

// name is what a step is called for people: what stands before the colon of its title, or its ID where this version does not know it.
func (s Progress) name(id string) string {
	if title, _, _ := strings.Cut(s.titles[id], ": "); title != "" {
		return title
	}
	return id
}
