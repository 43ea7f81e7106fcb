package pump

import (
	"breakcue/audio"
	"breakcue/detect"
)

// gauge watches the samples of each channel for clipping, over a round at a time.
type gauge struct {
	channels  []extremes
	round     int64 // [frames]
	left      int64 // of the round
	remarks   [][]Caveat
	frameSize int
}

// gaugeRound is how long samples are gathered before something is said of them [s].
const gaugeRound = 2

func newGauge(f audio.Format) gauge {
	n := int64(gaugeRound * f.SampleRate)
	return gauge{channels: make([]extremes, f.Channels), remarks: make([][]Caveat, f.Channels), round: n, left: n, frameSize: f.Channels}
}

func (g *gauge) add(block []float32) {
	for c := range g.channels {
		g.channels[c].take(block, g.frameSize, c)
	}
	if g.left -= int64(len(block) / g.frameSize); g.left > 0 {
		return
	}
	for c := range g.channels {
		g.remarks[c] = g.channels[c].caveats()
		g.channels[c] = extremes{}
	}
	g.left = g.round
}

// Health is what can be said of the signal now.
type Health struct {
	Known   bool  // both levels are known
	Reason  error // why they are not: one of the Err values of package detect, or nil when nothing was asked yet
	Channel int   // with the tone, from 0; -1: none
	// Levels are those that are followed now. Before they are known, Closed (in line) or Open (across) is that of the tone as it
	// comes back, and 0 when it does not.
	Levels  detect.Levels
	Caveats []Caveat // of the last seconds: clipping
	// Off tells why the cable is off, and is empty while it is on, as far as that can be told.
	Off detect.Cause
}

// Health returns what can be said of the signal now.
func (l *Follower) Health() Health {
	h := Health{Reason: l.reason, Channel: -1}
	if l.det != nil && (l.given.used || l.given.cfg.SampleRate == 0 || l.reason == nil) {
		h.Known, h.Channel, h.Levels, h.Off = true, l.det.Config().Channel, l.det.Now(), l.det.Off()
	} else if h.Channel = l.found.Channel; l.found.Tone > 0 {
		h.Levels = detect.Levels{Closed: l.found.High, Noise: l.found.Noise}
		if l.opt.Wiring == detect.Shunt {
			h.Levels.Closed, h.Levels.Open = 0, l.found.High
		}
	}
	if h.Channel >= 0 {
		h.Caveats = l.quality.remarks[h.Channel]
	}
	return h
}
