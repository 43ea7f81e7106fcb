package awake

import (
	"context"
	"errors"
	"io"
	"os"
	"testing"

	"github.com/godbus/dbus/v5"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// absent is a bus that this machine does not have.
func absent(...dbus.ConnOption) (*dbus.Conn, error) { return nil, errors.New("no such bus") }

// A lock of logind is a file that the caller keeps: the far end of a pipe tells when the last copy is closed.
func lockOf(t *testing.T) (lock, watch *os.File) {
	watch, lock, err := os.Pipe()
	require.NoError(t, err)
	t.Cleanup(func() { watch.Close() })
	return lock, watch
}

func TestHoldsBothUntilRelease(t *testing.T) {
	lock, watch := lockOf(t)
	system := newBus(t, func(string, []any) (any, error) { return lock, nil })
	session := newBus(t, func(string, []any) (any, error) { return uint32(77), nil })

	release, err := holdBoth(context.Background(), "points being set", system.dial, session.dial)
	require.NoError(t, err)
	assert.Equal(t, "/org/freedesktop/login1 Inhibit [idle:sleep breakcue points being set block]", <-system.calls)
	assert.Equal(t, "/org/freedesktop/ScreenSaver Inhibit [breakcue points being set]", <-session.calls)
	<-system.gone
	assert.Empty(t, session.gone, "the desktop forgets what it was asked when the connection ends")

	release()
	rest, err := io.ReadAll(watch)
	assert.NoError(t, err, "the lock is closed")
	assert.Empty(t, rest)
	assert.Equal(t, "/org/freedesktop/ScreenSaver UnInhibit [77]", <-session.calls)
	<-session.gone
}

func TestHoldsTheLockUntilRelease(t *testing.T) {
	lock, watch := lockOf(t)
	system := newBus(t, func(string, []any) (any, error) { return lock, nil })
	release, err := holdBoth(context.Background(), "work", system.dial, absent)
	assert.EqualError(t, err, "awake: the screen may go blank (no such bus)")
	<-system.gone

	ended := make(chan struct{})
	go func() {
		defer close(ended)
		_, _ = watch.Read(make([]byte, 1))
	}()
	select {
	case <-ended:
		t.Error("the lock was given back before release")
	default:
	}
	release()
	<-ended
}

// Over ssh logind refuses the lock against sleep, and grants the one against idling.
func TestFallsBackToIdle(t *testing.T) {
	lock, watch := lockOf(t)
	system := newBus(t, func(_ string, args []any) (any, error) {
		if args[0] != "idle" {
			return nil, errors.New("interactive authentication required")
		}
		return lock, nil
	})
	release, err := holdBoth(context.Background(), "work", system.dial, absent)
	assert.EqualError(t, err, "awake: the screen may go blank (no such bus)")
	assert.Contains(t, <-system.calls, "[idle:sleep breakcue")
	assert.Contains(t, <-system.calls, "[idle breakcue")
	release()
	_, err = io.ReadAll(watch)
	assert.NoError(t, err)
}

func TestSaysWhatMayHappen(t *testing.T) {
	refuse := func(string, []any) (any, error) { return nil, errors.New("not allowed") }
	wrong := func(string, []any) (any, error) { return "neither a file nor a number", nil }
	cookie := func(string, []any) (any, error) { return uint32(1), nil }
	for _, c := range []struct {
		name            string
		system, session dial
		want            string
	}{
		{"no bus", absent, absent, "awake: the computer may go to sleep (no such bus) and the screen blank (no such bus)"},
		{"no system bus", absent, newBus(t, cookie).dial, "awake: the computer may go to sleep (no such bus)"},
		{"refused", newBus(t, refuse).dial, newBus(t, refuse).dial, "awake: the computer may go to sleep (not allowed) and the screen blank (not allowed)"},
		{"nonsense", newBus(t, wrong).dial, newBus(t, cookie).dial, "awake: the computer may go to sleep (dbus.Store: type mismatch: cannot convert string to dbus.UnixFD)"},
	} {
		t.Run(c.name, func(t *testing.T) {
			release, err := holdBoth(context.Background(), "work", c.system, c.session)
			assert.EqualError(t, err, c.want)
			require.NotNil(t, release)
			release()
		})
	}
}

// A bus that takes the connection and then says nothing: what ends the waiting is the context, here without a clock.
func TestGivesUpOnASilentBus(t *testing.T) {
	silent := newBus(t, nil)
	ctx, cancel := context.WithCancelCause(context.Background())
	go func() {
		<-silent.came
		<-silent.came
		cancel(errNoAnswer)
	}()
	release, err := holdBoth(ctx, "work", silent.dial, silent.dial)
	assert.EqualError(t, err, "awake: the computer may go to sleep (no answer within 400ms) and the screen blank (no answer within 400ms)")
	assert.ErrorIs(t, err, errNoAnswer)
	release()
	<-silent.gone
	<-silent.gone
}

// A bus that greets, and whose services then say nothing.
func TestGivesUpOnASilentService(t *testing.T) {
	ctx, cancel := context.WithCancelCause(context.Background())
	end := make(chan struct{})
	bus := newBus(t, func(string, []any) (any, error) {
		cancel(errNoAnswer)
		<-end
		return nil, errors.New("too late")
	})
	release, err := holdBoth(ctx, "work", bus.dial, absent)
	assert.ErrorIs(t, err, errNoAnswer)
	release()
	close(end)
	<-bus.gone
}

// Whatever this machine has, Hold comes back, and release may be called again.
func TestHold(t *testing.T) {
	release, err := Hold(context.Background(), "a test")
	if err != nil {
		assert.ErrorContains(t, err, "may go")
	}
	release()
	release()
}
