package cli

import (
	"context"
	"errors"
	"fmt"
	"os"
	"time"

	"breakcue/audio"
	"breakcue/audio/live"
	"breakcue/cmd/internal/known"
	"breakcue/cmd/internal/session"
)

// Card is a sound card that plays the test tone and hears what comes back; *live.Stream is one.
type Card interface {
	audio.Source
	// Sound lets the alert sound, Hush ends it. Both may be called from any goroutine and never wait.
	Sound()
	Hush()
	// AlertErr tells that the alert can no longer be heard, because its own device is gone.
	AlertErr() error
	// Nudge lets Read return soon, though nothing is urgent.
	Nudge()
	// ToneFrom is the first frame at which the test tone stands at its level.
	ToneFrom() int64
	// Entered tells when the driver handed over the frame; ok is false for a frame too far back.
	Entered(frame int64) (at time.Time, ok bool)
}

// Cards is how a command comes to sound cards.
type Cards struct {
	List func() ([]live.Device, error)
	Open func(live.Options) (Card, error)
	// Quiet keeps what the sound system prints off standard error, until restore; what the program itself has to say there goes
	// to saved meanwhile. Nil where nothing prints.
	Quiet func() (saved *os.File, restore func(), err error)
	// Invented tells that no tone comes out of any of them: nobody is asked about headphones, and none is kept in mind.
	Invented bool
}

// opened is a card that plays and hears, and what is known of it.
type opened struct {
	Card
	name    string // of the device that hears
	options live.Options
}

// calm is how much sound is fetched at a time while nothing is urgent.
const calm = 200 * time.Millisecond

// openCard chooses the sound cards, asks about headphones before the first tone on them, and starts.
func (f *liveFlags) openCard(ctx context.Context, env Env, urgent func([]float32) bool) (*opened, error) {
	memory, err := env.Cards.memory(env)
	if err != nil {
		fmt.Fprintf(env.Err, "breakcue: note: %s\n", session.Printable(err.Error()))
	}
	list, err := listWithin(ctx, env.Cards.List)
	if err != nil {
		return nil, cardError(err)
	}
	in, out, err := f.choose(env, list, memory)
	if err != nil {
		return nil, cardError(err)
	}
	if err := f.takeLevels(env, in); err != nil {
		return nil, err
	}
	if env.Cards.Invented {
		memory.Confirm(out.Name)
	}
	firstTime, err := askHeadphones(ctx, env, out.Name, memory)
	if err != nil {
		return nil, err
	}
	o, err := f.options(in, out, firstTime)
	if err != nil {
		return nil, err
	}
	if o.Alert != nil && o.Alert.Device != "" {
		other, err := live.ChooseOutput(list, o.Alert.Device)
		if err != nil {
			return nil, cardError(err)
		}
		firstTime, err := askHeadphones(ctx, env, other.Name, memory)
		if err != nil {
			return nil, err
		}
		if o.Alert.Ramp = 0; firstTime {
			o.Alert.Ramp = alertRise
		}
	}
	o.Gather, o.Urgent = calm, urgent
	card, err := env.Cards.Open(o)
	if err != nil {
		return nil, cardError(err)
	}
	memory.Last = in.Name
	if env.Cards.Invented {
		return &opened{Card: card, name: in.Name, options: o}, nil
	}
	if err := memory.Save(); err != nil {
		fmt.Fprintf(env.Err, "breakcue: note: %s\n", session.Printable(err.Error()))
	}
	return &opened{Card: card, name: in.Name, options: o}, nil
}

// memory returns what is kept in mind of these cards.
func (c Cards) memory(env Env) (*known.File, error) {
	if c.Invented {
		return &known.File{}, nil
	}
	return known.Load(env.Getenv)
}

// choose takes the device that was named, or the one used last where it is still there, or the default.
func (f *liveFlags) choose(env Env, list []live.Device, memory *known.File) (in, out live.Device, err error) {
	if f.device == "" && memory.Last != "" {
		if in, out, err = live.Choose(list, memory.Last); err == nil {
			f.device = memory.Last
			return in, out, nil
		}
		fmt.Fprintf(env.Err, "breakcue: note: %s, which was used last, is not there: taking the default\n", session.Printable(memory.Last))
	}
	return live.Choose(list, f.device)
}

// cardError gives an error of package live its exit code and hint.
func cardError(err error) error {
	if f := (*Failure)(nil); errors.As(err, &f) {
		return err
	}
	hint := "run 'breakcue devices' to see what there is"
	switch {
	case errors.Is(err, live.ErrUnavailable):
		hint = "recordings work all the same: run 'breakcue review FILE'"
	case errors.Is(err, live.ErrSilent):
		hint = "check that the sound card is plugged in and its sound server runs; if it never sounded, try --rate 48000"
	case errors.Is(err, live.ErrNoAnswer):
		hint = "the sound server hangs: restart it, then run this again"
	case errors.As(err, new(*live.RateError)):
		hint = "leave --rate out, or give one that the card takes"
	}
	return &Failure{Code: ExitAudio, Err: err, Hint: hint}
}

// realCards are those of the machine.
func realCards() Cards {
	return Cards{List: live.Devices, Open: func(o live.Options) (Card, error) {
		s, err := live.Open(o)
		if err != nil {
			return nil, err // a nil *live.Stream is no nil Card
		}
		return s, nil
	}, Quiet: live.Quiet}
}
