package cli

import (
	"cmp"

	"breakcue/audio"
	"breakcue/audio/live"
	"breakcue/cmd/internal/pump"
	"breakcue/detect"
)

// follower is what hears live sound, of one set of points or of two. A set counts from 1; where there is one it is 0 or 1.
type follower interface {
	pump.Hearer
	// Frame is the number of the next frame.
	Frame() int64
	State(set int) detect.State
	Health(set int) pump.Health
	EdgeModel(set int) detect.EdgeModel
	// Times is how often levels were learnt; Guard returns a detector that goes by the newest.
	Times() int
	Guard() (guard, error)
}

// oneSet is a follower of one set of points.
type oneSet struct{ *pump.Follower }

func (o oneSet) State(int) detect.State         { return o.Follower.State() }
func (o oneSet) Health(int) pump.Health         { return o.Follower.Health() }
func (o oneSet) EdgeModel(int) detect.EdgeModel { return o.Follower.EdgeModel() }

func (o oneSet) Times() int {
	_, times := o.Learnt()
	return times
}

func (o oneSet) Guard() (guard, error) {
	cfg, _ := o.Learnt()
	return detect.New(cfg)
}

// twoSets is a follower of two sets of points whose tones come back in one channel.
type twoSets struct{ *pump.PairFollower }

func (t twoSets) Times() int {
	_, first := t.Learnt(1)
	_, second := t.Learnt(2)
	return first + second
}

func (t twoSets) Guard() (guard, error) {
	first, _ := t.Learnt(1)
	second, _ := t.Learnt(2)
	return detect.NewPair(first, second)
}

// follow returns what hears the sound of a card that plays as o says, from the frame begin on.
func (f *liveFlags) follow(format audio.Format, o live.Options, begin int64) (follower, error) {
	opt := pump.FollowOptions{Tone: o.Tone.Hz, Channel: f.channel, Wiring: f.wired, Begin: begin}
	if o.Second != nil {
		both, err := pump.NewPairFollower(format, pump.PairOptions{
			Tones: [2]float64{o.Tone.Hz, o.Second.Hz}, Channel: cmp.Or(f.channel, 1), Wiring: f.wired, Begin: begin})
		return twoSets{both}, err
	}
	f.levels.give(&opt)
	one, err := pump.NewFollower(format, opt)
	return oneSet{one}, err
}

// known tells that the levels of all sets of points are known.
func (r *liveRun) known() bool {
	for _, x := range r.hear.ears() {
		if !r.follower.Health(x.set).Known {
			return false
		}
	}
	return true
}

// reason tells why levels are not known.
func (r *liveRun) reason() (why error) {
	for _, x := range r.hear.ears() {
		why = cmp.Or(why, r.follower.Health(x.set).Reason)
	}
	return why
}

// open tells that the points are open, of two sets those of one or both.
func (r *liveRun) open() bool {
	for _, x := range r.hear.ears() {
		if r.follower.State(x.set) == detect.Open {
			return true
		}
	}
	return false
}
