package cli

import (
	"fmt"
	"strings"

	"breakcue/cmd/internal/cue"
	"breakcue/cmd/internal/session"
	"breakcue/timing/logbook"
)

// What the keys do, as the screen tells it.
const (
	keysPage   = "Enter: tick, go on  +: whole step done  -: back  *: what else"
	keysTick   = "Enter: tick, go on  -: back  *: what else"
	keysToRead = "Enter: tick, go on  +: on to the readings  -: back  *: what else"
	keysRead   = "Enter: take the reading  *: what else  x: throw opening away"
	keysMore   = "a digit: do it  Enter: go on  *: close"
	keysSteps  = "Enter: go there  *: close"
)

// show puts the step at hand on the screen, or what else there is to choose.
func (s *liveSession) show() {
	g := s.guide
	v := &s.run.hear.view
	v.Page, v.Task, v.Prompt = cue.Page{}, "", ""
	st, n, of := g.Step()
	at, read := g.Item()
	switch {
	case g.face == faceMore:
		v.Page, v.Keys = s.morePage(), keysMore
	case g.face == faceSteps:
		v.Page, v.Keys, v.Prompt = s.stepsPage(), keysSteps, "Number of the step"
	case st.Work == session.ByRead && read:
		v.Keys, v.Prompt = keysRead, s.prompt()
	case st.Work == session.ByWatch:
		v.Keys = keysPage
		if items := g.Items(); !read {
			title, _, _ := strings.Cut(st.Title, ":")
			v.Task = fmt.Sprintf("%s (step %d of %d: %s)", itemLine(items[at]), n, of, title)
		}
	default:
		v.Keys = keysPage
		switch st.Work {
		case session.ByTick:
			v.Keys = keysTick
		case session.ByRead:
			v.Keys = keysToRead
		}
		var lines []string
		for _, it := range g.Items() {
			lines = append(lines, itemLine(it))
		}
		if len(st.Asks) > 0 {
			s.askGap(st.Asks)
		}
		v.Page = cue.Page{Title: st.Title, At: n, Of: of, Items: strings.Join(lines, "\n"), Current: at}
	}
}

// itemLine is an item as a page has it.
func itemLine(it session.Item) string {
	switch {
	case it.Care:
		return "! " + it.Text
	case it.Ticked:
		return "[x] " + it.Text
	}
	return "[ ] " + it.Text
}

func (s *liveSession) morePage() cue.Page {
	var lines []string
	for _, c := range s.choices() {
		lines = append(lines, fmt.Sprintf("%c %s", c.key, c.text))
	}
	return cue.Page{Title: "what next?", Items: strings.Join(lines, "\n")}
}

func (s *liveSession) stepsPage() cue.Page {
	steps, states := s.guide.Steps()
	n := s.guide.number()
	var lines []string
	for i, st := range steps {
		mark := "[ ]"
		switch states[i] {
		case logbook.StepDone:
			mark = "[x]"
		case logbook.StepSkipped:
			mark = "[-]"
		}
		lines = append(lines, fmt.Sprintf("%s %d %s", mark, i+1, st.Title))
	}
	return cue.Page{Title: "all steps", Items: strings.Join(lines, "\n"), Current: n - 1}
}
