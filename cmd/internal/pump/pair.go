package pump

import (
	"context"
	"errors"

	"breakcue/audio"
	"breakcue/detect"
)

// Set is what a recording holds of one set of points.
type Set struct {
	Config detect.Config // with the angle between the levels, where there is one
	Found  detect.Findings
	Levels detect.Levels // measured by the detector
	Model  detect.EdgeModel
}

// newHearer returns what hears one set of points, or two that share a channel, and the detector of each.
func newHearer(configs []detect.Config) (Hearer, []*detect.Detector, error) {
	if len(configs) == 1 {
		d, err := detect.New(configs[0])
		return d, []*detect.Detector{d}, err
	}
	p, err := detect.NewPair(configs[0], configs[1])
	if err != nil {
		return nil, nil, err
	}
	return p, []*detect.Detector{p.Detector(0), p.Detector(1)}, nil
}

// setOf returns the index of the configuration whose set of points an event is of.
func setOf(configs []detect.Config, e detect.Event) int {
	if len(configs) > 1 && e.Set == configs[1].Set {
		return 1
	}
	return 0
}

// beside returns the other one of two tones that were asked for; 0: there is none.
func (o Options) beside(hz float64) float64 {
	if len(o.Tones) == 2 && o.Tones[0] == hz {
		return o.Tones[1]
	}
	if len(o.Tones) == 2 && o.Tones[1] == hz {
		return o.Tones[0]
	}
	return 0
}

// surveyed is what a survey came to; err is a refusedError, or nil.
type surveyed struct {
	cfg   detect.Config
	found detect.Findings
	err   error
}

// surveyApart surveys two tones that share a channel anew, each less the other: the edges of the one look like steps of the other. What was
// found before stays where no more is found so, and where there are no two tones.
func (a *Analysis) surveyApart(ctx context.Context, open func() (audio.Source, error), opt Options, heard []surveyed) error {
	if len(heard) != 2 || heard[0].found.Channel != heard[1].found.Channel || heard[0].found.Tone == 0 || heard[1].found.Tone == 0 {
		return nil
	}
	channel := heard[0].found.Channel
	split, err := detect.NewSplit(a.Format.SampleRate, a.Format.Channels, channel, [2]float64{heard[0].found.Tone, heard[1].found.Tone})
	if err != nil { // too near to each other, or at the end of the range
		return nil
	}
	hum := heard[0].cfg.Profile.Hum // of the same sound
	if hum.Freq == 0 {
		hum = heard[1].cfg.Profile.Hum
	}
	split.TakeOff(hum)
	var surveys [2]*detect.Survey
	for i := range surveys {
		surveys[i], err = detect.NewSurvey(a.Format.SampleRate, 1, detect.SurveyOptions{Tone: opt.Tones[i], Channel: 1, Wiring: opt.Wiring})
		if err != nil {
			return err
		}
	}
	var begun [2]bool
	take := func() {
		for i, s := range surveys {
			sound, unheard := split.Take(i)
			if !begun[i] { // as if it began with silence; what is missing later is not worth it
				s.Write(make([]float32, unheard))
			}
			s.Write(sound)
			begun[i] = begun[i] || len(sound) > 0
		}
	}
	_, err = withSource(open, func(src audio.Source) (End, error) {
		return each(ctx, src, a.Span, func(block []float32) error {
			for len(block) > 0 {
				n := min(len(block), split.Most()*a.Format.Channels)
				split.Process(block[:n])
				block = block[n:]
				take()
			}
			return nil
		}, func(lost int64) {
			split.Finish()
			take()
			split.Skip(lost)
		}, nil)
	})
	if err != nil {
		return err
	}
	split.Finish()
	take()
	for i, s := range surveys {
		cfg, found, err := s.Result()
		if errors.Is(err, detect.ErrNoChange) && found.Thinned {
			err = nil // as in a survey of one tone
		}
		if err != nil && heard[i].err == nil {
			continue
		}
		cfg.Channels, cfg.Channel, cfg.Hold, found.Channel = a.Format.Channels, channel, opt.Hold, channel
		cfg.Profile.Offset = heard[i].cfg.Profile.Offset // which has been taken off
		cfg.Profile.Hum, found.Hum = hum, hum            // so has this
		heard[i] = surveyed{cfg: cfg, found: found}
		if err != nil {
			heard[i].err = refusedError{err}
		}
	}
	return nil
}
