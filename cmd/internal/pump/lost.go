package pump

import "breakcue/detect"

// Lost is a stretch of a recording in which the signal fitted neither open nor closed points.
type Lost struct {
	Set   int // as in Config.Set
	Cause detect.Cause
	From  int64 // frame
	To    int64 // frame at which it fitted again; 0: it did not until the end
}

// lostOf gathers such stretches of one set of points.
type lostOf struct{ list []Lost }

// take takes a settled event.
func (l *lostOf) take(e detect.Event) {
	n := len(l.list)
	lasts := n > 0 && l.list[n-1].To == 0
	switch {
	case e.Kind == detect.KindLost && !lasts:
		l.list = append(l.list, Lost{Set: e.Set, Cause: e.Cause, From: e.Frame})
	case e.Kind == detect.KindFound && lasts:
		l.list[n-1].To = e.Frame
	}
}
