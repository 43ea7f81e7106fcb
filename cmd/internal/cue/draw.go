package cue

import "time"

// painter makes a frame of a view at a time.
type painter struct {
	back   backdrop
	coarse bool
}

// frame returns what is to be on the screen at now, on which backgrounds, and how long until it must be drawn again
// though nothing happens; 0: never.
func (p *painter) frame(v View, now time.Time, w, h int) (f frame, back grounds, again time.Duration) {
	for _, s := range []*State{&v.State, &v.Sets[0].State, &v.Sets[1].State} {
		if *s > Lost {
			*s = Unknown
		}
	}
	back, again = p.back.next(v.grounds(), now)
	if tick := v.ages(now); tick > 0 && (again == 0 || tick < again) {
		again = tick
	}
	return paint(v, at{now, back, p.coarse}, w, h), back, again
}

// draw is the screen's own goroutine: it alone writes to the terminal. Whatever ends it, a panic included, the terminal is
// given back before anything else happens.
func (s *Screen) draw() {
	orderly := false
	defer func() {
		s.crashed.Store(!orderly)
		close(s.drawn)
		if !orderly {
			s.once.Do(func() {
				s.restore()
				close(s.closed)
			})
			// The panic goes on.
		}
	}()
	goesOn := newJobs()
	defer goesOn.close()
	timer := time.NewTimer(time.Hour)
	defer timer.Stop()
	var last picturedFrame
	for {
		select {
		case <-s.quit:
			orderly = true
			return
		case <-s.lost:
			orderly = true
			return
		case <-s.suspend:
			s.retake(goesOn.stop)
			last.valid = false
		case <-goesOn: // it was stopped by force
			s.retake(func() {})
			last.valid = false
		case <-s.redraw:
			last.valid = false
		case <-s.wake:
		case <-timer.C:
		}
		if again := s.drawOnce(&last); again > 0 {
			timer.Reset(again)
		} else {
			timer.Stop()
		}
	}
}

// picturedFrame is the frame on the screen.
type picturedFrame struct {
	frame
	back  grounds
	valid bool

	view View
	due  time.Time // when the view looks different though it is the same; the zero time: never
}

// drawOnce draws the newest view and returns when to draw again; 0: not before something happens.
func (s *Screen) drawOnce(last *picturedFrame) time.Duration {
	s.mu.Lock()
	v, has := s.view, s.has
	s.mu.Unlock()
	if !has {
		return 0
	}
	now := s.o.Now()
	if last.valid && v == last.view && (last.due.IsZero() || now.Before(last.due)) {
		s.tell(v, now)
		return max(last.due.Sub(now), 0)
	}
	w, h := s.size(last.valid)
	f, back, again := s.paint.frame(v, now, w, h)
	next := picturedFrame{frame: f, back: back, valid: true, view: v}
	if again > 0 {
		next.due = now.Add(again)
	}
	if s.pen != nil {
		s.out = s.pen.write(s.out[:0], next, *last)
		if len(s.out) > 0 {
			_, _ = s.wire.Write(s.out) // fail has the error
		}
	} else if !last.valid || back != last.back || !f.same(last.frame) {
		s.put(next)
	}
	*last = next
	ended := s.o.Now()
	s.paint.back.drawn(back, ended)
	s.tell(v, ended)
	return again
}

// tell calls Shown.
func (s *Screen) tell(v View, at time.Time) {
	if s.o.Shown != nil {
		s.o.Shown(v, at)
	}
}

// size is that of the terminal now.
func (s *Screen) size(known bool) (w, h int) {
	if s.wire != nil {
		if size, err := s.wire.WindowSize(); err == nil {
			return size.Width, size.Height
		}
	} else if !known {
		s.scr.Sync() // asks for the new size
	}
	return s.scr.Size()
}

// put hands the cells to tcell, which writes those that are new.
func (s *Screen) put(f picturedFrame) {
	s.scr.SetStyle(s.styles[f.back[0]][plain])
	for y := range f.h {
		for x, c := range f.cells[y*f.w : (y+1)*f.w] {
			if c.r != 0 {
				s.scr.SetContent(x, y, c.r, nil, s.styles[f.back[c.pane]][c.look])
			}
		}
	}
	s.scr.Show()
}

// retake gives the terminal back, does what is to be done without it, and takes it over again.
func (s *Screen) retake(meanwhile func()) {
	if s.scr.Suspend() != nil {
		return
	}
	meanwhile()
	if err := s.scr.Resume(); err != nil {
		s.fail(err)
	}
}
