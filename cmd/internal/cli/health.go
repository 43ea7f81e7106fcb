package cli

import (
	"errors"
	"fmt"
	"math"
	"strings"

	"breakcue/cmd/internal/pump"
	"breakcue/detect"
)

// said is what is to be said of the signal of a set of points, by the fields of a View.
type said struct{ Health, Advice, Warning string }

// health looks at the signal.
func (h *hearing) health() {
	v := &h.view
	s := h.signal(h.ears()[0])
	if h.second != nil {
		s = h.bothSignals(s, h.signal(h.second))
	}
	v.Health, v.Advice, v.Warning = s.Health, s.Advice, s.Warning
	if h.failing != nil {
		if text := h.failing(); text != "" {
			v.Warning = text
		}
	}
}

// bothSignals joins what is to be said of two sets of points: what is the same of both is said once.
func (h *hearing) bothSignals(a, b said) said {
	join := func(first, second string) string {
		if first == second {
			return first
		}
		if first != "" {
			first = h.ear.name + ": " + first
		}
		if second != "" {
			second = h.second.name + ": " + second
		}
		between := "  "
		if first != "" && second != "" && !strings.HasSuffix(first, ".") && !strings.HasSuffix(first, "?") {
			between = "; "
		}
		return strings.TrimSpace(first + between + second)
	}
	out := said{Health: join(a.Health, b.Health), Warning: join(a.Warning, b.Warning), Advice: h.standing}
	switch first, second := a.Advice != h.standing, b.Advice != h.standing; {
	case first && second && a.Advice == b.Advice:
		out.Advice = strings.ReplaceAll(a.Advice, " the points once: then both levels are", " both sets of points once: then their levels are")
	case first && second:
		out.Advice = join(a.Advice, b.Advice)
	case first:
		out.Advice = join(a.Advice, "")
	case second:
		out.Advice = join("", b.Advice)
	}
	return out
}

// signal looks at the signal of a set of points.
func (h *hearing) signal(x *ear) (v said) {
	s := h.follower.Health(x.set)
	v.Advice = h.standing
	loud := math.Max(s.Levels.Closed, s.Levels.Open)
	above := pump.DBFS(loud) - pump.DBFS(math.Sqrt2*s.Levels.Noise)
	switch {
	case h.unplugged:
	case s.Known:
		v.Health = fmt.Sprintf("points closed %s, points open %s", loudness(s.Levels.Closed), loudness(s.Levels.Open))
		if h.second == nil { // else there is no room
			v.Health += fmt.Sprintf(", tone %.0f dB above the noise", math.Min(above, 120))
		}
		if above < 10 {
			v.Warning = "the tone is hardly louder than the noise: raise --level, or turn the input up"
		}
	case errors.Is(s.Reason, detect.ErrNoChange) && loud > 0:
		v.Health = fmt.Sprintf("the tone comes back at %.0f dBFS, %.0f dB above the noise", pump.DBFS(loud), math.Min(above, 120))
		v.Advice = "Open and close the points once: then both levels are known."
	case errors.Is(s.Reason, detect.ErrSilence):
		v.Health = "dead silence at the input"
		v.Warning = "is the input plugged in, and its level up?"
	case errors.Is(s.Reason, detect.ErrNoTone), errors.Is(s.Reason, detect.ErrNoChange):
		v.Health = "no tone comes back"
		v.Advice = "Close the points. If they are closed: check the cable, the clips and the levels."
		if h.wiring == detect.Shunt {
			v.Advice = "Open the points. If they are open: check the cable, the clips and the levels."
		}
	case s.Reason == nil, errors.Is(s.Reason, detect.ErrTooShort):
		v.Health = "listening for the tone"
	default:
		v.Warning = s.Reason.Error()
		v.Advice = liveHint(s.Reason)
	}
	if h.follower.State(x.set) == detect.Lost && !h.unplugged {
		v.Warning = "what comes back fits neither state: check the clips"
		v.Advice = "Open and close the points once: then both levels are learnt anew."
		if off := cableOff(s.Off); off != "" {
			v.Warning, v.Advice = off, "Nothing is heard of the points until that is put right."
		}
	}
	for _, c := range s.Caveats {
		if !h.unplugged {
			v.Warning = c.Message
		}
	}
	return v
}

// cableOff says what a cable is that is off, by its cause; empty for others.
func cableOff(why detect.Cause) string {
	switch why {
	case detect.CauseLeadOff:
		return "lead off: check the clips"
	case detect.CausePlugOut:
		return "plug out: check the plugs and their leads"
	case detect.CauseShorted:
		return "leads touch each other: check the clips"
	}
	return ""
}

// liveHint tells what to do about a reason for which live sound says nothing.
func liveHint(err error) string {
	switch {
	case errors.Is(err, detect.ErrTooShort):
		return "let it listen longer, and open and close the points meanwhile"
	case errors.Is(err, detect.ErrNoChange):
		return "open and close the points while it listens; if you did, check the cable and take the coil lead off"
	case errors.Is(err, detect.ErrSilence), errors.Is(err, detect.ErrNotATone), errors.Is(err, detect.ErrContrast), errors.Is(err, detect.ErrNoise):
		return pump.HintFor(err)
	}
	return "check the cable, the clips and the levels"
}

// loudness says how much of the tone comes through.
func loudness(level float64) string {
	if db := pump.DBFS(level); db > nothing {
		return fmt.Sprintf("%.0f dBFS", db)
	}
	return "nothing"
}

// nothing is the level [dBFS] below which no sound card hears anything.
const nothing = -110
