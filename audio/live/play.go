package live

import (
	"fmt"
	"sync"
	"sync/atomic"

	"breakcue/audio"
)

// player switches what is played while the stream runs. Play leaves a comb where the callback takes it; what was played before falls
// silent while the new one rises. Where two already sound at once, the next waits the few milliseconds until the older is silent.
type player struct {
	rate, channels int // of the output
	channel        int // from 0
	ramp           int64
	asking         sync.Mutex            // callers of play only
	next           atomic.Pointer[voice] // asked for, not taken yet
	asked          atomic.Pointer[voice] // the last that was asked for

	now, old *voice // the callback's; nil: none
}

// voice is a comb and the frame from which it stands at its level, 0 until it is taken.
type voice struct {
	comb *audio.Comb
	full atomic.Int64
}

// play has c played as soon as the callback comes to it.
func (p *player) play(c audio.Chord) error {
	comb, err := audio.NewComb(c, p.rate)
	if err != nil {
		return fmt.Errorf("live: %w", err)
	}
	v := &voice{comb: comb}
	p.asking.Lock() // the last that was asked for is the next
	defer p.asking.Unlock()
	p.asked.Store(v)
	p.next.Store(v)
	return nil
}

// from returns the frame from which what was asked for last stands at its level; false while it is not taken, or nothing was asked for.
func (p *player) from() (int64, bool) {
	v := p.asked.Load()
	if v == nil || v.full.Load() == 0 {
		return 0, false
	}
	return v.full.Load(), true
}

// take begins with what was asked for, if anything, at the absolute frame given, and tells whether it is the first.
func (p *player) take(frame int64) (first bool) {
	if p.old != nil && p.old.comb.Silent() {
		p.old = nil
	}
	if p.old != nil || p.next.Load() == nil {
		return false
	}
	v := p.next.Swap(nil)
	if v == nil {
		return false
	}
	v.comb.GoTo(frame)
	v.full.Store(frame + p.ramp)
	p.old, p.now = p.now, v
	if p.old != nil {
		p.old.comb.Stop()
	}
	return p.old == nil
}

// add adds the next frames, from the absolute one given.
func (p *player) add(out []float32, frame int64) {
	for _, v := range [2]*voice{p.now, p.old} {
		if v == nil || v.comb.Silent() {
			continue
		}
		if lost := frame - v.comb.Frame(); lost != 0 {
			if v.full.Load() > v.comb.Frame() {
				v.full.Add(lost)
			}
			v.comb.GoTo(frame)
		}
		v.comb.Add(out, p.channels, p.channel)
	}
}

// stop lets all fall silent.
func (p *player) stop() {
	for _, v := range [2]*voice{p.now, p.old} {
		if v != nil {
			v.comb.Stop()
		}
	}
}

// silent tells whether all are.
func (p *player) silent() bool {
	return (p.now == nil || p.now.comb.Silent()) && (p.old == nil || p.old.comb.Silent())
}

// Play has c played in the place of the test tone, or of what Play was given before, on the same channel. What was played fades
// out and c fades in, both by audio.SoftStart. The phase of each tone is that of an audio.Comb: a function of the stream's frame, so that
// whatever is played again goes on in step. Playing tells from which frame. Errors: a tone or a level out of range. It may be called
// from any goroutine; of several calls between two buffers the last one counts.
func (s *Stream) Play(c audio.Chord) error { return s.engine.player.play(c) }

// Playing returns the frame from which what was given to Play last stands at its level, 1 or more; it comes back later by the round
// trip. It is false while the callback has not taken it, which a buffer or two bring, and before any Play: see ToneFrom then.
func (s *Stream) Playing() (from int64, ok bool) { return s.engine.player.from() }
