package cli

import (
	"fmt"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"breakcue/audio"
	"breakcue/audio/bench"
	"breakcue/cmd/internal/session"
	"breakcue/timing"
	"breakcue/timing/logbook"
)

// racket is a sound with that of the shop on top: hammering, music, and the beep that comes from the loudspeaker back into the
// input.
type racket struct {
	audio.Source
	hammer audio.Source
	music  []*audio.Tone
	bar    int64 // [frames] of each note
	beep   *audio.Tone
	left   int64 // [frames] of the beep
	pos    int64
}

func (r *racket) Read(dst []float32) (int, error) {
	n, err := r.Source.Read(dst)
	dst = dst[:2*n]
	knocks := make([]float32, len(dst))
	_, _ = r.hammer.Read(knocks)
	for i, x := range knocks {
		dst[i] += x
	}
	for c := range 2 {
		r.music[r.pos/r.bar%int64(len(r.music))].Add(dst, 2, c)
	}
	if r.beep != nil {
		if r.left <= 0 {
			r.beep.Stop()
		}
		r.left -= int64(n)
		for i := range n { // it is as loud in both channels
			var x [1]float32
			r.beep.Add(x[:], 1, 0)
			dst[2*i] += x[0]
			dst[2*i+1] += x[0]
		}
	}
	r.pos += int64(n)
	return n, err
}

// tone is a sine that sounds.
func tone(t *testing.T, hz, dbfs float64) *audio.Tone {
	x, err := audio.NewTone(hz, dbfs, 48000)
	require.NoError(t, err)
	return x
}

// newNoisyShop is a workplace in noise, hum, hammering, music and the beep.
func newNoisyShop(t *testing.T, seed uint64) *workplace {
	w := newWorkplace(t, nil)
	closed := bench.Amplitude(-12)
	w.sound.Noise = bench.NoiseFor(closed, 26)
	w.sound.Hum = bench.Hum{Hz: 50, Level: closed / 4, Harmonics: 7}
	w.sound.Ticks = bench.Ticks{Rate: 8, Length: 100e-6, Level: closed}
	w.sound.BandLimited, w.sound.Seed = true, seed
	hammer, err := bench.New(bench.Config{SampleRate: 48000, Channels: 2, Frames: bench.Endless, Tone: 1000, Level: -200, Seed: seed + 2,
		Ticks: bench.Ticks{Rate: 2, Length: 0.005, Level: 2 * closed}})
	require.NoError(t, err)
	inner := w.wrap
	w.wrap = func(src audio.Source) audio.Source {
		r := &racket{Source: src, hammer: hammer, bar: 48000 / 5}
		for _, hz := range []float64{440, 523.25, 659.26, 987.77, 880, 783.99, 1046.5} { // near the test tone too
			r.music = append(r.music, tone(t, hz, -38))
		}
		a := w.asked.Alert
		r.beep = tone(t, a.Hz, a.Level-20)
		r.beep.SetRamp(5 * time.Millisecond)
		r.beep.Stop()
		w.card.beeped = func() { r.beep.Start(); r.left = int64(a.Length.Seconds() * 48000) }
		return inner(r)
	}
	return w
}

const (
	// mistyped is the pass whose last half is typed wrong; it is corrected after the pass that follows.
	mistyped   = 2 // of job
	typedWrong = "1.60\n"

	hurried = 5 // after this pass nobody waits: the step is left at once
)

var newest = regexp.MustCompile(`Opening (\d+) was just now\.`)

// Noise, hum, hammering, music and the beep come back into the input, and both hands are dirty: nothing but the number pad is used.
// Readings are typed before their openings have settled, and after.
func TestANoisyShop(t *testing.T) {
	for i, delays := range [][]float64{{0.05, 0.35, 0.1, 0.7, 0.5, 0.05, 0.2, 0.15}, {0.3, 0.06, 0.6, 0.05, 0.1, 0.4, 0.08, 0.05}, {0.05}} {
		t.Run(fmt.Sprint(delays), func(t *testing.T) { noisy(t, uint64(i+1), delays) })
	}
}

// noisyJob is the whole job in a noisy shop.
type noisyJob struct {
	*mechanic
	delays []float64 // [s] after its opening at which the last half of a reading is entered, by turns
	number string    // of the opening whose reading was mistyped, as the screen has it
	thrown int       // openings, by hand
	spoilt int       // passes made once more
}

// shows tells whether the screen shows a text, as it is after all that was heard and struck.
func (m *noisyJob) shows(text string) bool {
	m.strike("*")
	m.sees(m.t, "what next?")
	m.strike("*")
	return strings.Contains(unbroken(m.sees(m.t, "Dial reading")), text)
}

// pass makes the k-th pass of the job. A blow of the hammer at the wrong moment spoils it: the screen says so, and it is made again.
func (m *noisyJob) pass(k int) {
	for range 3 {
		m.strike(job[k].before)
		text := job[k].after
		if k == mistyped {
			text = typedWrong
		}
		last, delay := strings.TrimSpace(text), m.delays[k%len(m.delays)]
		if delay < 0.2 { // nobody types so fast: the figures stand there before
			m.strike(last)
			text = "\n"
		}
		at := m.opens(0.8)
		m.until(at + delay)
		m.strike(text)
		if k == mistyped {
			m.number = newest.FindStringSubmatch(unbroken(m.sees(m.t, " was just now.")))[1]
		}
		if k == hurried && delay < 0.2 {
			m.passes = append(m.passes, m.opened-1)
			return // on to the next step before the opening has settled
		}
		for _, wait := range []float64{1.4, 3.5} { // the blow may put off that it settles
			m.until(at + wait)
			if m.shows(last + " (") {
				m.passes = append(m.passes, m.opened-1)
				return
			}
		}
		m.spoilt++
	}
	require.Fail(m.t, "spoilt again and again")
}

// noisy is the whole job in a noisy shop.
func noisy(t *testing.T, seed uint64, delays []float64) {
	m := &noisyJob{mechanic: newMechanic(t, newNoisyShop(t, seed)), delays: delays}
	m.slow = bench.Chatter{Speed: 2, Lift: 0.03, Length: 0.002} // a hand creeping up: 50 ms
	m.measure = func(place logbook.Place, i int) {
		for k := i; k < len(job) && job[k].place == place; k++ {
			m.pass(k)
			if k == 0 { // the crank slips back
				at := m.opens(0.4)
				m.until(at + delays[0])
				m.strike("*")
				m.sees(t, "6 throw the newest opening away")
				m.strike("6")
				m.sees(t, "Dial reading, left, as found")
				m.thrown++
				m.until(at + 1)
			}
		}
		if i == mistyped {
			m.strike(m.number + "*" + job[mistyped].reading + "\n")
			m.sees(t, fmt.Sprintf("opening %s, %s (", m.number, job[mistyped].reading))
		}
	}
	m.begin(t, append(append([]string{}, sheetArgs...), "--dir", m.root, "--alert")...)
	m.work()
	require.Equal(t, ExitOK, m.code, m.errs.String())
	r, _ := m.journal(t)
	assertJob(t, r, m.ofPasses(), 0.05) // of the 50 ms in which the points touch and part, noise hides the first; passes are a second apart
	m.assertGuided(r, m.thrown+m.spoilt)
	assert.LessOrEqual(t, m.spoilt, 1)
	var others []string
	heard := 0 // a blow may part one slow opening in two: they are one approach
	for _, c := range r.Cylinders {
		for _, ph := range c.Phases {
			_, unused := used(ph)
			others = append(others, unused...)
			for _, p := range ph.Passes {
				if p.Unused == "" || p.Reading == timing.NoReading {
					heard += p.Edge.Openings
				}
			}
		}
	}
	for _, e := range r.Steps.Openings {
		heard += e.Openings
	}
	assert.Contains(t, others, "-: "+session.NoReading)
	assert.Contains(t, others, "1.72/1.60: replaced by a later reading")
	assert.Len(t, others, 2+m.spoilt)
	assert.InDelta(t, m.opened, heard, float64(m.opened)/10, "few are parted")
	// A blow of the hammer may look like an opening for some milliseconds: then the beep is cut short.
	assert.Equal(t, heard+m.spoilt-1, m.card.sounded-m.card.hushed, "one beep for each opening, but not for the cable that is taken off at the end")
	assert.Contains(t, m.out.String(), "0.28 mm too early")
}
