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

// survey is the first reading. What it notices becomes caveats once, however many tones there are.
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
	s, err := detect.NewSurvey(a.Format.SampleRate, a.Format.Channels, detect.SurveyOptions{Tone: hz, Channel: opt.Channel, Wiring: opt.Wiring})
	if err != nil {
		return detect.Config{}, detect.Findings{}, err
	}
	tops := make([]extremes, a.Format.Channels)
	end, err := each(ctx, src, a.Span, func(block []float32) error {
		s.Write(block)
		for c := range tops {
			for i := c; i < len(block); i += len(tops) {
				tops[c].add(float64(block[i]))
			}
		}
		return nil
	}, func(int64) {})
	if err == nil {
		end, err = a.rest(ctx, src, end)
	}
	if err != nil {
		return detect.Config{}, detect.Findings{}, err
	}
	a.Frames = end.Frames
	if length := end.Frames + end.Lost; a.Span.From > 0 && a.Span.From >= length {
		return detect.Config{}, detect.Findings{}, &OptionError{"--from", opt.From.String(), fmt.Sprintf("less than %v: the recording ends there",
			a.Format.Duration(length).Round(time.Millisecond))}
	}
	cfg, found, err := s.Result()
	if hz == opt.Tones[0] {
		a.notice(end, found, tops)
	}
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
	after, err := each(ctx, src, Span{From: math.MaxInt64}, nil, nil)
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

// notice turns what the first reading saw into caveats.
func (a *Analysis) notice(end End, found detect.Findings, tops []extremes) {
	if end.Truncated {
		a.add("truncated", "the file ends early: all that is there was looked at; copy it again from where it came if you can")
	}
	if n := found.NotFinite; n > 0 {
		a.add("not_finite", fmt.Sprintf("%s (NaN, infinite or absurdly large) and counted as silence: the file is damaged or was badly converted",
			Count(int(n), "sample is no number", "samples are no numbers")))
	}
	if found.Channel >= 0 {
		a.Caveats = append(a.Caveats, tops[found.Channel].caveats()...)
	}
}

// toneInstead looks for a tone other than those that were asked for; 0: there is none that could be used.
func (a *Analysis) toneInstead(ctx context.Context, open func() (audio.Source, error), opt Options) float64 {
	_, found, err := a.survey(ctx, open, opt, 0)
	if err != nil && !errors.Is(err, detect.ErrManyTones) {
		return 0
	}
	return found.Tone
}
