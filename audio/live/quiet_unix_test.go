//go:build unix

package live

import (
	"fmt"
	"io"
	"os"
	"os/exec"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/sys/unix"
)

// onScreen returns what f prints on file descriptor 2.
func onScreen(t *testing.T, f func()) string {
	r, w, err := os.Pipe()
	require.NoError(t, err)
	defer r.Close()
	screen, err := unix.Dup(2)
	require.NoError(t, err)
	require.NoError(t, unix.Dup2(int(w.Fd()), 2))
	f()
	require.NoError(t, unix.Dup2(screen, 2))
	require.NoError(t, unix.Close(screen))
	require.NoError(t, w.Close())
	seen, err := io.ReadAll(r)
	require.NoError(t, err)
	return string(seen)
}

// say prints as a C library does.
func say(text string) { unix.Write(2, []byte(text)) }

func TestMuteDropsStderrAndBringsItBack(t *testing.T) {
	seen := onScreen(t, func() {
		say("before ")
		one, err := mute()
		require.NoError(t, err)
		say("noise ")
		two, err := mute()
		require.NoError(t, err)
		say("noise ")
		one()
		one()
		say("noise ")
		two()
		say("after")
	})
	assert.Equal(t, "before after", seen)
}

func TestQuietKeepsAWayToTheScreen(t *testing.T) {
	seen := onScreen(t, func() {
		saved, restore, err := Quiet()
		require.NoError(t, err)
		say("noise ")
		fmt.Fprint(saved, "message ")
		unmute, err := mute()
		require.NoError(t, err)
		fmt.Fprint(saved, "another ")
		unmute()
		say("noise ")
		restore()
		restore()
		say("after")
		_, err = fmt.Fprint(saved, "too late")
		assert.ErrorIs(t, err, os.ErrClosed)
	})
	assert.Equal(t, "message another after", seen)
}

// A crash while standard error leads nowhere must leave its trace on the screen. The test runs itself anew to crash.
func TestQuietShowsCrashes(t *testing.T) {
	if os.Getenv("LIVE_TEST_CRASH") != "" {
		Quiet()
		done := make(chan bool)
		go func() { panic("a fault nobody expected") }()
		<-done
	}
	cmd := exec.Command(os.Args[0], "-test.run=^TestQuietShowsCrashes$")
	cmd.Env = append(os.Environ(), "LIVE_TEST_CRASH=1")
	out, err := cmd.CombinedOutput()
	require.Error(t, err)
	assert.Contains(t, string(out), "a fault nobody expected")
	assert.Contains(t, string(out), "TestQuietShowsCrashes")
}
