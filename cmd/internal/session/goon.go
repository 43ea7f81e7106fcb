package session

import "strings"

// about is what a check is about. A later check about the same thing takes the place of an earlier one.
type about string

// What checks are about, in the order in which they are asked.
const (
	aboutSafety  about = "safety"
	aboutFuel    about = "fuel"
	aboutPlugs   about = "plugs"
	aboutWeights about = "weights"
	aboutCable   about = "cable"
	aboutDial    about = "dial"
	aboutZero    about = "zero"
	aboutList    about = "list"
)

// check is what must go on holding once a step is done, as a question. An empty text says that what was to hold before need not
// any more.
type check struct {
	about about
	text  string
}

// GoOn returns the step that comes first when a session is gone on with at steps[at], such as on another day: what must still
// hold from the steps before it. Its Do is empty when there is nothing. An at below 0 counts as 0, one past the end as the end.
func GoOn(steps []Step, at int) Step {
	out := Step{ID: goOn, Title: "before you go on", Do: []string{}, Care: []string{}, Refit: []string{}, Asks: []Ask{}, Work: ByList}
	at = min(max(at, 0), len(steps))
	holds := map[about][]string{}
	for _, st := range steps[:at] {
		fresh := map[about][]string{}
		for _, c := range st.still {
			if fresh[c.about] == nil {
				fresh[c.about] = []string{}
			}
			if c.text != "" {
				fresh[c.about] = append(fresh[c.about], c.text)
			}
		}
		for a, texts := range fresh {
			holds[a] = texts
		}
	}
	if len(holds[aboutDial]) > 0 {
		out.Care = append(out.Care, noFullTurn)
	}
	next := ""
	if at < len(steps) {
		next = steps[at].ID
	}
	switch { // what the next step does anew
	case strings.HasPrefix(next, tdcPrefix), next == gapFoundStep:
		holds[aboutDial], holds[aboutZero] = nil, nil
	case strings.HasPrefix(next, clipPrefix):
		holds[aboutCable] = nil
	}
	if next == TogetherStep && len(holds[aboutSafety]) > 0 {
		// Part of it may be back in its place already: only a look can tell.
		out.Do = append(out.Do, "what is ticked is done, and what is not ticked is as it was: see for yourself")
		return out
	}
	for _, a := range []about{aboutSafety, aboutFuel, aboutPlugs, aboutWeights, aboutCable, aboutDial, aboutZero, aboutList} {
		out.Do = append(out.Do, holds[a]...)
	}
	return out
}
