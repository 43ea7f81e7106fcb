package cli

import (
	"errors"
	"fmt"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"breakcue/audio"
	"breakcue/cmd/internal/pump"
	"breakcue/cmd/internal/session"
	"breakcue/detect"
	"breakcue/timing"
	"breakcue/timing/logbook"
)

// liveSession is a session with live sound: readings are typed while the big screen shows the points, and each belongs to the
// newest opening.
type liveSession struct {
	flags  *sessionFlags
	sheets session.Sheets
	run    *liveRun

	before  resumed // what is gone on with; a new session has the first recording and nothing else
	journal *logbook.Writer
	queue   *session.Queue // to the journal: a slow disk must not hold up the hearing
	rec     *session.Recorder
	typist  *session.Typist
	later   []session.Typed // not typed by hand: each waits for its opening, in order

	guide *guided    // nil: no steps are shown
	hand  *benchHand // that turns the engine of the bench; nil: somebody does
	held  *heldReading

	turning  string // what hand was told last
	measured bool   // it was told to make passes
	typedOff int64  // ID of the opening whose reading was typed off its dial

	count session.Counter
	ids   []int64        // by ID in the journal, from 1: the ID of the event of each opening
	off   map[int64]bool // by ID of its event: an opening that is to be thrown away once it is in the journal
	open  [3]bool        // by set of points, 0 where there is one: its newest change was an opening
}

// onlyLive refuses flags of live sound where a recording is given.
func (f *sessionFlags) onlyLive(fs *pflag.FlagSet) error {
	for _, name := range slices.Concat(cardFlags, []string{"bench", "no-guide", "profile", "no-profile"}) {
		if fs.Changed(name) {
			return fail(ExitUsage, "leave out --input for live sound, or --"+name+" for the recording", "--%s is for live sound, --input is given", name)
		}
	}
	return nil
}

// checkLive looks for flags that do not go together, and takes those that recordings have too.
func (f *sessionFlags) checkLive(fs *pflag.FlagSet) error {
	for _, name := range []string{"from", "to"} {
		if fs.Changed(name) {
			return fail(ExitUsage, "give the recording with --input", "--%s is for a recording", name)
		}
	}
	if f.resume == "" && !f.practisesDemo() {
		if err := f.checkSheets(); err != nil {
			return err
		}
	}
	if f.bench && fs.Changed("device") {
		return fail(ExitUsage, "leave out --device: the bench is in place of a sound card", "--device is given together with --bench")
	}
	if !fs.Changed("approach") {
		f.approach = session.ChatterGap.String() // a hand turns the engine
	}
	if err := f.checkApproach(); err != nil {
		return err
	}
	f.live.tones = f.rec.tones
	f.live.channel, f.live.wiring = f.rec.channel, f.rec.wiring
	return f.live.check()
}

// runLive is a session with live sound.
func (f *sessionFlags) runLive(c *cobra.Command, env Env) error {
	ctx := c.Context()
	if err := f.checkLive(c.Flags()); err != nil {
		return err
	}
	s, err := f.newLive(env)
	if err != nil {
		return err
	}
	if err := s.checkSets(c.Flags()); err != nil {
		return err
	}
	if f.live.wired = f.wired(s.sheets, f.live.wired); f.bench || f.live.wired == detect.Shunt {
		f.live.levels.wiring = leadsWired(f.live.wired) // a check of another cable does not fit
	}
	named := true
	if f.readings != "" && f.readings != standardInput {
		if s.later, named, err = f.typed(env, s.sheets); err != nil {
			return err
		}
	}
	steps, err := s.plan(env)
	if err != nil {
		return err
	}
	if f.bench {
		if env, err = s.practise(env); err != nil {
			return err
		}
	}
	view := liveView{
		names: setNames(s.sheets), silent: f.asJSON, ask: f.readings == "" || f.readings == standardInput,
		record: func(format audio.Format, device string) (string, error) { return s.create(env, format, device) },
	}
	if steps == nil {
		view.keys, view.prompt = "Enter: take the reading  *: next cylinder or phase  x: throw opening away  q: end", s.prompt()
	}
	s.run, err = f.live.start(ctx, env, view)
	if err != nil {
		if s.journal != nil {
			_, ended := s.queue.Append(logbook.End{Reason: "failed"})
			err = s.hinted(errors.Join(err, ended, s.queue.Close(), s.journal.Close()))
		}
		return err
	}
	if s.before.dir != "" {
		s.rec.Await(s.before.half)
		s.run.hear.view.Prompt = s.prompt()
		err = s.stand(s.typist.Place, "")
	}
	s.run.event, s.run.key, s.run.line, s.run.tick = s.event, s.key, s.line, s.tick
	if steps == nil && s.hand != nil {
		s.hand.Measure(s.typist.Place)
	}
	if err == nil {
		err = s.lead(steps)
	}
	if err == nil {
		err = s.takeInHand()
	}
	if err != nil {
		return s.hinted(errors.Join(err, s.run.close(), s.queue.Close(), s.journal.Close()))
	}
	heard := s.run.listen(ctx)
	return s.hinted(errors.Join(s.finish(env, named, heard), s.queue.Close(), s.journal.Close()))
}

// hinted says what to do about an error that does not say so itself: it is one of the disk.
func (s *liveSession) hinted(err error) error {
	if fl := (*Failure)(nil); besides(err) == nil || errors.As(err, &fl) {
		return err
	}
	return &Failure{Code: ExitFailed, Err: err, Hint: fmt.Sprintf("make room, then go on with: %s; what was written before is kept in %s",
		s.flags.resumeCommand(), s.journal.Dir())}
}

// newLive reads the sheets, or the session to go on with.
func (f *sessionFlags) newLive(env Env) (*liveSession, error) {
	if f.resume != "" {
		before, err := f.findResumed(env)
		if err != nil {
			return nil, err
		}
		s := &liveSession{flags: f, sheets: before.sheets, typist: session.NewTypist(before.sheets.Engine.Cylinders), before: before}
		s.typist.Place, s.typist.Named = before.place, true
		return s, nil
	}
	sheets, err := f.loadSheets()
	if err != nil {
		return nil, err
	}
	return &liveSession{flags: f, sheets: sheets, typist: session.NewTypist(sheets.Engine.Cylinders), before: resumed{take: 1}}, nil
}

// create begins the journal, or goes on with it, and names the recording in its folder.
func (s *liveSession) create(env Env, format audio.Format, device string) (string, error) {
	a := pump.Analysis{Format: format, Frames: -1}
	s.flags.input = device
	begin := func() (*logbook.Writer, error) { return s.flags.create(env, s.sheets, &a) }
	if s.before.dir != "" {
		begin = func() (*logbook.Writer, error) { return s.before.open(env) }
	}
	w, err := begin()
	if err != nil {
		return "", err
	}
	s.journal, s.queue = w, session.NewQueue(w)
	s.count.Rate = format.SampleRate
	within := s.flags.within
	if within < 0 {
		within = session.ChatterGap.Seconds()
	}
	s.rec, err = session.NewRecorder(s.queue, s.sheets.Setup, logbook.Take{Take: s.before.take, File: takeFile(s.before.take), ApproachS: within, Sets: s.atOnce()}, nil, nil)
	if err == nil && s.sheets.AtOnce {
		s.rec.BySet(s.sheets.SetOf)
	}
	return filepath.Join(w.Dir(), takeFile(s.before.take)), err
}

// event takes a settled opening or closing into the journal.
func (s *liveSession) event(e detect.Event) error {
	c, ok := s.count.Change(e)
	if !ok {
		return nil
	}
	s.open[c.Set] = c.Open
	if c.Open {
		s.note(e, &c)
	}
	if err := s.rec.Hear(c); err != nil {
		return err
	}
	h := s.run.hear
	note := h.view.Note
	if err := s.release(false); err != nil {
		return err
	}
	if c.Open && (s.off[e.ID] || s.rec.Thrown(c.ID)) { // asked for before it was here, or chatter of one that was
		delete(s.off, e.ID)
		read, err := s.takeOff(c.ID, byHand, who)
		if read {
			h.view.Note = strings.TrimPrefix(note+readingKept, "; ")
			h.refresh()
		}
		return err
	}
	if err := s.judged(); err != nil {
		return err
	}
	return s.pair(false)
}

// judged notes closings at another level, and throws away the openings before them where they may have been a lead that fell off.
func (s *liveSession) judged() error {
	for _, x := range s.run.hear.ears() {
		if err := s.judge(x); err != nil {
			return err
		}
	}
	return nil
}

func (s *liveSession) judge(x *ear) error {
	h := s.run.hear
	other, refused := x.other, x.refused
	x.other, x.refused = "", 0
	if other != "" {
		if err := s.rec.Caveat(timing.Caveat{Code: "other_level", Message: other}); err != nil {
			return err
		}
	}
	at := slices.Index(s.ids, refused)
	if refused == 0 || at < 0 {
		return nil
	}
	note := h.view.Note
	read, err := s.takeOff(int64(at+1), "the tone came back at another level", "breakcue")
	if err != nil {
		return err
	}
	if h.view.Note = note; read {
		h.view.Note += readingKept
	}
	h.refresh()
	return nil
}

// tick notes an opening of which it cannot be told whether a lead fell off, and takes a reading whose opening was taken back.
func (s *liveSession) tick() error {
	if err := errors.Join(s.judged(), s.release(false)); err != nil {
		return err
	}
	s.showDial()
	for _, x := range s.run.hear.ears() {
		at := slices.Index(s.ids, x.doubtful)
		if x.doubtful == 0 || at < 0 {
			continue
		}
		if err := s.rec.Caveat(timing.Caveat{Code: "not_confirmed", Message: fmt.Sprintf(
			"sound was lost when the points closed after opening %d: it may have been a lead that fell off", at+1)}); err != nil {
			return err
		}
	}
	return nil
}

// pair gives the readings that wait to the openings that have none, in order; in the end those without an opening too. Whether an
// opening counts is known when the points have closed again: until then the newest gets none.
func (s *liveSession) pair(end bool) error {
	for len(s.later) > 0 {
		s.rec.At(s.later[0].Place)
		set := s.setAt(s.later[0].Place)
		if n := s.rec.Waiting(); !end && s.later[0].Number == 0 && (n == 0 || n == 1 && (s.open[set] || s.run.hear.of(set).doubted.ID != 0)) {
			return nil
		}
		if _, heard := s.rec.Opening(s.later[0].Number); !end && s.later[0].Number > 0 && !heard {
			return nil
		}
		if _, err := s.rec.Reading(s.later[0]); err != nil {
			return err
		}
		if s.later = s.later[1:]; s.hand != nil {
			s.hand.Next()
		}
	}
	return nil
}

// finish ends the session, and says what is left to do, though it may have failed. heard is how the listening ended.
func (s *liveSession) finish(env Env, named bool, heard error) error {
	err := s.end(env, named, heard)
	s.sayTruth(env)
	if s.guide != nil && !s.guide.Over() {
		s.sayLeft(env)
	}
	return err
}

// end pairs readings that came from a file, prints the report and ends the journal.
func (s *liveSession) end(env Env, named bool, heard error) error {
	if err := errors.Join(s.release(true), s.pair(true)); err != nil {
		s.flags.tellLost(env, s.later)
		return errors.Join(heard, err)
	}
	if !named {
		if err := s.rec.Caveat(placeAssumed(s.sheets)); err != nil {
			return errors.Join(heard, err)
		}
	}
	if text := s.run.watch.driftWords(); text != "" {
		if err := s.rec.Caveat(timing.Caveat{Code: "cable_drift", Message: text}); err != nil {
			return errors.Join(heard, err)
		}
	}
	reason := logbook.Finished
	failed := besides(heard)
	if fl := (*Failure)(nil); errors.As(failed, &fl) && fl.Code == ExitInconclusive {
		failed = nil // a result, though nobody is glad of it
	}
	if failed != nil {
		reason = "failed"
		if err := s.rec.Caveat(timing.Caveat{Code: "failed", Message: strings.Join(parted(failed), "; ")}); err != nil {
			return errors.Join(heard, err)
		}
	}
	if s.guide != nil && !s.guide.Over() && failed == nil {
		reason = "left"
		if !cancelled(heard) {
			heard = nil // nothing was to be heard yet, it may be
		}
	}
	if cancelled(heard) {
		reason = "interrupted"
	}
	if err := s.queue.Wait(); err != nil {
		heard = errors.Join(heard, err)
	}
	err := s.flags.report(env, s.rec, s.journal.Dir(), reason)
	if errors.Is(err, errNoResult) && (heard != nil || reason == "left") {
		err = nil // that is why
	}
	return errors.Join(heard, err)
}
