package awake

import (
	"cmp"
	"context"
	"fmt"
	"os"

	"github.com/godbus/dbus/v5"
)

// who is the name under which the system lists what is held.
const who = "breakcue"

// dial opens a connection of its own to a bus; the greeting is still to come.
type dial func(...dbus.ConnOption) (*dbus.Conn, error)

func hold(ctx context.Context, why string) (func(), error) {
	return holdBoth(ctx, why, dbus.SystemBusPrivate, dbus.SessionBusPrivateNoAutoStartup)
}

// holdBoth asks logind on the system bus and the desktop on the session bus, at the same time.
func holdBoth(ctx context.Context, why string, system, session dial) (func(), error) {
	type answer struct {
		release func()
		err     error
	}
	screen := make(chan answer, 1)
	go func() {
		release, err := holdScreen(ctx, why, session)
		screen <- answer{release, err}
	}()
	wake, sleepErr := holdSleep(ctx, why, system)
	s := <-screen
	release := func() {
		wake()
		s.release()
	}
	switch {
	case sleepErr != nil && s.err != nil:
		return release, fmt.Errorf("awake: the computer may go to sleep (%w) and the screen blank (%w)", sleepErr, s.err)
	case sleepErr != nil:
		return release, fmt.Errorf("awake: the computer may go to sleep (%w)", sleepErr)
	case s.err != nil:
		return release, fmt.Errorf("awake: the screen may go blank (%w)", s.err)
	}
	return release, nil
}

// holdSleep takes an inhibitor lock of logind, which lasts until its file is closed. Where no one sits at the machine, as
// over ssh, logind grants the lock against idling only.
// Source: org.freedesktop.login1(5), Manager.Inhibit; systemd's "Inhibitor Locks".
func holdSleep(ctx context.Context, why string, system dial) (func(), error) {
	conn, err := connect(ctx, system)
	if err != nil {
		return func() {}, err
	}
	defer conn.Close()
	manager := conn.Object("org.freedesktop.login1", "/org/freedesktop/login1")
	for _, what := range []string{"idle:sleep", "idle"} {
		var fd dbus.UnixFD
		err = manager.CallWithContext(ctx, "org.freedesktop.login1.Manager.Inhibit", dbus.FlagNoAutoStart, what, who, why, "block").Store(&fd)
		if err == nil {
			lock := os.NewFile(uintptr(fd), "inhibitor lock")
			return func() { lock.Close() }, nil
		}
	}
	return func() {}, cmp.Or(context.Cause(ctx), err)
}

// holdScreen asks the desktop to keep the screen on, which lasts until it is taken back or the connection ends.
// Source: freedesktop.org, Idle Inhibition Service draft, org.freedesktop.ScreenSaver.
func holdScreen(ctx context.Context, why string, session dial) (func(), error) {
	conn, err := connect(ctx, session)
	if err != nil {
		return func() {}, err
	}
	const name = "org.freedesktop.ScreenSaver"
	saver := conn.Object(name, "/org/freedesktop/ScreenSaver")
	var cookie uint32
	if err := saver.CallWithContext(ctx, name+".Inhibit", dbus.FlagNoAutoStart, who, why).Store(&cookie); err != nil {
		conn.Close()
		return func() {}, cmp.Or(context.Cause(ctx), err)
	}
	return func() {
		saver.Go(name+".UnInhibit", dbus.FlagNoAutoStart|dbus.FlagNoReplyExpected, nil, cookie)
		conn.Close()
	}, nil
}

// connect opens a connection to a bus and greets it. A bus that does not answer holds nobody up: the end of ctx closes the
// connection until it stands.
func connect(ctx context.Context, bus dial) (*dbus.Conn, error) {
	life, end := context.WithCancel(context.Background())
	stop := context.AfterFunc(ctx, end)
	conn, err := bus(dbus.WithContext(life))
	if err != nil {
		end()
		return nil, err
	}
	err = conn.Auth(nil)
	if err == nil {
		err = conn.BusObject().CallWithContext(ctx, "org.freedesktop.DBus.Hello", 0).Err
	}
	if !stop() || err != nil {
		conn.Close()
		return nil, cmp.Or(context.Cause(ctx), err)
	}
	return conn, nil
}
