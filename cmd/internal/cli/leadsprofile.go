package cli

import (
	"cmp"
	"fmt"
	"time"

	"github.com/spf13/pflag"

	"breakcue/audio/live"
	"breakcue/cmd/internal/leads"
	"breakcue/cmd/internal/profiles"
	"breakcue/cmd/internal/pump"
	"breakcue/cmd/internal/session"
	"breakcue/detect"
)

// profileFlags say which levels, of a check made before, somebody listens with.
type profileFlags struct {
	wanted bool // the command takes levels of a check
	file   string
	none   bool
	wiring leads.Wiring // Unknown: a check may say

	found *profiles.Kept // nil: none fits
	says  string         // of the levels, or why there are none; empty: there was no check
}

const (
	profileOld   = 12 * time.Hour     // after which the gain may well have been moved since
	profileStale = 7 * 24 * time.Hour // after which it is not gone by any more, nor where its clock was as far ahead
	profileAhead = 2 * time.Minute    // by which a clock may be ahead unnoticed
)

func (f *profileFlags) add(fs *pflag.FlagSet) {
	f.wanted = true
	fs.StringVar(&f.file, "profile", "", "go by the levels in this `FILE` of 'breakcue leads' (default: the newest check that fits)")
	fs.BoolVar(&f.none, "no-profile", false, "learn the levels from the sound, whatever check there was")
}

func (f *profileFlags) check() error {
	if f.none && f.file != "" {
		return fail(ExitUsage, "leave one out", "--profile and --no-profile are given together")
	}
	return nil
}

// takeLevels looks for a check of the cable that fits the sound card, and takes its tone, wiring and channel where none are given.
func (f *liveFlags) takeLevels(env Env, in live.Device) error {
	p := &f.levels
	if !p.wanted || p.none || f.sets == 2 {
		return nil
	}
	tone := 0.0
	if len(f.tones) > 0 {
		tone = f.tones[0]
	}
	want := profiles.Want{Device: in.Name, Rate: cmp.Or(f.rate, int(in.DefaultRate)), Channel: f.channel, Wiring: p.wiring, Level: f.level, Tone: tone}
	if p.file != "" {
		k, err := profiles.Read(p.file)
		if err != nil {
			return fail(ExitFailed, "name a file that 'breakcue leads --profile FILE' has written, or leave --profile out", "%w", err)
		}
		if ok, why := k.Fits(want); !ok {
			p.says = fmt.Sprintf("the check in %s does not fit: %s. The levels are learnt from the sound.", p.file, why)
			return nil
		}
		f.useLevels(k, env.Now())
		return nil
	}
	if env.Cards.Invented {
		return nil
	}
	store, err := profiles.Open(env.Getenv)
	if err != nil {
		return nil // the other notes of this user have no place either, and that is told
	}
	list, err := store.All()
	if err != nil {
		note(env, "%s", session.Printable(err.Error()))
	}
	for _, k := range list {
		if ok, _ := k.Fits(want); !ok {
			continue
		}
		if f.useLevels(k, env.Now()) {
			return nil
		}
	}
	return nil
}

// useLevels goes by the levels of a check, unless it is too old, or nobody knows how old it is; then it says so.
func (f *liveFlags) useLevels(k profiles.Kept, now time.Time) bool {
	p := &f.levels
	age := k.Age(now)
	if age > profileStale || age < -profileStale {
		if is := ageWords(age) + " old"; p.says == "" {
			if age < 0 {
				is = fmt.Sprintf("of a clock %s ahead of this one", ageWords(-age))
			}
			p.says = fmt.Sprintf("the check of the cable is %s: levels are learnt anew; 'breakcue leads' checks again.", is)
		}
		return false
	}
	p.found = &k
	if f.channel, f.wired = k.Channel, k.Profile.Wiring.Detect(); len(f.tones) == 0 {
		f.tones = []float64{k.Profile.Tone}
	}
	switch p.says = fmt.Sprintf("Levels from the check of the cable %s ago.", ageWords(age)); {
	case age > profileOld:
		p.says += " Has a gain knob been moved since? 'breakcue leads' checks again."
	case age < -profileAhead:
		p.says = fmt.Sprintf("Levels from a check of the cable by a clock %s ahead of this one. Has a gain knob been moved since?", ageWords(-age))
	}
	return true
}

// give hands the levels to whoever follows the sound.
func (p *profileFlags) give(o *pump.FollowOptions) {
	if p.found == nil {
		return
	}
	levels := p.found.Profile.Detect()
	o.Profile = &levels
}

// advice is what to know of the cable where it is clipped on.
func (p *profileFlags) advice() string {
	switch {
	case p.found == nil:
		return "'breakcue leads' checks the cable beforehand: will it do, what is connected?"
	case p.found.Profile.LeadOff:
		return "By the check of the cable a lead that falls off is known for one."
	case p.found.Profile.Wiring == leads.InLine:
		return "A lead that falls off looks like an opening here, by the check of the cable."
	}
	return "A lead that falls off looks like points open here, by the check of the cable."
}

// ageWords says how long ago something was.
func ageWords(d time.Duration) string {
	switch {
	case d < 2*time.Minute:
		return "a minute"
	case d < 2*time.Hour:
		return fmt.Sprintf("%d minutes", int(d.Minutes()))
	case d < 48*time.Hour:
		return fmt.Sprintf("%d hours", int(d.Hours()))
	}
	return fmt.Sprintf("%d days", int(d.Hours()/24))
}

// leadsWired is the wiring in words of package leads.
func leadsWired(w detect.Wiring) leads.Wiring {
	if w == detect.Shunt {
		return leads.Across
	}
	return leads.InLine
}
