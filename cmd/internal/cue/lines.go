package cue

import (
	"fmt"
	"io"
	"sync"
	"time"
)

// Lines is the plain twin of Screen, for pipes, files and screen readers: one line for each thing that happens, with the
// seconds since the start, and no control characters.
type Lines struct {
	w     io.Writer
	now   func() time.Time
	start time.Time

	mu    sync.Mutex
	last  View
	begun bool
	err   error
}

// NewLines writes to w, each line with one call of Write. now is the clock; the seconds count from this call.
func NewLines(w io.Writer, now func() time.Time) *Lines {
	return &Lines{w: w, now: now, start: now()}
}

// Show writes what is new in v, as sentences. What changes by itself all the time, such as the figures of the signal or
// the length of the recording, is told when it first appears.
func (l *Lines) Show(v View) {
	l.mu.Lock()
	defer l.mu.Unlock()
	was, first := l.last, !l.begun
	l.last, l.begun = v, true
	at := l.now()

	if v.Heading != was.Heading {
		l.say(at, v.Heading)
	}
	if v.Keys != was.Keys {
		l.say(at, v.Keys)
	}
	if was.Record == "" {
		l.say(at, v.Record)
	} else if v.Record == "" {
		l.say(at, "no longer recording")
	}
	if was.Health == "" {
		l.say(at, v.Health)
	}
	if v.both() {
		for i, s := range v.Sets {
			l.points(at, clean(s.Name)+": ", was.of(i), v.of(i), first)
		}
	} else {
		l.points(at, "", was, v, first)
	}
	if v.Warning != was.Warning {
		if v.Warning != "" {
			l.say(at, "warning: "+v.Warning)
		} else {
			l.say(at, "the warning is over")
		}
	}
	if v.Note != was.Note {
		l.say(at, v.Note)
	}
	l.page(at, was.Page, v.Page)
	if v.Result != was.Result {
		l.result(at, v.Result)
	}
	if v.Task != was.Task {
		l.task(at, v.Task)
	}
	if v.Advice != was.Advice {
		l.say(at, v.Advice)
	}
	if v.Prompt != was.Prompt {
		l.say(at, v.Prompt)
	}
}

// points tells of the state of a set of points and of a new opening; name comes before each line.
func (l *Lines) points(at time.Time, name string, was, v View, first bool) {
	fresh := v.Number > was.Number && !v.OpenedAt.IsZero()
	switch {
	case fresh:
		text := fmt.Sprintf("%s, number %d", Open, v.Number)
		if v.Provisional {
			text += ", counts when the points close again"
		}
		l.say(v.OpenedAt, name+text)
		if v.State != Open {
			l.say(at, name+v.State.String())
		}
	case first || v.State != was.State:
		l.say(at, name+v.State.String())
	}
	if v.Number < was.Number && v.Thrown == was.Thrown {
		l.say(at, name+fmt.Sprintf("number %d taken back", was.Number))
	}
	if !fresh && v.Number > 0 && v.Number == was.Number && was.Provisional && !v.Provisional {
		l.say(at, name+fmt.Sprintf("number %d counts", v.Number))
	}
	if v.Thrown != was.Thrown && v.Thrown > 0 {
		l.say(at, name+fmt.Sprintf("openings thrown away: %d", v.Thrown))
	}
}

// Err is the first error of the writer; nothing is written after it.
func (l *Lines) Err() error {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.err
}

func (l *Lines) say(at time.Time, text string) {
	if text = clean(text); text == "" || l.err != nil {
		return
	}
	if _, err := fmt.Fprintf(l.w, "%.3f s  %s\n", max(at.Sub(l.start), 0).Seconds(), text); err != nil {
		l.err = fmt.Errorf("cue: writing a line: %w", err)
	}
}
