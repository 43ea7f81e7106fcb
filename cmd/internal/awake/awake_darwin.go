package awake

import (
	"context"
	"fmt"
	"os"
	"os/exec"
	"strconv"
)

// hold runs caffeinate, which asserts that display (-d) and system (-i) are in use until this process (-w) ends.
// Source: caffeinate(8). It takes no reason.
func hold(context.Context, string) (func(), error) {
	// The command outlives the context of the asking.
	c := exec.Command("/usr/bin/caffeinate", "-d", "-i", "-w", strconv.Itoa(os.Getpid()))
	if err := c.Start(); err != nil {
		return func() {}, fmt.Errorf("awake: the computer may go to sleep and the screen blank (%w)", err)
	}
	return func() {
		// Both fail only when caffeinate has ended already.
		_ = c.Process.Kill()
		_ = c.Wait()
	}, nil
}
