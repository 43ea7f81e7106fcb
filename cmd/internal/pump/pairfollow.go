package pump

import (
	"fmt"
	"time"

	"breakcue/audio"
	"breakcue/detect"
)

// PairOptions are what is known of live sound with two tones in one channel, one for each set of points.
type PairOptions struct {
	Tones   [2]float64 // [Hz]
	Channel int        // from 1; may be 0 where there is only one
	Wiring  detect.Wiring
	Hold    time.Duration // 0: detect.DefaultHold
	// Begin is the frame from which on the tones stand at their levels.
	Begin int64
	// Profiles are the levels of each set where they were measured before; nil: they are learnt. See FollowOptions.Profile.
	Profiles [2]*detect.Profile
}

// PairFollower does for two sets of points what a Follower does for one: their tones, summed in one channel, are taken apart, and a Follower
// hears each. So a set can be followed while the levels of the other are not known yet. The events of set 1 and 2 have these numbers as Set; their
// IDs differ. Same input, same events, however the sound is cut into blocks.
type PairFollower struct {
	format  audio.Format
	channel int   // from 0
	n       int64 // number of the next frame; the Split is behind while sound is held back
	hum     humWatch
	mono    []float32
	split   *detect.Split
	sets    [2]*Follower
	heard   [2]bool // something was passed on to the Follower
	decided [2]map[int64]int64
	buf     []detect.Event
	quality gauge
	silence []float32
}

// NewPairFollower returns a PairFollower at frame 0. Errors: an option that does not fit the format, tones too near to each other.
func NewPairFollower(f audio.Format, opt PairOptions) (*PairFollower, error) {
	channel := opt.Channel
	if channel == 0 && f.Channels == 1 {
		channel = 1
	}
	if channel < 1 || channel > f.Channels {
		return nil, &OptionError{"channel", fmt.Sprint(opt.Channel), fmt.Sprintf("1 to %d: the one in which both tones come back", f.Channels)}
	}
	l := &PairFollower{format: f, channel: channel - 1, quality: newGauge(f), silence: make([]float32, blockFrames),
		hum: newHumWatch(f, opt)}
	mono := f
	mono.Channels = 1
	for i, hz := range opt.Tones {
		one, err := NewFollower(mono, FollowOptions{Tone: hz, Channel: 1, Wiring: opt.Wiring, Hold: opt.Hold, Begin: opt.Begin, Profile: opt.Profiles[i]})
		if err != nil {
			return nil, err
		}
		l.sets[i], l.decided[i] = one, map[int64]int64{}
	}
	var err error
	l.split, err = detect.NewSplit(f.SampleRate, 1, 0, opt.Tones)
	return l, err
}

// Process takes a block of whole frames and appends the events that it brings to dst.
func (l *PairFollower) Process(dst []detect.Event, block []float32) []detect.Event {
	ch := l.format.Channels
	for len(block) > 0 {
		n := int(min(int64(len(block)/ch), int64(l.split.Most()), l.hum.most()))
		l.quality.add(block[:n*ch])
		l.mono = l.mono[:0]
		for i := l.channel; i < n*ch; i += ch {
			l.mono = append(l.mono, block[i])
		}
		block = block[n*ch:]
		l.n += int64(n)
		if !l.hum.add(l.mono) {
			l.split.Process(l.mono)
			dst = l.passOn(dst)
		}
		dst = l.takeOff(dst, false)
	}
	return dst
}

// takeOff has hum taken off that has been found, and passes on what was held back for it; with all there is to be no more of that.
func (l *PairFollower) takeOff(dst []detect.Event, all bool) []detect.Event {
	held, hum := l.hum.look(all)
	if hum.Freq > 0 {
		l.split.TakeOff(hum)
	}
	for len(held) > 0 {
		n := min(len(held), l.split.Most())
		l.split.Process(held[:n])
		held = held[n:]
		dst = l.passOn(dst)
	}
	return dst
}

// passOn lets each Follower hear what has become clear.
func (l *PairFollower) passOn(dst []detect.Event) []detect.Event {
	for i, f := range l.sets {
		sound, unheard := l.split.Take(i)
		if unheard > 0 && l.heard[i] {
			l.buf = f.Skip(l.buf[:0], unheard) // the gap itself was told of
			for k := range l.buf {
				if e := l.buf[k]; e.Kind != detect.KindFault {
					dst = l.mark(append(dst, e), len(dst), i)
				}
			}
		}
		for ; unheard > 0 && !l.heard[i]; unheard -= min(unheard, blockFrames) { // as if the recording began with silence
			f.Process(nil, l.silence[:min(unheard, blockFrames)])
		}
		if len(sound) > 0 {
			l.heard[i] = true
			k := len(dst)
			dst = l.mark(f.Process(dst, sound), k, i)
		}
		l.split.Guide(i, f.det, f.base)
	}
	return dst
}

// mark gives the events from index k on their set, an ID of their own and the frame at which they really were decided.
func (l *PairFollower) mark(dst []detect.Event, k, i int) []detect.Event {
	for j := k; j < len(dst); j++ {
		e := &dst[j]
		at, was := l.decided[i][e.ID]
		if !was {
			at = max(e.DecidedFrame, l.n-1)
			l.decided[i][e.ID] = at
		}
		if e.Stage == detect.Settled || e.Stage == detect.Withdrawn {
			delete(l.decided[i], e.ID)
		}
		e.DecidedFrame, e.Set, e.ID = at, i+1, 2*e.ID-int64(1-i)
	}
	return dst
}

// Skip tells that lost frames are missing before the next one.
func (l *PairFollower) Skip(dst []detect.Event, lost int64) []detect.Event {
	if lost < 1 {
		return dst
	}
	dst = l.takeOff(dst, true)
	l.hum.skip()
	l.split.Finish()
	dst = l.passOn(dst)
	for i, f := range l.sets {
		k := len(dst)
		dst = l.mark(f.Skip(dst, lost), k, i)
	}
	l.split.Skip(lost)
	l.n += lost
	return dst
}

// Flush ends the stream.
func (l *PairFollower) Flush(dst []detect.Event) []detect.Event {
	dst = l.takeOff(dst, true)
	l.split.Finish()
	dst = l.passOn(dst)
	for i, f := range l.sets {
		k := len(dst)
		dst = l.mark(f.Flush(dst), k, i)
	}
	return dst
}

// State returns what is known of a set, 1 or 2, at the newest frame: see Follower.State.
func (l *PairFollower) State(set int) detect.State { return l.sets[set-1].State() }

// Learnt returns the Config with the levels of a set, 1 or 2, that are followed, and how often levels were learnt: see Follower.Learnt.
func (l *PairFollower) Learnt(set int) (cfg detect.Config, times int) {
	cfg, times = l.sets[set-1].Learnt()
	if cfg.SampleRate > 0 {
		cfg.Channels, cfg.Channel, cfg.Set = l.format.Channels, l.channel, set
		if l.hum.hum.Freq > 0 {
			cfg.Profile.Hum = l.hum.hum // which has been taken off what the Follower hears
		}
	}
	return cfg, times
}

// Health returns what can be said of the signal of a set, 1 or 2.
func (l *PairFollower) Health(set int) Health {
	h := l.sets[set-1].Health()
	h.Caveats = nil
	if h.Channel >= 0 {
		h.Channel, h.Caveats = l.channel, l.quality.remarks[l.channel]
	}
	return h
}

// ProfileFits tells whether the levels given for a set, 1 or 2, are gone by: see Follower.ProfileFits.
func (l *PairFollower) ProfileFits(set int) (fits bool, why string) {
	return l.sets[set-1].ProfileFits()
}

// EdgeModel returns the shape of the edges of a set, 1 or 2, heard up to now.
func (l *PairFollower) EdgeModel(set int) detect.EdgeModel { return l.sets[set-1].EdgeModel() }

// Frame returns the number of the next frame.
func (l *PairFollower) Frame() int64 { return l.n }
