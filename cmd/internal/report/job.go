package report

import (
	"slices"

	"breakcue/cmd/internal/session"
)

// putBack is something that must be as it was before the engine runs.
type putBack struct {
	What   string
	Said   string // in front of it: whether it was ticked; empty where there was no guide to tick it
	Ticked bool
}

// job tells what became of the steps of the whole job, what was ticked as put back, and the dangers, each once. Without a guide
// nothing was ticked.
func (p *page) job(s session.Sheets, done *session.Progress) {
	steps, err := session.Steps(s)
	if err != nil {
		steps = nil // a dial that cannot follow a whole approach has no list of steps
	}
	title := map[string]string{}
	for i, st := range steps {
		title[st.ID] = st.Title
		if st.Work == session.ByTick && done == nil {
			for _, one := range st.Do {
				p.PutBack = append(p.PutBack, putBack{What: one})
			}
		}
		if i == 0 {
			continue // what its care says stands in front of all the others
		}
		for _, one := range st.Care {
			if !slices.Contains(p.Cautions, one) {
				p.Cautions = append(p.Cautions, one)
			}
		}
	}
	if done == nil {
		return
	}
	for _, one := range done.NotTicked {
		p.PutBack = append(p.PutBack, putBack{What: one, Said: "not ticked: "})
	}
	for _, one := range done.Ticked {
		p.PutBack = append(p.PutBack, putBack{What: one, Said: "ticked: ", Ticked: true})
	}
	for _, e := range done.Openings {
		p.Between = append(p.Between, newOpening(e))
	}
	var order []string
	for _, st := range steps {
		order = append(order, st.ID)
	}
	became := map[string]string{}
	for _, some := range []struct {
		state string
		ids   []string
	}{{"done", done.Done}, {"skipped", done.Skipped}, {"begun, but not finished", done.Begun}, {"not begun", done.NotBegun}} {
		for _, id := range some.ids {
			became[id] = some.state
			if !slices.Contains(order, id) { // of another version
				order = append(order, id)
			}
		}
	}
	for _, id := range order {
		name := id
		if title[id] != "" {
			name = title[id]
		}
		if became[id] != "" {
			p.Steps = append(p.Steps, fact{name, became[id]})
		}
	}
}
