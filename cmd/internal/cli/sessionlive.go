package cli

import (
	"errors"
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"unicode"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"breakcue/audio"
	"breakcue/cmd/internal/cue"
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

	count session.Counter
	ids   []int64        // by ID in the journal, from 1: the ID of the event of each opening
	off   map[int64]bool // by ID of its event: an opening that is to be thrown away once it is in the journal
	open  bool           // the newest change was an opening
}

// keyPlace goes on to the next cylinder and phase: it is on the number pad.
const keyPlace = '*'

// onlyLive refuses flags of live sound where a recording is given.
func (f *sessionFlags) onlyLive(fs *pflag.FlagSet) error {
	for _, name := range cardFlags {
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
	if f.resume == "" {
		if err := f.checkSheets(); err != nil {
			return err
		}
	}
	if !fs.Changed("approach") {
		f.approach = session.ChatterGap.String() // a hand turns the engine
	}
	if err := f.checkApproach(); err != nil {
		return err
	}
	if len(f.rec.tones) > 1 {
		return fail(ExitUsage, "one set of points after the other", "live, one --tone is played, got %d", len(f.rec.tones))
	}
	if len(f.rec.tones) == 1 {
		f.live.tone = f.rec.tones[0]
	}
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
	named := true
	if f.readings != "" && f.readings != standardInput {
		if s.later, named, err = f.typed(env, s.sheets); err != nil {
			return err
		}
	}
	s.run, err = f.live.start(ctx, env, liveView{
		keys:   "Enter: take the reading  *: next cylinder or phase  x: throw opening away  q: end",
		prompt: s.prompt(), silent: f.asJSON, ask: f.readings == "" || f.readings == standardInput,
		record: func(format audio.Format, device string) (string, error) { return s.create(env, format, device) },
	})
	if err != nil {
		if s.journal != nil {
			_, ended := s.queue.Append(logbook.End{Reason: "failed"})
			err = errors.Join(err, ended, s.queue.Close(), s.journal.Close())
		}
		return err
	}
	if s.before.dir != "" {
		s.rec.Await(s.before.half)
		s.run.hear.view.Prompt = s.prompt()
		s.run.hear.standing = s.brief(s.typist.Place)
		s.run.hear.health()
	}
	s.run.event, s.run.key, s.run.line, s.run.tick = s.event, s.key, s.line, s.tick
	heard := s.run.listen(ctx)
	err = errors.Join(s.finish(env, named, heard), s.queue.Close(), s.journal.Close())
	if fl := (*Failure)(nil); besides(err) == nil || errors.As(err, &fl) {
		return err
	}
	return &Failure{Code: ExitFailed, Err: err, Hint: "make room or choose another disk with --dir; what was written before is kept in " + s.journal.Dir()}
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
	sheets, err := session.LoadSheets(f.engine, f.dial)
	if err != nil {
		return nil, sheetError(f.engine, f.dial, err)
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
	s.rec, err = session.NewRecorder(s.queue, s.sheets.Setup, logbook.Take{Take: s.before.take, File: takeFile(s.before.take), ApproachS: within}, nil, nil)
	return filepath.Join(w.Dir(), takeFile(s.before.take)), err
}

// event takes a settled opening or closing into the journal.
func (s *liveSession) event(e detect.Event) error {
	c, ok := s.count.Change(e)
	if !ok {
		return nil
	}
	s.open = c.Open
	if c.Open {
		s.ids = append(s.ids, e.ID)
		s.run.mark(e, fmt.Sprintf("points open %d", c.ID))
	}
	if err := s.rec.Hear(c); err != nil {
		return err
	}
	if c.Open && (s.off[e.ID] || s.rec.Thrown(c.ID)) { // asked for before it was here, or chatter of one that was
		delete(s.off, e.ID)
		_, err := s.takeOff(c.ID, byHand, who)
		return err
	}
	if same, known := s.run.hear.returned(e); !c.Open && known && !same {
		if err := s.rec.Caveat(timing.Caveat{Code: "other_level", Message: fmt.Sprintf(
			"at %.3f s the points closed at another level than before (%s): what looked like an opening just before may have been a lead that fell off",
			c.TimeS, louder(s.run.hear.opened, e))}); err != nil {
			return err
		}
	}
	if at := slices.Index(s.ids, s.run.hear.refused); at >= 0 {
		note := s.run.hear.view.Note
		read, err := s.takeOff(int64(at+1), "the tone came back at another level", "breakcue")
		if err != nil {
			return err
		}
		if s.run.hear.view.Note = note; read {
			s.run.hear.view.Note += readingKept
		}
		s.run.hear.refresh()
	}
	return s.pair(false)
}

// tick notes an opening of which it cannot be told whether a lead fell off.
func (s *liveSession) tick() error {
	if s.run.hear.doubtful == 0 {
		return nil
	}
	at := slices.Index(s.ids, s.run.hear.doubtful)
	if at < 0 {
		return nil
	}
	return s.rec.Caveat(timing.Caveat{Code: "not_confirmed", Message: fmt.Sprintf(
		"sound was lost when the points closed after opening %d: it may have been a lead that fell off", at+1)})
}

// pair gives the readings that wait to the openings that have none, in order; in the end those without an opening too. Whether an
// opening counts is known when the points have closed again: until then the newest gets none.
func (s *liveSession) pair(end bool) error {
	for len(s.later) > 0 {
		if n := s.rec.Waiting(); !end && (n == 0 || n == 1 && s.open) {
			return nil
		}
		if _, err := s.rec.Reading(s.later[0]); err != nil {
			return err
		}
		s.later = s.later[1:]
	}
	return nil
}

// key takes what is typed on the screen.
func (s *liveSession) key(k cue.Key) error {
	v := &s.run.hear.view
	empty := v.Typed == ""
	switch {
	case k.Name == cue.Enter:
		text := v.Typed
		v.Typed = ""
		if strings.TrimSpace(text) == "" {
			return nil
		}
		return s.line(text)
	case k.Name == cue.Backspace, k.Name == cue.Delete:
		if r := []rune(v.Typed); len(r) > 0 {
			v.Typed = string(r[:len(r)-1])
		}
	case k.Name == cue.Escape && !empty:
		v.Typed = ""
	case k.Name == cue.Escape, empty && k.Rune == keyQuit:
		return errQuit
	case empty && k.Rune == keyThrow:
		return s.throwAway()
	case empty && k.Rune == keyPlace:
		s.nextPlace()
	case unicode.IsPrint(k.Rune) && len(v.Typed) < longestTyped:
		v.Typed += string(k.Rune)
	}
	return nil
}

// longestTyped is how much of a line is taken [bytes].
const longestTyped = 60

// passOver notes for the openings before the newest that no reading was taken.
func (s *liveSession) passOver() error {
	for s.rec.Waiting() > 1 {
		if err := s.rec.PassOver(s.typist.Place); err != nil {
			return err
		}
	}
	return nil
}

// line takes a reading, or a line that names cylinder and phase.
func (s *liveSession) line(text string) error {
	v := &s.run.hear.view
	switch strings.TrimSpace(text) { // without a screen a line stands for a key
	case string(keyQuit):
		return errQuit
	case string(keyThrow):
		return s.throwAway()
	case string(keyPlace):
		s.nextPlace()
		return nil
	}
	typed, ok, err := s.typist.Line(text)
	v.Prompt = s.prompt()
	if err != nil {
		v.Note = err.Error()
	}
	if !ok {
		return nil
	}
	if !s.run.env.InTTY {
		s.later = append(s.later, typed)
		return s.pair(false)
	}
	if session.IsLastClosed(typed.Text) {
		return s.lastClosed(typed)
	}
	if err := s.passOver(); err != nil {
		return fmt.Errorf("reading %q is not in the log: %w", typed.Text, err)
	}
	_, _, _, pending := s.rec.Next()
	unusable, err := s.rec.Reading(typed)
	switch {
	case err != nil:
		return fmt.Errorf("reading %q is not in the log: %w", typed.Text, err)
	case unusable != "" && strings.TrimSpace(text) != timing.NoReading:
		v.Note = "kept, but not used: " + unusable
		if pending {
			s.rec.Again()
		}
		return nil
	case !pending:
		v.Note = fmt.Sprintf("%s is kept, but there is no new opening that it could belong to", typed.Text)
		return nil
	}
	v.Note = ""
	s.run.hear.standing = s.result(typed)
	s.run.hear.health()
	return nil
}

// lastClosed takes the last reading with the points closed, which waits for the first open one.
func (s *liveSession) lastClosed(typed session.Typed) error {
	v := &s.run.hear.view
	unusable, err := s.rec.Reading(typed)
	if err != nil {
		return fmt.Errorf("reading %q is not in the log: %w", typed.Text, err)
	}
	v.Note = ""
	if unusable != "" {
		v.Note = "kept, but not used: " + unusable
	}
	v.Prompt = s.prompt()
	return nil
}

// result says in a line what the readings of its cylinder and phase say, with the newest.
func (s *liveSession) result(typed session.Typed) string {
	text := strings.TrimSpace(typed.Text)
	if brief := s.brief(typed.Place); brief != "" {
		return text + ": " + brief
	}
	return text
}

// brief says what the readings of a cylinder and phase say, and what to move; it is empty when there are none.
func (s *liveSession) brief(at logbook.Place) string {
	r, err := s.report()
	if err != nil {
		return err.Error()
	}
	ph, ok := r.Phase(at)
	if !ok || ph.N == 0 {
		return ""
	}
	move := ""
	if r.Advice != nil && ph.Verdict == timing.OutOfTolerance.String() {
		move = r.Advice.Brief(at.Cylinder)
	}
	return ph.Brief(move)
}

func (s *liveSession) report() (session.Report, error) {
	if err := s.queue.Wait(); err != nil {
		return session.Report{}, err
	}
	j, err := logbook.Read(s.journal.Dir())
	if err != nil {
		return session.Report{}, err
	}
	return session.FromJournal(j)
}

// nextPlace goes on: as found, as left, the next cylinder.
func (s *liveSession) nextPlace() {
	p := &s.typist.Place
	if p.Phase == logbook.AsFound {
		p.Phase = logbook.AsLeft
	} else {
		all := s.sheets.Engine.Cylinders
		p.Cylinder, p.Phase = all[(slices.Index(all, p.Cylinder)+1)%len(all)], logbook.AsFound
	}
	s.typist.Named = true
	s.run.hear.view.Prompt = s.prompt()
}

func (s *liveSession) prompt() string {
	out := fmt.Sprintf("Dial reading, %s, %s", s.typist.Place.Cylinder, phaseWords(s.typist.Place.Phase))
	if s.rec != nil && s.rec.Half() != "" {
		out = fmt.Sprintf("%s; first open? %s, %s", s.rec.Half(), s.typist.Place.Cylinder, phaseWords(s.typist.Place.Phase))
	}
	return out
}

// finish pairs readings that came from a file, prints the report and ends the journal. heard is how the listening ended.
func (s *liveSession) finish(env Env, named bool, heard error) error {
	if err := s.pair(true); err != nil {
		return errors.Join(heard, err)
	}
	if !named {
		if err := s.rec.Caveat(placeAssumed(s.sheets)); err != nil {
			return errors.Join(heard, err)
		}
	}
	reason := "finished"
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
	if cancelled(heard) {
		reason = "interrupted"
	}
	if err := s.queue.Wait(); err != nil {
		heard = errors.Join(heard, err)
	}
	err := s.flags.report(env, s.rec, s.journal.Dir(), reason)
	if heard != nil && errors.Is(err, errNoResult) {
		err = nil // that is why
	}
	return errors.Join(heard, err)
}
