//go:build unix

package cue

import (
	"os"
	"os/signal"
	"syscall"
	"time"
)

// jobs tells when this process goes on after a stop. It must not ask for SIGTSTP: once asked, Go never again lets that
// signal stop the process.
type jobs chan os.Signal

func newJobs() jobs {
	j := make(jobs, 1)
	signal.Notify(j, syscall.SIGCONT)
	return j
}

func (j jobs) close() { signal.Stop(j) }

// stop stops the processes of this group, as a terminal does on Ctrl-Z, and returns when they go on.
func (j jobs) stop() {
	_ = syscall.Kill(0, syscall.SIGTSTP)
	// The system does not stop a group that no shell watches over, for nobody would make it go on.
	unwatched := time.NewTimer(300 * time.Millisecond)
	defer unwatched.Stop()
	select {
	case <-j:
	case <-unwatched.C:
	}
}
