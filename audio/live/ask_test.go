//go:build cgo && !nolive

package live

import (
	"errors"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestAsk(t *testing.T) {
	c := newCaller()
	got, err := ask(c, "add", time.Hour, func() (int, error) { return 3, nil })
	require.NoError(t, err)
	assert.Equal(t, 3, got)
	boom := errors.New("boom")
	_, err = ask(c, "add", time.Hour, func() (int, error) { return 0, boom })
	assert.Equal(t, boom, err)
}

// A call that hangs ends the wait, and no call is made after it.
func TestAskAHungLibrary(t *testing.T) {
	c := newCaller()
	_, err := ask(c, "start", time.Hour, func() (int, error) { return 0, nil }) // a busy machine takes its time to begin with the goroutine
	require.NoError(t, err)
	never := make(chan int)
	defer close(never)
	_, err = ask(c, `open "card"`, 100*time.Millisecond, func() (int, error) { return <-never, nil })
	assert.EqualError(t, err, "no answer from the sound system in 100ms")
	assert.ErrorIs(t, err, ErrNoAnswer)
	_, err = ask(c, "close it", time.Hour, func() (int, error) { panic("called") })
	assert.EqualError(t, err, `no answer from the sound system since it was asked to open "card"`)
	assert.ErrorIs(t, err, ErrNoAnswer)
}

// Waiting for somebody else's call is no sign that the library hangs.
func TestAskABusyLibrary(t *testing.T) {
	c := newCaller()
	begun, end, done := make(chan bool), make(chan bool), make(chan error)
	go func() {
		_, err := ask(c, "think", time.Hour, func() (int, error) { begun <- true; <-end; return 0, nil })
		done <- err
	}()
	<-begun
	_, err := ask(c, "hurry", time.Millisecond, func() (int, error) { panic("called") })
	assert.ErrorIs(t, err, ErrNoAnswer)
	end <- true
	require.NoError(t, <-done)
	got, err := ask(c, "go on", time.Hour, func() (int, error) { return 1, nil })
	assert.NoError(t, err)
	assert.Equal(t, 1, got)
}
