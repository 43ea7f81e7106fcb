package cue

import (
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
		fmt.Println(err)
		os.Exit(1)
	}
}

// child shows the scene it is named after until Ctrl-C.
func child(mode string) error {
	s, err := OpenScreen(Options{Now: func() time.Time { return noon }})
	if err != nil {
		return err
	}
	defer s.Close()
	for _, sc := range scenes() {
		if sc.name == mode {
			s.Show(sc.view)
		}
	}
	for k := range s.Keys() {
		if k.Name == Interrupt {
			break
		}
	}
	return s.Close()
}
