package cli

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"math/cmplx"
	"slices"
	"strings"

	"breakcue/audio"
	"breakcue/audio/live"
	"breakcue/cmd/internal/awake"
	"breakcue/cmd/internal/leads"
	"breakcue/cmd/internal/profiles"
	"breakcue/cmd/internal/pump"
	"breakcue/cmd/internal/session"
)

// player is a sound card that can play other things than its test tone; *live.Stream is one.
type player interface {
	Play(audio.Chord) error
	Playing() (from int64, ok bool)
}

// holder moves the clips of the bench to where a step wants them.
type holder interface{ Hold(leads.Step) }

// leadsFace shows a check and takes keys.
type leadsFace interface {
	// show shows how things stand.
	show()
	// key returns what was typed, "" for Enter; ok is false where nothing was. The end of the input is an io.EOF.
	key(ctx context.Context) (key string, ok bool, err error)
	// ends tells that the verdict needs no key to be read.
	ends() bool
}

// leadsRun is a check under way.
type leadsRun struct {
	base  *liveRun // what it opens and closes
	flags *leadsFlags
	env   Env // its Err goes past the noise of the sound system
	card  *opened
	guide *leadsGuide
	face  leadsFace
	check *leads.Check
	play  player
	rate  int // [frames/s]

	frame   int64
	asked   audio.Chord // what is played
	pending bool        // the step is to begin once the tone stands at its level
	arrived int64       // frame at which the step at hand came to be at hand
	stood   int         // where the guide stood then
	meter   leadsMeter
	out     *leadsResult // once the verdict was reached
}

// leadsLook is how much sound tells how loud it is, at a step that waits [s].
const leadsLook = 0.3

// begin makes the check for the card.
func (r *leadsRun) begin() error {
	p, ok := r.card.Card.(player)
	if !ok {
		return fail(ExitAudio, "choose another sound card", "%s can play nothing but one tone", r.card.name)
	}
	r.play, r.rate = p, r.card.Format().SampleRate
	var err error
	if r.check, err = leads.New(r.flags.options(r.card)); err != nil {
		return &Failure{Code: ExitAudio, Err: err, Hint: "choose another --rate, --tone or sound card"}
	}
	r.asked = audio.Chord{Hz: []float64{r.card.options.Tone.Hz}, Level: r.card.options.Tone.Level}
	r.meter = newLeadsMeter(r.card.options.Tone.Hz, r.card.Format(), r.flags.live.channel)
	r.stood = r.guide.at
	return nil
}

func (r *leadsRun) stayAwake(ctx context.Context) {
	if r.flags.bench.on {
		return // nobody is away from the keys
	}
	release, err := awake.Hold(ctx, "checking the cable to the contact-breaker points")
	if err != nil {
		fmt.Fprintf(r.env.Err, "breakcue: note: %s\n", strings.TrimPrefix(err.Error(), "awake: "))
	}
	r.base.undo = append(r.base.undo, func() error { release(); return nil })
}

// errLeadsLeft ends a check before its verdict.
var errLeadsLeft = errors.New("the check was ended before it came to a result")

// loop hears until the check is over.
func (r *leadsRun) loop(ctx context.Context) error {
	ctx, stop := context.WithCancelCause(ctx)
	defer stop(nil)
	if r.base.screen != nil {
		go r.base.forward(ctx, stop)
	}
	ch := r.card.Format().Channels
	buf := make([]float32, 4096*ch)
	for {
		r.face.show()
		over, err := r.input(ctx)
		if err != nil || over {
			return err
		}
		n, err := r.card.Read(buf)
		var gap *audio.GapError
		switch {
		case ctx.Err() != nil:
			return context.Cause(ctx)
		case errors.As(err, &gap):
			r.check.Skip(gap.Lost)
			r.frame += gap.Lost
		case errors.As(err, new(*live.DeviceError)):
			return cardError(err)
		case err != nil:
			return &Failure{Code: ExitAudio, Err: fmt.Errorf("%s: %w", r.card.name, err), Hint: "check the sound card, then run it again"}
		}
		if err := r.take(buf[:n*ch]); err != nil {
			return err
		}
	}
}

// waiting tells that a step waits for somebody, and that it is known how loud the tone comes back.
func (r *leadsRun) waiting() bool {
	return !r.guide.measuring && float64(r.frame-r.arrived) >= leadsLook*float64(r.rate)
}

// input takes what was typed; over tells that the check is.
func (r *leadsRun) input(ctx context.Context) (over bool, err error) {
	for {
		if r.guide.over() && r.out == nil {
			r.conclude()
			r.face.show()
		}
		if r.guide.over() && r.face.ends() {
			return true, nil
		}
		key, ok, err := r.face.key(ctx)
		if errors.Is(err, io.EOF) {
			return false, fail(ExitInconclusive, "each step needs a line, an empty one for Enter; the first says that the engine is safe; run it again: "+r.flags.again, "standard input ended before the check did")
		}
		if err != nil || !ok {
			return false, err
		}
		deed, known := r.guide.key(key)
		if !known {
			r.guide.note = fmt.Sprintf("%q means nothing here", key)
		}
		switch deed {
		case leadsBegin:
			r.pending = true
		case leadsCancel:
			r.pending = false
			if err := r.rest(); err != nil {
				return false, err
			}
		case leadsEnd:
			return true, nil
		}
		r.arrive()
		r.face.show()
	}
}

// arrive sees to what a step wants when it comes to be at hand.
func (r *leadsRun) arrive() {
	if r.guide.at == r.stood {
		return
	}
	r.stood, r.arrived = r.guide.at, r.frame
	if !r.guide.over() {
		r.out = nil
	}
	if s, ok := r.guide.step(); ok {
		if h, ok := r.card.Card.(holder); ok {
			h.Hold(s)
		}
	}
	r.meter.begin()
}

// rest plays the one tone again that tells whether the cable works.
func (r *leadsRun) rest() error {
	r.arrived = r.frame
	r.meter.begin()
	return r.demand(audio.Chord{Hz: []float64{r.card.options.Tone.Hz}, Level: r.card.options.Tone.Level})
}

// demand plays something, unless it is played already.
func (r *leadsRun) demand(c audio.Chord) error {
	if c.Level == r.asked.Level && slices.Equal(c.Hz, r.asked.Hz) {
		return nil
	}
	r.asked = c
	if err := r.play.Play(c); err != nil {
		return &Failure{Code: ExitAudio, Err: err, Hint: "choose another --rate or sound card"}
	}
	return nil
}

// take hears a block.
func (r *leadsRun) take(block []float32) error {
	r.check.Process(block)
	r.frame += int64(len(block) / r.card.Format().Channels)
	r.meter.add(block)
	s, at := r.guide.step()
	if !r.guide.measuring || !at {
		return nil
	}
	if r.pending {
		if r.frame < r.card.ToneFrom() {
			return nil // it still rises slowly, because of somebody's ears
		}
		r.pending = false
		if err := r.check.Begin(s); err != nil {
			return &Failure{Code: ExitFailed, Err: err, Hint: "this is a fault of the program: please tell"}
		}
	}
	if r.check.Progress().Phase == leads.Done {
		m, _ := r.check.Measure(s)
		r.guide.measured(s, m, r.check.Result().Findings)
		r.arrive()
		return r.rest()
	}
	if err := r.demand(r.check.Want()); err != nil {
		return err
	}
	if from, ok := r.play.Playing(); ok {
		r.check.Playing(from)
	}
	return nil
}

// conclude makes the verdict of the steps, and keeps the profile.
func (r *leadsRun) conclude() {
	out := leadsResult{Schema: "breakcue.leads-check/1", Device: r.card.name, SampleRate: r.rate, Level: r.flags.live.level, Result: r.check.Result()}
	out.WillDo = willDo(out.Result)
	r.out = &out
	if !out.WillDo {
		return // what cannot be believed is not kept
	}
	out.Profile.Made = r.env.Now().UTC().Truncate(1e9)
	kept := profiles.Kept{Device: r.card.name, Channel: 1, Profile: *out.Profile}
	for _, m := range out.Measures {
		if m.Step == leads.Closed || m.Step == leads.Open {
			kept.Channel = max(1, m.Channel)
		}
	}
	var err error
	switch {
	case r.flags.file != "":
		out.named = true
		out.File, err = r.flags.file, profiles.Write(r.flags.file, kept)
	case !r.env.Cards.Invented:
		var store profiles.Store
		if store, err = profiles.Open(r.env.Getenv); err == nil {
			out.File, err = store.Save(kept)
		}
	}
	if err != nil {
		out.File = ""
		r.guide.note = "what was found is not kept: " + err.Error()
		if r.base.screen == nil {
			note(r.env, "%s", session.Printable(r.guide.note))
		}
	}
	out.practised = r.flags.bench.on && r.flags.file == ""
	out.Next = r.next(out)
}

// next is the command to go on with.
func (r *leadsRun) next(out leadsResult) string {
	text, more := "breakcue listen", ", or breakcue session"
	if r.flags.bench.on {
		text, more = "breakcue session --bench", ""
		if out.Wiring == leads.Across {
			text += " --wiring shunt"
		}
	}
	bare := len(text)
	if r.flags.live.device != "" {
		text += " --device " + shellWord(r.flags.live.device)
	}
	if r.flags.live.rate != 0 {
		text += fmt.Sprintf(" --rate %d", r.flags.live.rate)
	}
	if r.flags.live.level != usualLevel {
		text += fmt.Sprintf(" --level %g", r.flags.live.level)
	}
	if r.flags.file != "" {
		text += " --profile " + shellWord(r.flags.file)
	}
	if out.File == "" && !r.flags.bench.on {
		text += fmt.Sprintf(" --wiring %v --tone %g", out.Wiring, out.Tone)
	}
	if more != "" && len(text) > bare {
		more += " with the same"
	}
	return text + more
}

// ended closes everything and prints what the check came to.
func (r *leadsRun) ended(err error) error {
	err = errors.Join(err, r.base.close())
	if err != nil || r.check == nil {
		return err
	}
	if r.out == nil {
		return &Failure{Code: ExitInconclusive, Err: errLeadsLeft, Hint: "run it again: " + r.flags.again}
	}
	if r.flags.asJSON {
		err = printJSON(r.env.Out, r.out)
	} else {
		var page bytes.Buffer
		r.out.print(&page, r.env.columns())
		_, err = page.WriteTo(r.env.Out)
	}
	if err == nil && !r.out.WillDo {
		return &Failure{Code: ExitInconclusive, Err: errors.New(r.out.headline()), Hint: "mend what is named above and check again"}
	}
	return err
}

// leadsMeter tells how loud one tone comes back, ten times a second, in the channel where it is loudest or in the one given.
type leadsMeter struct {
	turn     complex128 // a frame
	now      complex128
	channels int
	channel  int // from 1; 0: any
	sums     []complex128
	n, many  int
	Level    float64 // [full scale]
	Known    bool
}

func newLeadsMeter(hz float64, f audio.Format, channel int) leadsMeter {
	return leadsMeter{turn: cmplx.Rect(1, -2*math.Pi*hz/float64(f.SampleRate)), now: 1, channels: f.Channels, channel: channel,
		sums: make([]complex128, f.Channels), many: f.SampleRate / 10}
}

// begin forgets what was heard.
func (m *leadsMeter) begin() {
	m.Known, m.n = false, 0
	clear(m.sums)
}

func (m *leadsMeter) add(block []float32) {
	for i := 0; i+m.channels <= len(block); i += m.channels {
		for c := range m.channels {
			m.sums[c] += complex(float64(block[i+c]), 0) * m.now
		}
		if m.n++; m.n < m.many {
			m.now *= m.turn
			continue
		}
		m.Level = 0
		for c, z := range m.sums {
			if m.channel == 0 || m.channel == c+1 {
				m.Level = max(m.Level, 2*cmplx.Abs(z)/float64(m.n))
			}
		}
		m.begin()
		m.Known, m.now = true, 1
	}
}

// hears says how loud the tone comes back.
func (r *leadsRun) hears() string {
	if !r.meter.Known {
		return "listening"
	}
	return r.flags.backWords(pump.DBFS(r.meter.Level))
}

// backWords is the level of a tone that comes back [dBFS].
func (f *leadsFlags) backWords(db float64) string {
	switch {
	case !(db > nothing):
		return "nothing"
	case db < f.live.level-hardly:
		return fmt.Sprintf("hardly anything, %.0f dBFS", db)
	}
	return fmt.Sprintf("%.1f dBFS", db)
}

// hardly is how far below what is played a level is no more than what is heard anyway [dB].
const hardly = 70
