package cue

import (
	"context"
	"fmt"
	"os"
	"testing"
	"time"
)

// childMode names what the test program does instead of testing, when it has itself started again on a terminal of its own.
const childMode = "CUE_TEST_CHILD"

func TestMain(m *testing.M) {
	mode := os.Getenv(childMode)
	if mode == "" {
		os.Exit(m.Run())
	}
	if err := child(mode); err != nil {
		fmt.Fprintln(os.Stderr, err)
		os.Exit(1)
	}
}

// child shows the scene it is named after until Ctrl-C, after which it says so on the terminal given back.
func child(mode string) (err error) {
	shown := make(chan struct{}, 1)
	s, err := OpenScreen(Options{
		Now: func() time.Time { return noon },
		Shown: func(View, time.Time) {
			if mode == "panic-drawing" {
				panic("the pen broke")
			}
			poke(shown)
		},
	})
	if err != nil {
		return err
	}
	defer func() {
		if closing := s.Close(); err == nil {
			err = closing
		}
	}()
	for _, sc := range scenes() {
		if sc.name == mode {
			s.Show(sc.view)
		}
	}
	switch mode {
	case "panic-drawing":
		s.Show(View{State: Open})
	case "panic-main":
		s.Show(View{State: Open})
		<-shown
		panic("the engine fell off the bench")
	case "stalled":
		return showUntilStalled(s, shown)
	}
	for k := range s.Keys() {
		if k.Name == Interrupt {
			_ = s.Close()
			fmt.Println("interrupted")
			return nil
		}
	}
	return s.Err()
}

// showUntilStalled draws until nothing is shown for long.
func showUntilStalled(s *Screen, shown chan struct{}) error {
	for n := 0; ; n++ {
		s.Show(View{State: Open, Number: n, OpenedAt: noon})
		limit, cancel := context.WithTimeout(context.Background(), time.Second)
		select {
		case <-shown:
			cancel()
		case <-limit.Done():
			cancel()
			s.Show(View{State: Closed}) // still does not block
			return s.Close()
		}
	}
}
