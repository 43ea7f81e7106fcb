//go:build cgo && !nolive

package live

import (
	"fmt"
	"sync"
	"sync/atomic"
	"time"

	"github.com/gordonklaus/portaudio"
)

// Available tells that this build has live audio.
const Available = true

// library guards PortAudio, which is one for the whole process and may be started by one goroutine at a time.
var library sync.Mutex

// stuck tells that a call into PortAudio, which cannot be taken back, has not returned in time and holds library.
var stuck atomic.Bool

// answerTime is how long the sound system may take to list its devices.
const answerTime = 5 * time.Second

// Devices lists the sound cards; the list is empty when there are none. What the libraries below PortAudio print on
// standard error meanwhile is dropped, and so is what the program itself prints there during the call. It may take
// some seconds while a sound server starts; one that does not answer within five is an error, and until it answers
// nothing else of this package works.
func Devices() ([]Device, error) {
	silent := fmt.Errorf("live: list devices, got no answer of the sound system, want one within %v", answerTime)
	if stuck.Load() {
		return nil, silent
	}
	type answer struct {
		list []Device
		err  error
	}
	var a answer
	library.Lock()
	_ = quietly(func() error {
		done := make(chan answer, 1)
		go func() {
			defer library.Unlock()
			list, err := listDevices()
			done <- answer{list, err}
			stuck.Store(false)
		}()
		select {
		case a = <-done:
		case <-time.After(answerTime):
			stuck.Store(true)
			select {
			case a = <-done: // in this very moment
				stuck.Store(false)
			default:
				a.err = silent
			}
		}
		return nil
	})
	return a.list, a.err
}

// listDevices starts PortAudio, asks it and stops it.
func listDevices() ([]Device, error) {
	if err := portaudio.Initialize(); err != nil {
		return nil, fmt.Errorf("live: start PortAudio: %w", err)
	}
	list, err := devices()
	if endErr := portaudio.Terminate(); err == nil && endErr != nil {
		err = fmt.Errorf("live: stop PortAudio: %w", endErr)
	}
	return list, err
}

func devices() ([]Device, error) {
	infos, err := portaudio.Devices()
	if err != nil {
		return nil, fmt.Errorf("live: list devices: %w", err)
	}
	// An error here says that there is no default.
	in, _ := portaudio.DefaultInputDevice()
	out, _ := portaudio.DefaultOutputDevice()
	var list []Device
	deadline := time.Now().Add(ratesTime)
	for _, d := range infos {
		list = append(list, Device{
			Name:              d.Name,
			HostAPI:           d.HostApi.Name,
			MaxInputs:         d.MaxInputChannels,
			MaxOutputs:        d.MaxOutputChannels,
			DefaultRate:       d.DefaultSampleRate,
			Rates:             rates(d, deadline),
			LowInputLatency:   d.DefaultLowInputLatency,
			HighInputLatency:  d.DefaultHighInputLatency,
			LowOutputLatency:  d.DefaultLowOutputLatency,
			HighOutputLatency: d.DefaultHighOutputLatency,
			DefaultInput:      d == in,
			DefaultOutput:     d == out,
		})
	}
	return list, nil
}
