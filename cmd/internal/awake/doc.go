// Package awake keeps the machine from going to sleep and the screen from going blank while somebody works with both
// hands on an engine and touches no key.
//
// On Linux it asks logind and the desktop over D-Bus, on macOS it runs the system's caffeinate, on Windows it calls
// SetThreadExecutionState. Elsewhere it says that it cannot. Whatever was asked for ends with the process, however that
// ends.
package awake

import (
	"context"
	"errors"
	"sync"
	"time"
)

// patience is how long the system may take to answer.
const patience = 400 * time.Millisecond

var errNoAnswer = errors.New("no answer within " + patience.String())

// Hold asks the system to stay awake and to keep the screen on, for the reason why, which the system may show to people.
// It takes less than half a second; cancelling ctx ends the asking only.
//
// The error says what may happen all the same: it is worth a remark, never a reason to stop. release is not nil even then;
// it takes everything back, and may be called more than once and from any goroutine.
func Hold(ctx context.Context, why string) (release func(), err error) {
	ctx, cancel := context.WithTimeoutCause(ctx, patience, errNoAnswer)
	defer cancel()
	release, err = hold(ctx, why)
	return sync.OnceFunc(release), err
}
