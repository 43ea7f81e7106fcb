package cli

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"breakcue/cmd/internal/cue"
	"breakcue/cmd/internal/pump"
	"breakcue/detect"
)

func newListen(env Env) *cobra.Command {
	var f liveFlags
	var asJSON bool
	c := &cobra.Command{
		Use:   "listen",
		Short: "Hear the points through a sound card and show the moment they open, over the whole screen",
		Long: `Play the test tone through the points, hear what comes back, and show the moment the points open: over the whole
screen, as a word, a picture and a number, and on request with a beep.

Open and close the points once at the beginning, so that both levels are known; a check of the cable by 'breakcue leads' spares
that. A key throws away an opening that was made
while turning back; the screen says which. Before the cable is clipped on: ignition off, battery disconnected or stop switch
open, plugs out. Cable off before the engine is kicked. The maker's manual comes first.

Two sets of points are followed at once with --sets 2, or --tone given twice: each set has a tone and an output channel of its own
(1, left, for set 1; 2, right, for set 2), and both come back by one input. The screen shows them side by side.`,
		Example: "  breakcue listen\n  breakcue listen --device usb --alert --record take-01.wav\n  breakcue listen --json --for 1m\n  breakcue listen --sets 2",
		Args:    exactArgs(0, "no argument"),
		RunE: func(c *cobra.Command, _ []string) error {
			if err := f.check(); err != nil {
				return err
			}
			l := listening{env: env, flags: &f}
			if asJSON {
				l.print = newEventPrinter(env.Out)
			}
			return l.run(c.Context())
		},
	}
	f.add(c.Flags())
	f.levels.add(c.Flags())
	c.Flags().BoolVar(&asJSON, "json", false, "print one JSON object a line, one per event, instead of the big screen")
	return c
}

// listening is a run of listen.
type listening struct {
	env   Env
	flags *liveFlags
	print *eventPrinter // nil: for people

	openings, closings [3]int // by set of points; 0 where there is one
}

const (
	keyThrow = 'x'
	keyQuit  = 'q'
)

func (l *listening) run(ctx context.Context) error {
	r, err := l.flags.start(ctx, l.env, liveView{keys: "x: throw the newest opening away   q: end", silent: l.print != nil})
	if err != nil {
		return err
	}
	r.event = func(e detect.Event) error {
		if e.Stage == detect.Settled {
			switch e.Kind {
			case detect.KindOpen:
				l.openings[e.Set]++
				r.mark(e, l.label(e, r.hear))
			case detect.KindClose:
				l.closings[e.Set]++
			}
			if l.print != nil {
				return l.print.event(e, r.rate, r.hear)
			}
		}
		return nil
	}
	r.key = func(k cue.Key) error {
		switch {
		case k.Rune == keyThrow, k.Name == cue.Delete, k.Name == cue.Backspace:
			if id := r.hear.newest(); id != 0 {
				r.hear.throwAway(id)
			}
		case k.Rune == keyQuit, k.Name == cue.Escape:
			return errQuit
		}
		return nil
	}
	r.line = func(line string) error { // without a screen a line stands for a key
		for _, c := range strings.TrimSpace(line) {
			if err := r.key(cue.Key{Rune: c}); err != nil {
				return err
			}
		}
		return nil
	}
	err = r.listen(ctx)
	lost := ""
	if n := r.hear.gaps; n > 0 {
		lost = fmt.Sprintf(", sound lost %s", pump.Count(n, "time", "times"))
	}
	fmt.Fprintf(l.env.Err, "breakcue: %s in %v%s\n", l.counts(r.hear), r.hear.seconds(r.follower.Frame()).Round(time.Second/10), lost)
	if half, ok := r.delays.quantile(0.5); ok {
		most, _ := r.delays.quantile(0.99)
		fmt.Fprintf(l.env.Err, "breakcue: from the sound card's block that tells of an opening to the whole screen: %s, 99 of 100 within %s\n", ms(half), ms(most))
	}
	if r.recorded() {
		tones := ""
		if o := r.card.options; o.Second != nil {
			tones = fmt.Sprintf(" --tone %.0f --tone %.0f", o.Tone.Hz, o.Second.Hz)
		}
		fmt.Fprintf(l.env.Err, "breakcue: recorded: look at it with 'breakcue review %s%s'\n", shellWord(l.flags.record), tones)
	}
	return err
}

// label names an opening in the recording.
func (l *listening) label(e detect.Event, h *hearing) string {
	if h.second == nil {
		return fmt.Sprintf("points open %d", l.openings[e.Set])
	}
	return fmt.Sprintf("points open %d (%s)", h.number(e.ID), h.of(e.Set).name)
}

// counts says how many openings and closings were heard, of each set where there are two.
func (l *listening) counts(h *hearing) string {
	var parts []string
	for _, x := range h.ears() {
		part := pump.Count(l.openings[x.set], "opening", "openings") + ", " + pump.Count(l.closings[x.set], "closing", "closings")
		if x.name != "" {
			part = x.name + ": " + part
		}
		parts = append(parts, part)
	}
	return strings.Join(parts, "; ")
}

func ms(d time.Duration) string { return fmt.Sprintf("%.1f ms", d.Seconds()*1e3) }

// eventPrinter prints events as JSON, one object a line.
type eventPrinter struct{ enc *json.Encoder }

// eventLine is one line of `listen --json`. Frames count from the stream's first input frame.
type eventLine struct {
	Event        string   `json:"event"`
	Set          int      `json:"set,omitempty"` // of points, 1 or 2 where two are followed
	ID           int64    `json:"id"`
	Frame        float64  `json:"frame"`
	DecidedFrame int64    `json:"decided_frame"`
	Time         float64  `json:"time_s"`
	Uncertainty  *float64 `json:"uncertainty_s,omitempty"` // openings and closings
	Reclosures   *int     `json:"reclosures,omitempty"`    // openings and closings
	Lost         *int64   `json:"lost_frames,omitempty"`   // gaps whose length is known
	Cause        string   `json:"cause,omitempty"`
	// Provisional tells of an opening that a lead which fell off looks like it; SameLevel of a closing whether the points closed at the
	// level they had before, so that it was none. Absent where it cannot be told.
	Provisional bool  `json:"provisional,omitempty"`
	SameLevel   *bool `json:"same_level,omitempty"`
}

func newEventPrinter(w io.Writer) *eventPrinter { return &eventPrinter{json.NewEncoder(w)} }

// event prints a settled event, which h has taken before.
func (p *eventPrinter) event(e detect.Event, rate int, h *hearing) error {
	fs := float64(rate)
	out := eventLine{Event: e.Kind.String(), Set: e.Set, ID: e.ID, Frame: e.At(), DecidedFrame: e.DecidedFrame, Time: e.At() / fs, Cause: string(e.Cause)}
	switch {
	case e.Kind == detect.KindOpen || e.Kind == detect.KindClose:
		u := e.Uncertainty / fs
		out.Uncertainty, out.Reclosures = &u, &e.Reclosures
		out.Provisional = e.Kind == detect.KindOpen && h.provisional(e)
		if same, known := h.returned(e); e.Kind == detect.KindClose && known {
			out.SameLevel = &same
		}
	case isGap(e) && h.repeated:
		return nil
	case isGap(e):
		out.Event, out.Set = "gap", 0                                    // of both
		if lost := e.LastFrame - e.Frame; e.Cause != detect.CausePhase { // which does not tell how many
			out.Lost = &lost
		}
	}
	return p.enc.Encode(out)
}
