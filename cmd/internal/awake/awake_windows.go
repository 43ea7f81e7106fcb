package awake

import (
	"context"
	"fmt"
	"runtime"

	"golang.org/x/sys/windows"
)

// Flags of SetThreadExecutionState. Source: Microsoft, winbase.h.
const (
	esSystemRequired  = 0x00000001
	esDisplayRequired = 0x00000002
	esContinuous      = 0x80000000
)

// hold sets the execution state of a thread of its own: the state belongs to the thread that set it, and ends with it.
// Windows takes no reason.
func hold(context.Context, string) (func(), error) {
	set := windows.NewLazySystemDLL("kernel32.dll").NewProc("SetThreadExecutionState")
	if err := set.Find(); err != nil {
		return func() {}, fmt.Errorf("awake: the computer may go to sleep and the screen blank (%w)", err)
	}
	answer, done := make(chan error), make(chan struct{})
	go func() {
		// Never unlocked: the thread ends with this goroutine, so that nothing of the state can stay behind.
		runtime.LockOSThread()
		if was, _, err := set.Call(esContinuous | esSystemRequired | esDisplayRequired); was == 0 {
			answer <- err
			return
		}
		answer <- nil
		<-done
		set.Call(esContinuous)
	}()
	if err := <-answer; err != nil {
		return func() {}, fmt.Errorf("awake: the computer may go to sleep and the screen blank (%w)", err)
	}
	return func() { close(done) }, nil
}
