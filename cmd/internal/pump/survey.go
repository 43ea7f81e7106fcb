package pump

import (
	"context"
	"errors"
	"fmt"
	"math"
	"time"

	"breakcue/audio"
	"breakcue/detect"
)

// refusedError is a survey's reason why a recording cannot be judged.
type refusedError struct{ error }

// survey is the first reading, of as much as the survey wants to hear.
func (a *Analysis) survey(ctx context.Context, open func() (audio.Source, error), opt Options, hz float64) (detect.Config, detect.Findings, error) {
	src, err := open()
	if err != nil {
		return detect.Config{}, detect.Findings{}, err
	}
	defer src.Close()
	a.Format = src.Format()
	if err := opt.fit(a.Format, hz); err != nil {
		return detect.Config{}, detect.Findings{}, err
	}
	frame := func(d time.Duration) int64 { return int64(math.Round(d.Seconds() * float64(a.Format.SampleRate))) }
	a.Span = Span{From: frame(opt.From), To: frame(opt.To)}
	s, err := detect.NewSurvey(a.Format.SampleRate, a.Format.Channels, detect.SurveyOptions{Tone: hz, Channel: opt.Channel, Wiring: opt.Wiring, Beside: opt.beside(hz)})
	if err != nil {
		return detect.Config{}, detect.Findings{}, err
	}
	end, err := each(ctx, src, a.Span, func(block []float32) error {
		s.Write(block)
		return nil
	}, func(int64) {}, s)
	if err == nil {
		end, err = a.rest(ctx, src, end)
	}
	if err != nil {
		return detect.Config{}, detect.Findings{}, err
	}
	a.Frames, a.cut = end.Frames, end.Truncated
	if length := end.Frames + end.Lost; a.Span.From > 0 && a.Span.From >= length {
		return detect.Config{}, detect.Findings{}, &OptionError{"--from", opt.From.String(), fmt.Sprintf("less than %v: the recording ends there",
			a.Format.Duration(length).Round(time.Millisecond))}
	}
	cfg, found, err := s.Result()
	cfg.Hold = opt.Hold
	if errors.Is(err, detect.ErrNoChange) && found.Thinned {
		err = nil // the detector hears every sample, and says the same if it is so
	}
	if err == nil && hz == 0 && len(found.Others) > 0 {
		err = detect.ErrManyTones
	}
	if err != nil {
		err = refusedError{err}
	}
	return cfg, found, err
}

// rest counts what follows the stretch looked at, so that Frames and a cut are those of the whole recording. Where that
// part cannot be read, nobody asked for it: then the container's word is taken.
func (a *Analysis) rest(ctx context.Context, src audio.Source, end End) (End, error) {
	if a.Span.To == 0 || end.Truncated {
		return end, nil
	}
	after, err := each(ctx, src, Span{From: math.MaxInt64}, nil, nil, nil)
	if ctx.Err() != nil {
		return end, err
	}
	end.Frames += after.Frames
	end.Lost += after.Lost
	end.Truncated = after.Truncated
	if err != nil {
		end.Frames = max(end.Frames, a.Format.Frames)
	}
	return end, nil
}

// toneInstead looks for a tone other than those that were asked for; 0: there is none that could be used.
func (a *Analysis) toneInstead(ctx context.Context, open func() (audio.Source, error), opt Options) float64 {
	_, found, err := a.survey(ctx, open, opt, 0)
	if err != nil && !errors.Is(err, detect.ErrManyTones) {
		return 0
	}
	return found.Tone
}
