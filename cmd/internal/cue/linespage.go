package cue

import (
	"fmt"
	"strings"
	"time"
)

// page tells a new page once, with all that is on it, and later what has changed of it.
func (l *Lines) page(at time.Time, was, g Page) {
	if g.Title == "" || g == was {
		return
	}
	items, before := g.items(), was.items()
	fresh := g.Title != was.Title || g.At != was.At || g.Of != was.Of || len(items) != len(before)
	if fresh {
		l.say(at, g.heading())
	}
	for i, it := range items {
		switch current := i == g.Current; {
		case fresh && current:
			l.say(at, it.now())
		case fresh || it != before[i] && !current:
			l.say(at, it.words())
		}
	}
	// What is dealt with next comes after what was ticked.
	switch i := g.Current; {
	case fresh || i < 0 || i >= len(items):
	case i != was.Current:
		l.say(at, items[i].now())
	case items[i] != before[i]:
		l.say(at, items[i].words())
	}
}

// words is an item as a sentence: marks are not read out well.
func (it item) words() string {
	switch it.mark {
	case "":
		return it.text
	case cautionMark:
		return "caution: " + it.text
	case openMark:
		return "to do: " + it.text
	case doneMark:
		return "done: " + it.text
	case skippedMark:
		return "skipped: " + it.text
	}
	return fmt.Sprintf("choice %s: %s", strings.TrimSpace(it.mark), it.text)
}

// now is an item as a sentence when it is dealt with.
func (it item) now() string {
	if it.mark == "" {
		return "now: " + it.text
	}
	return "now, " + it.words()
}

// task is what is to be done now as a sentence.
func (l *Lines) task(at time.Time, text string) {
	if text = clean(text); text != "" {
		l.say(at, itemOf(text).now())
	}
}

// result tells a result. A word in capitals may be spelt letter by letter when it is read out.
func (l *Lines) result(at time.Time, text string) {
	switch text = strings.TrimSpace(clean(text)); text {
	case "":
	case "?":
		l.say(at, "result: not known")
	default:
		l.say(at, "result: "+strings.ToLower(text))
	}
}
