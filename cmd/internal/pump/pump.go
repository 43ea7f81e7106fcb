// Package pump is the one loop that carries sound from an audio.Source to a detect.Detector. Every command uses it, so
// that channel, gaps, cut files and recording are handled in one place.
package pump

import (
	"context"
	"errors"
	"io"

	"breakcue/audio"
	"breakcue/detect"
)

// blockFrames is how many frames are asked of a Source at a time.
const blockFrames = 4096

// Hearer is fed by Run: a *detect.Detector, or a *Follower that learns its levels by itself.
type Hearer interface {
	Process(dst []detect.Event, block []float32) []detect.Event
	Skip(dst []detect.Event, lost int64) []detect.Event
	Flush(dst []detect.Event) []detect.Event
}

// Taps are what a run does besides feeding the detectors. Each may be nil.
type Taps struct {
	// Event is called with each event at each stage, frames counted from the start of the Source.
	Event func(detect.Event)
	// Block is called with each block before the detectors see it: a recorder, a level meter. An error ends the run.
	Block func(block []float32) error
	// Gap is called where frames are lost, before Event is with what that does.
	Gap func(lost int64)
	// After is called after each block has gone through the detectors.
	After func()
}

// Span is a stretch of sound in frames from the start of the Source, From included, To not; To 0 means to the end.
type Span struct{ From, To int64 }

// End says how a run ended.
type End struct {
	Frames    int64 // frames read, those outside the span included, lost frames not
	Lost      int64 // frames lost in gaps
	Truncated bool  // the Source ended in the middle: io.ErrUnexpectedEOF
}

// Run reads src to its end and feeds every Hearer; at the end they are flushed. A cut file is not an error (see
// End.Truncated). The error is that of the Source, of a tap, or the cause of ctx.
func Run(ctx context.Context, src audio.Source, dets []Hearer, span Span, taps Taps) (End, error) {
	var events []detect.Event
	emit := func() {
		for _, e := range events {
			e.Frame += span.From
			e.LastFrame += span.From
			e.DecidedFrame += span.From
			e.Half += float64(span.From)
			if taps.Event != nil {
				taps.Event(e)
			}
		}
		events = events[:0]
	}
	end, err := each(ctx, src, span, func(block []float32) error {
		if taps.Block != nil {
			if err := taps.Block(block); err != nil {
				return err
			}
		}
		for _, d := range dets {
			events = d.Process(events, block)
		}
		emit()
		if taps.After != nil {
			taps.After()
		}
		return nil
	}, func(lost int64) {
		if taps.Gap != nil {
			taps.Gap(lost)
		}
		for _, d := range dets {
			events = d.Skip(events, lost)
		}
		emit()
	}, nil)
	for _, d := range dets {
		events = d.Flush(events)
	}
	emit()
	if err == nil && ctx.Err() != nil { // a tap may have ended the run with its last events
		err = context.Cause(ctx)
	}
	return end, err
}

// chooser does not need to hear everything: a *detect.Survey.
type chooser interface {
	// Next returns how many of the next frames it wants to hear, or how many it would pass over; one of the two is 0.
	Next() (hear, pass int64)
	// Pass tells that frames were passed over, at most what Next named.
	Pass(frames int64)
}

// each calls block with every stretch of src within the span, and gap where frames are lost within it. What lies before the span, and what
// the chooser (nil: there is none) would pass over, is not read where src can pass over it; otherwise block gets the latter too.
func each(ctx context.Context, src audio.Source, span Span, block func([]float32) error, gap func(int64), choose chooser) (End, error) {
	ch := src.Format().Channels
	buf := make([]float32, blockFrames*ch)
	skipper, _ := src.(audio.Skipper)
	var end End
	pos := int64(0)
	for span.To == 0 || pos < span.To {
		if ctx.Err() != nil {
			return end, context.Cause(ctx)
		}
		dst := buf
		if skipper != nil {
			hear, pass := ahead(span, pos, choose)
			if passed := skipper.Skip(pass); passed > 0 {
				if pos >= span.From {
					choose.Pass(passed)
				}
				end.Frames += passed
				pos += passed
				continue
			}
			if pass == 0 {
				dst = buf[:min(hear, blockFrames)*int64(ch)]
			}
		}
		n, err := src.Read(dst)
		var lost *audio.GapError
		switch {
		case errors.As(err, &lost):
			end.Lost += lost.Lost
			if a, b := clip(span, pos, pos+lost.Lost); b > a {
				gap(b - a)
			}
			pos += lost.Lost
			continue
		case errors.Is(err, io.EOF):
			return end, nil
		case errors.Is(err, io.ErrUnexpectedEOF):
			end.Truncated = true
			return end, nil
		case err != nil:
			return end, err
		}
		end.Frames += int64(n)
		if a, b := clip(span, pos, pos+int64(n)); b > a {
			if err := block(buf[(a-pos)*int64(ch) : (b-pos)*int64(ch)]); err != nil {
				return end, err
			}
		}
		pos += int64(n)
	}
	return end, nil
}

// ahead returns how many frames from pos on are to be heard, or how many are to be passed over; one of the two is 0.
func ahead(s Span, pos int64, choose chooser) (hear, pass int64) {
	if pos < s.From {
		return 0, s.From - pos
	}
	if choose == nil {
		return blockFrames, 0
	}
	hear, pass = choose.Next()
	if s.To > 0 {
		pass = min(pass, s.To-pos)
	}
	return hear, pass
}

// clip returns the part of the frames from..to-1 that lies in the span.
func clip(s Span, from, to int64) (int64, int64) {
	from = max(from, s.From)
	if s.To > 0 {
		to = min(to, s.To)
	}
	return from, to
}
