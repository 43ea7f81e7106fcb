package cue

import (
	"errors"
	"fmt"
	"io"
	"os"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"github.com/gdamore/tcell/v2"
)

// Options are what a Screen needs from outside.
type Options struct {
	Getenv func(string) string // nil: os.Getenv. NO_COLOR and TERM are looked at
	Now    func() time.Time    // nil: time.Now

	// Shown, if not nil, is called by the screen's own goroutine when the write of a frame that shows v has ended, at the
	// time at; also where nothing had to be written. It must not call the Screen. Of views that follow each other fast,
	// only the last is shown.
	Shown func(v View, at time.Time)

	// Tty is the terminal to take over; nil: the one this process belongs to. Screen, if not nil, is drawn on instead of
	// any terminal; it must not have been initialised yet. Both serve tests.
	Tty    tcell.Tty
	Screen tcell.Screen
}

// ErrStalled is what Close returns when the terminal took no output, so that its screen could not be put back. Its modes
// were.
var ErrStalled = errors.New("cue: the terminal takes no output: its screen could not be put back")

// patience is how long Close waits for a terminal that takes no output.
const patience = time.Second

// Screen is the big screen: it has taken over the terminal until Close. Its methods may be called from any goroutine.
type Screen struct {
	o    Options
	scr  tcell.Screen
	wire *wire // nil where the screen writes by other means
	back *fallback

	pen    *pen   // nil where tcell writes
	out    []byte // of the drawing goroutine
	styles [4][looks]tcell.Style
	paint  painter
	keys   keyQueue

	mu   sync.Mutex
	view View
	has  bool // a view was given
	err  error

	wake    chan struct{} // something is to be drawn
	redraw  chan struct{} // all is to be drawn again: new size, or back from a stop
	suspend chan struct{} // Ctrl-Z
	quit    chan struct{}
	lost    chan struct{} // closed when the terminal is lost
	drawn   chan struct{} // closed when the drawing goroutine has ended
	once    sync.Once
	closed  chan struct{}
	end     error
	crashed atomic.Bool // the drawing goroutine panics
}

// OpenScreen takes over the terminal. The screen stays empty until the first Show. Errors: no terminal, or one that cannot move
// its cursor.
func OpenScreen(o Options) (*Screen, error) {
	if o.Getenv == nil {
		o.Getenv = os.Getenv
	}
	if o.Now == nil {
		o.Now = time.Now
	}
	s := &Screen{
		o:       o,
		wake:    make(chan struct{}, 1),
		redraw:  make(chan struct{}, 1),
		suspend: make(chan struct{}, 1),
		quit:    make(chan struct{}),
		lost:    make(chan struct{}),
		drawn:   make(chan struct{}),
		closed:  make(chan struct{}),
	}
	if err := s.connect(); err != nil {
		return nil, fmt.Errorf("cue: taking over the terminal: %w", err)
	}
	colours := s.scr.Colors()
	if o.Getenv("NO_COLOR") != "" {
		colours = 0
	}
	s.paint.coarse = !strings.HasPrefix(strings.ToUpper(s.scr.CharacterSet()), "UTF") // no half blocks in other character sets
	all := dressesFor(colours)
	for state, ds := range all {
		for l, d := range ds {
			s.styles[state][l] = d.style()
		}
	}
	if s.wire != nil {
		s.pen = newPen(s.wire.info, all, s.scr.CharacterSet() != "UTF-8")
	}
	s.keys = newKeyQueue(s.quit)
	go s.listen()
	go s.draw()
	return s, nil
}

// connect finds the terminal and initialises it.
func (s *Screen) connect() error {
	s.scr = s.o.Screen
	if s.scr == nil {
		tty := s.o.Tty
		if tty == nil {
			var err error
			if tty, s.back, err = ownTerminal(); err != nil {
				return err
			}
		}
		scr, err := s.screenOn(tty)
		if err != nil {
			return err
		}
		s.scr = scr
	}
	return s.scr.Init()
}

// screenOn makes a screen of a terminal; tty is nil where the system has terminals of another kind.
func (s *Screen) screenOn(tty tcell.Tty) (tcell.Screen, error) {
	if tty == nil {
		return tcell.NewScreen()
	}
	term := s.o.Getenv("TERM")
	known, err := tcell.LookupTerminfo(term)
	if err != nil {
		return nil, fmt.Errorf("TERM is %q: %w", term, err)
	}
	s.wire = &wire{
		Tty:     tty,
		info:    adapted(known, s.o.Getenv("NO_COLOR") != ""),
		failed:  s.fail,
		resized: func() { poke(s.redraw) },
	}
	return tcell.NewTerminfoScreenFromTtyTerminfo(s.wire, s.wire.info)
}

// Show makes v what is shown. It never blocks: the screen's own goroutine draws, and of several views that come while it
// is busy the last is drawn.
func (s *Screen) Show(v View) {
	s.mu.Lock()
	s.view, s.has = v, true
	s.mu.Unlock()
	poke(s.wake)
}

// Next is the index of the first item of v's page that has no room below the others, on the terminal as large as it is now; 0 where there is
// none.
func (s *Screen) Next(v View) int { return v.nextItem(s.size(true)) }

// Keys are the keys struck, in their order; none is dropped before Close. The channel is closed by Close, and when the
// terminal was closed.
func (s *Screen) Keys() <-chan Key { return s.keys.out }

// Lost is closed when the terminal is gone: its window was closed, or it takes no more writes. Err says why.
func (s *Screen) Lost() <-chan struct{} { return s.lost }

// Err is why the terminal was lost; nil while it is not.
func (s *Screen) Err() error {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.err
}

func (s *Screen) fail(err error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.err != nil {
		return
	}
	if errors.Is(err, io.EOF) {
		err = errors.New("it was closed")
	}
	s.err = fmt.Errorf("cue: the terminal is lost: %w", err)
	close(s.lost)
}

// Close gives the terminal back as it was. It may be called more than once, from several goroutines, and from a deferred
// function during a panic; it returns when the terminal is back. Errors: ErrStalled. When the screen's own goroutine has
// panicked it does not return: the panic is about to end the process, and must not be overtaken by an orderly end.
func (s *Screen) Close() error {
	s.once.Do(func() {
		close(s.quit)
		s.restore()
		close(s.closed)
	})
	<-s.closed
	if s.crashed.Load() {
		select {}
	}
	return s.end
}

// restore waits for the drawing goroutine, but not for ever, and gives the terminal back.
func (s *Screen) restore() {
	done := make(chan struct{})
	go func() {
		defer close(done)
		<-s.drawn
		s.scr.Fini()
	}()
	limit := time.NewTimer(patience)
	defer limit.Stop()
	select {
	case <-done:
		s.back.close()
	case <-limit.C:
		s.end = ErrStalled
		s.back.restore()
	}
}

// listen hands on what the terminal tells: keys, a new size, its end.
func (s *Screen) listen() {
	defer close(s.keys.in)
	for {
		switch e := s.scr.PollEvent().(type) {
		case nil:
			return
		case *tcell.EventKey:
			if e.Key() == tcell.KeyCtrlZ {
				poke(s.suspend)
			} else if k, ok := keyOf(e); ok {
				s.keys.put(k)
			}
		case *tcell.EventResize:
			if s.wire == nil { // else the wire tells
				poke(s.redraw)
			}
		case *tcell.EventError:
			s.fail(e)
			return
		}
	}
}

// poke makes c hold a message, if it does not yet.
func poke(c chan struct{}) {
	select {
	case c <- struct{}{}:
	default:
	}
}
