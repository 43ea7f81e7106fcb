package leads

import "breakcue/audio"

// run is a step under way.
type run struct {
	c     *Check
	step  Step
	phase Phase
}

func newRun(c *Check, s Step) *run { return &run{c: c, step: s} }

func (r *run) playing(from int64) {}
func (r *run) skip(lost int64)    {}
func (r *run) take([]float32)     {}

func (r *run) want() audio.Chord { return audio.Chord{Level: r.c.opt.Level} }

func (r *run) progress() Progress { return Progress{Step: r.step, Phase: r.phase} }
