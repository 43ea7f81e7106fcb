//go:build cgo && !nolive

package live

import (
	"fmt"
	"time"

	"github.com/gordonklaus/portaudio"
)

// Available tells that this build has live audio.
const Available = true

// Devices lists the sound cards; the list is empty when there are none. What the libraries below PortAudio print on
// standard error meanwhile is dropped, and so is what the program itself prints there during the call. It may take
// some seconds while a sound server starts; the error wraps ErrNoAnswer when it takes too long.
func Devices() ([]Device, error) {
	if err := begin(); err != nil {
		return nil, err
	}
	_, list, err := devices(time.Now().Add(ratesTime))
	if endErr := end(); err == nil {
		err = endErr
	}
	if err != nil {
		return nil, err
	}
	return list, nil
}

// begin starts PortAudio; each success needs an end.
func begin() error {
	if err := do("start", beginTime, portaudio.Initialize); err != nil {
		return fmt.Errorf("live: start PortAudio: %w", err)
	}
	return nil
}

func end() error {
	if err := do("stop", endTime, portaudio.Terminate); err != nil {
		return fmt.Errorf("live: stop PortAudio: %w", err)
	}
	return nil
}

// listed is what PortAudio knows of the devices, twice.
type listed struct {
	infos []*portaudio.DeviceInfo
	list  []Device
}

// devices lists what there is. Until the deadline, each is asked for its rates.
func devices(deadline time.Time) ([]*portaudio.DeviceInfo, []Device, error) {
	l, err := ask(library, "list devices", openTime, func() (l listed, err error) {
		if l.infos, err = portaudio.Devices(); err != nil {
			return l, err
		}
		// An error here says that there is no default.
		in, _ := portaudio.DefaultInputDevice()
		out, _ := portaudio.DefaultOutputDevice()
		for _, d := range l.infos {
			l.list = append(l.list, Device{
				Name:              d.Name,
				HostAPI:           d.HostApi.Name,
				MaxInputs:         d.MaxInputChannels,
				MaxOutputs:        d.MaxOutputChannels,
				DefaultRate:       d.DefaultSampleRate,
				Rates:             rates(both(d), deadline, int(d.DefaultSampleRate)),
				LowInputLatency:   d.DefaultLowInputLatency,
				HighInputLatency:  d.DefaultHighInputLatency,
				LowOutputLatency:  d.DefaultLowOutputLatency,
				HighOutputLatency: d.DefaultHighOutputLatency,
				DefaultInput:      d == in,
				DefaultOutput:     d == out,
			})
		}
		return l, nil
	})
	if err != nil {
		return nil, nil, fmt.Errorf("live: list devices: %w", err)
	}
	return l.infos, l.list, nil
}

// both are parameters for a stream in the directions that d has.
func both(d *portaudio.DeviceInfo) portaudio.StreamParameters {
	switch {
	case d.MaxInputChannels == 0:
		return portaudio.HighLatencyParameters(nil, d)
	case d.MaxOutputChannels == 0:
		return portaudio.HighLatencyParameters(d, nil)
	}
	return portaudio.HighLatencyParameters(d, d)
}
