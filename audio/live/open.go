//go:build cgo && !nolive

package live

import (
	"cmp"
	"errors"
	"time"

	"github.com/gordonklaus/portaudio"
)

// longestLatency is the most that is asked of a driver: some call hours their usual latency.
const longestLatency = 100 * time.Millisecond

// Open opens the devices that o names and starts them: the test tone begins to rise with the first callback. A refused rate gives a
// *DeviceError with a *RateError; a name that fits no device, or several, one with ErrNoDevice or ErrAmbiguous; a device that does
// not answer within some seconds one with ErrNoAnswer.
//
// The libraries below print on standard error whenever they like, not only during this call: see Quiet.
func Open(o Options) (*Stream, error) {
	if err := o.check(); err != nil {
		return nil, err
	}
	if err := begin(); err != nil {
		return nil, err
	}
	s, err := open(o)
	if err != nil {
		return nil, errors.Join(err, ignoreHung(end()))
	}
	return s, nil
}

// ignoreHung drops what follows from an error that was told already.
func ignoreHung(err error) error {
	if errors.Is(err, ErrNoAnswer) {
		return nil
	}
	return err
}

func open(o Options) (*Stream, error) {
	infos, list, err := devices(time.Time{})
	if err != nil {
		return nil, err
	}
	in, out, err := choose(list, o.Device)
	if err != nil {
		return nil, err
	}
	name := list[in].Name
	refuse := func(err error) error { return &DeviceError{Device: name, What: "open", Err: err} }
	ins, err := o.inputs(list[in])
	if err != nil {
		return nil, refuse(err)
	}
	outs, err := o.outputs(list[out])
	if err != nil {
		return nil, refuse(err)
	}
	p := portaudio.LowLatencyParameters(infos[in], infos[out])
	p.Input.Channels, p.Output.Channels = ins, outs
	p.Input.Latency, p.Output.Latency = usable(p.Input.Latency), usable(p.Output.Latency)
	p.FramesPerBuffer = o.Frames
	rate := cmp.Or(o.Rate, int(infos[in].DefaultSampleRate))
	p.SampleRate = float64(rate)
	e, err := newEngine(o, rate, ins, outs)
	if err != nil {
		return nil, err
	}
	s := newStream(e, Info{Input: name, Output: list[out].Name, HostAPI: list[in].HostAPI}, nil)
	streams, err := s.start(o, p, infos, list)
	if err != nil {
		e.fading.Store(true) // should it start all the same, later
		s.second.fade()
		if stop(streams, false) == nil && !errors.Is(err, ErrNoAnswer) {
			e.wake.close()
		}
		return nil, err
	}
	s.stop = func(running bool) error {
		err := stop(streams, running)
		if err == nil {
			err = end()
		}
		if err != nil {
			return &DeviceError{Device: name, What: "stop", Err: err}
		}
		return nil
	}
	return s, nil
}

// start opens and starts what the stream needs. The streams that it returns are open also when there is an error.
func (s *Stream) start(o Options, p portaudio.StreamParameters, infos []*portaudio.DeviceInfo, list []Device) (streams []*portaudio.Stream, err error) {
	e := s.engine
	main, err := openStream(s.info.Input, p, func(in, out []float32, _ portaudio.StreamCallbackTimeInfo, flags portaudio.StreamCallbackFlags) {
		e.process(in, out, flags != 0, time.Now())
	})
	if err != nil {
		return nil, err
	}
	streams = append(streams, main)
	if o.Alert != nil && o.Alert.Device != "" {
		alert, err := s.openSecond(*o.Alert, infos, list)
		if err != nil {
			return streams, err
		}
		streams = append(streams, alert)
	}
	for i, stream := range streams {
		name := s.info.Input
		if i > 0 {
			name = s.info.Alert
		}
		if err := do("start "+name, openTime, stream.Start); err != nil {
			return streams, &DeviceError{Device: name, What: "start", Err: err}
		}
	}
	return streams, nil
}

// openSecond opens the alert's own device at its own rate.
func (s *Stream) openSecond(a Alert, infos []*portaudio.DeviceInfo, list []Device) (*portaudio.Stream, error) {
	i, err := chooseOutput(list, a.Device)
	if err != nil {
		return nil, err
	}
	d := list[i]
	outs, err := Options{Tone: a.Voice}.outputs(d)
	if err != nil {
		return nil, &DeviceError{Device: d.Name, What: "open", Err: err}
	}
	beep, err := newBeeper(a, int(d.DefaultRate))
	if err != nil {
		return nil, err
	}
	second := &second{alert: beep, outs: outs, name: d.Name}
	p := portaudio.LowLatencyParameters(nil, infos[i])
	p.SampleRate = d.DefaultRate
	p.Output.Channels = outs
	p.Output.Latency = usable(p.Output.Latency)
	stream, err := openStream(d.Name, p, func(out []float32) { second.process(out) })
	if err == nil {
		s.second, s.info.Alert = second, d.Name
	}
	return stream, err
}

// openStream opens one stream, or says what is wrong with its rate.
func openStream(name string, p portaudio.StreamParameters, callback any) (*portaudio.Stream, error) {
	stream, err := ask(library, "open "+name, openTime, func() (*portaudio.Stream, error) {
		err := portaudio.IsFormatSupported(p, callback)
		if errors.Is(err, portaudio.InvalidSampleRate) {
			device := p.Input.Device
			if device == nil {
				device = p.Output.Device
			}
			return nil, &RateError{Rate: int(p.SampleRate), Takes: rates(p, time.Now().Add(ratesTime), int(device.DefaultSampleRate))}
		}
		if err != nil {
			return nil, err
		}
		return portaudio.OpenStream(p, callback)
	})
	if err != nil {
		return nil, &DeviceError{Device: name, What: "open", Err: err}
	}
	return stream, nil
}

// stop ends streams. While they run, it waits until what they were given has been played.
func stop(streams []*portaudio.Stream, running bool) error {
	for _, stream := range streams {
		err := do("stop", endTime, func() error {
			if running {
				return stream.Stop()
			}
			return stream.Abort()
		})
		if errors.Is(err, ErrNoAnswer) {
			return err
		}
		if err := do("close", endTime, stream.Close); err != nil {
			return err
		}
	}
	return nil
}

// usable keeps a latency within reason.
func usable(d time.Duration) time.Duration { return min(max(d, 0), longestLatency) }
