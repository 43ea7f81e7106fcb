package cue

import (
	"time"
)

// painter makes a frame of a view at a time.
type painter struct {
	back   backdrop
	coarse bool
}

// frame returns what is to be on the screen at now, on whose background, and how long until it must be drawn again
// though nothing happens; 0: never.
func (p *painter) frame(v View, now time.Time, w, h int) (f frame, back State, again time.Duration) {
	if v.State > Lost {
		v.State = Unknown
	}
	back, again = p.back.next(v.State, now)
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
		close(s.drawn)
		if !orderly {
			_ = s.Close() // the panic goes on
		}
	}()
	stops, unhook := stopSignals()
	defer unhook()
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
			s.stopAndGoOn(&last)
		case <-stops:
			s.stopAndGoOn(&last)
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
	back  State
	valid bool
}

// drawOnce draws the newest view and returns when to draw again; 0: not before something happens.
func (s *Screen) drawOnce(last *picturedFrame) time.Duration {
	s.mu.Lock()
	v, has := s.view, s.has
	s.mu.Unlock()
	if !has {
		return 0
	}
	if s.wire != nil {
		s.wire.hold()
	}
	if !last.valid {
		s.scr.Sync() // finds the new size and clears
	}
	w, h := s.scr.Size()
	f, back, again := s.paint.frame(v, s.o.Now(), w, h)
	if !last.valid || back != last.back || !f.same(last.frame) {
		s.put(f, back)
		s.scr.Show()
	}
	if s.wire != nil {
		s.wire.flush()
	}
	*last = picturedFrame{f, back, true}
	ended := s.o.Now()
	s.paint.back.drawn(back, ended)
	if s.o.Shown != nil {
		s.o.Shown(v, ended)
	}
	return again
}

// put hands the cells to tcell, which writes those that are new.
func (s *Screen) put(f frame, back State) {
	st := s.styles[back]
	s.scr.SetStyle(st[plain])
	for y := range f.h {
		for x, c := range f.cells[y*f.w : (y+1)*f.w] {
			if c.r != 0 {
				s.scr.SetContent(x, y, c.r, nil, st[c.look])
			}
		}
	}
}

// stopAndGoOn gives the terminal back, stops the process as Ctrl-Z does, and takes the terminal over again when it goes
// on.
func (s *Screen) stopAndGoOn(last *picturedFrame) {
	if s.scr.Suspend() != nil {
		return
	}
	stopProcess()
	if err := s.scr.Resume(); err != nil {
		s.fail(err)
	}
	last.valid = false
}
