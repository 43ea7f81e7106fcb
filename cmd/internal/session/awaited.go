package session

import (
	"fmt"
	"strings"

	"breakcue/timing/logbook"
)

// places returns the cylinder and phase of each step that measures, by its ID.
func places(steps []Step) map[string]logbook.Place {
	out := map[string]logbook.Place{}
	for _, st := range steps {
		if st.Work == ByRead {
			out[st.ID] = st.Place
		}
	}
	return out
}

// awaited says of a guided session which openings have no reading, each with the instant at which it is found in its take: who has
// the readings on paper or in the sound gives them afterwards. The steps tell where they belong.
func (b *builder) awaited() string {
	var parts []string
	at := ""
	for _, e := range b.report.Unread {
		of := ""
		if place, ok := b.place[b.of[openingKey{e.Take, e.ID}]]; ok {
			of = fmt.Sprintf("%s, %s: ", place.Cylinder, place.Phase.Words())
		}
		if e.Take > 1 {
			of = fmt.Sprintf("take %d, %s", e.Take, of)
		}
		part := fmt.Sprintf("number %d at %.3f s", e.ID, e.TimeS)
		if of != at || len(parts) == 0 {
			at, part = of, of+part
			parts = append(parts, part)
			continue
		}
		parts[len(parts)-1] += ", " + part
	}
	name := b.report.Session
	if name == "" {
		name = "SESSION"
	}
	return fmt.Sprintf("%s without a reading (%s): kept, not used; 'breakcue log amend %s --ask' asks for their readings afterwards",
		count(len(b.report.Unread), "opening"), strings.Join(parts, "; "), name)
}
