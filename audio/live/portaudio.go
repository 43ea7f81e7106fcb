//go:build cgo && !nolive

package live

import (
	"fmt"
	"sync"
	"time"

	"github.com/gordonklaus/portaudio"
)

// Available tells that this build has live audio.
const Available = true

// library guards PortAudio, which is one for the whole process and may be started by one goroutine at a time.
var library sync.Mutex

// Devices lists the sound cards; the list is empty when there are none. What the libraries below PortAudio print on
// standard error meanwhile is dropped, and so is what the program itself prints there during the call. It may take
// some seconds while a sound server starts.
func Devices() ([]Device, error) {
	library.Lock()
	defer library.Unlock()
	if err := quietly(portaudio.Initialize); err != nil {
		return nil, fmt.Errorf("live: start PortAudio: %w", err)
	}
	var list []Device
	err := quietly(func() (err error) { list, err = devices(); return err })
	if endErr := quietly(portaudio.Terminate); err == nil && endErr != nil {
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
