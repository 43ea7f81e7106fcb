//go:build unix

package cue

import (
	"os"
	"os/signal"
	"syscall"
	"time"
)

// jobs tells when this process is asked to stop, and when it goes on after a stop.
type jobs chan os.Signal

func newJobs() jobs {
	j := make(jobs, 4)
	signal.Notify(j, syscall.SIGTSTP, syscall.SIGCONT)
	return j
}

func (j jobs) close() { signal.Stop(j) }

// asksToStop tells whether s asks this process to stop; else it went on.
func asksToStop(s os.Signal) bool { return s == syscall.SIGTSTP }

// stop stops the processes of this group, as a terminal does on Ctrl-Z, and returns when they go on.
func (j jobs) stop() {
	signal.Reset(syscall.SIGTSTP)
	defer signal.Notify(j, syscall.SIGTSTP)
	_ = syscall.Kill(0, syscall.SIGTSTP)
	// The system does not stop a group that no shell watches over, for nobody would make it go on.
	unwatched := time.NewTimer(300 * time.Millisecond)
	defer unwatched.Stop()
	for {
		select {
		case s := <-j:
			if !asksToStop(s) {
				return
			}
		case <-unwatched.C:
			return
		}
	}
}
