package pump

import (
	"math/cmplx"
	"time"

	"breakcue/audio"
	"breakcue/detect"
)

// humWatch looks for hum in the sound of two tones before these are taken apart: what both share would be taken for levels of the tones. The
// first sound is held back until it is clear that there is none, which takes humGlance, or until it is known, which takes a second; hum that
// comes later is looked for in each second. It is silent from the moment that hum has been found: the Split follows it.
type humWatch struct {
	tones  [2]float64
	level  float64 // of the weaker tone when it is loud, where it was measured before
	rate   int
	glance int
	whole  int
	wait   int64 // frames before the tones stand at their levels
	sound  []float32
	held   bool // sound has not been passed on
	hum    detect.Hum
}

const humGlance = 200 * time.Millisecond

func newHumWatch(f audio.Format, opt PairOptions) humWatch {
	whole := int(detect.HumSeconds * float64(f.SampleRate))
	w := humWatch{tones: opt.Tones, rate: f.SampleRate, glance: int(frames(f, humGlance)), whole: whole, wait: max(0, opt.Begin),
		sound: make([]float32, 0, whole), held: true}
	if p := opt.Profiles; p[0] != nil && p[1] != nil {
		w.level = min(max(cmplx.Abs(p[0].Closed), cmplx.Abs(p[0].Open)), max(cmplx.Abs(p[1].Closed), cmplx.Abs(p[1].Open)))
	}
	return w
}

// most returns how many frames may be added before look.
func (w *humWatch) most() int64 {
	switch {
	case w.wait > 0:
		return w.wait
	case w.held && len(w.sound) < w.glance:
		return int64(w.glance - len(w.sound))
	}
	return int64(w.whole - len(w.sound))
}

// add takes the sound x of one channel. It is true where x is held back.
func (w *humWatch) add(x []float32) bool {
	switch {
	case w.wait > 0:
		w.wait -= int64(len(x))
		return false
	case w.hum.Freq == 0:
		w.sound = append(w.sound, x...)
	}
	return w.held
}

// look tells whether sound that was held back is to be passed on now, and whether there is hum in it, from its first frame on; or, where none was
// held back, whether there is hum from the next frame on. With all there will be no more before that is needed.
func (w *humWatch) look(all bool) (held []float32, hum detect.Hum) {
	n := len(w.sound)
	switch {
	case n < w.whole && !(w.held && (all || n == w.glance)):
		return nil, detect.Hum{}
	case w.held && n == w.glance && !all && detect.MayHum(w.sound, w.rate, w.tones, w.level):
		return nil, detect.Hum{}
	case n > w.glance && (w.held || detect.MayHum(w.sound[n-w.glance:], w.rate, w.tones, w.level)):
		hum = detect.HumOfTwo(w.sound, w.rate, w.tones, w.level)
	}
	if w.held {
		held, w.hum, w.held = w.sound, hum, false
		if n < w.whole && hum.Freq == 0 { // the second goes on
			return held, hum
		}
	} else if hum.Freq > 0 {
		hum = hum.After(int64(n), w.rate)
		w.hum = hum
	}
	w.sound = w.sound[:0]
	return held, hum
}

// skip forgets what comes before lost frames.
func (w *humWatch) skip() { w.sound = w.sound[:0] }
