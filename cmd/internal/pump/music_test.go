package pump_test

import "math"

// musics are the styles of music-like sound; each fills its canvas.
var musics = map[string]func(*canvas){
	"organ":     organ,
	"drone":     drone,
	"flute":     flute,
	"plucked":   plucked,
	"piano":     piano,
	"bells":     bells,
	"drums":     drums,
	"strings":   bowed,
	"square":    square,
	"whistling": whistling,
	"band":      band,
	"tremolo":   tremolo,
}

var major, minor = []int{0, 2, 4, 5, 7, 9, 11}, []int{0, 2, 3, 5, 7, 8, 10}

// melody calls play for each note of a tune that walks along a scale, lengths in beats of a steady metre.
func (c *canvas) melody(low, high int, fastest float64, play func(at, length, hz float64)) {
	scale := pick(c, major, minor)
	key, degree := low+c.rng.IntN(12), c.rng.IntN(7)
	beat := c.between(fastest, 2.5*fastest)
	for at := c.between(0, beat); at < c.seconds(); {
		length := beat * pick(c, 1.0, 1.0, 1.0, 2.0, 0.5, 3.0)
		n := key + 12*(degree/7) + scale[degree%7]
		for n > high {
			n -= 12
		}
		if c.rng.IntN(8) > 0 { // else a rest
			play(at, length, pitch(n))
		}
		degree = max(0, min(20, degree+pick(c, -3, -2, -1, -1, 0, 1, 1, 2, 4)))
		at += length
	}
}

// organ: steady chords that begin and end at once, always equally loud.
func organ(c *canvas) {
	v := voice{partials: []float64{1, 0.6, 0.3, 0.3, 0, 0.15, 0, 0.2}, attack: pick(c, 0.001, 0.01, 0.04), release: pick(c, 0.001, 0.02, 0.06)}
	c.melody(-24, 12, 0.25, func(at, length, hz float64) {
		for _, n := range pick(c, []int{0}, []int{0, 4, 7}, []int{0, 3, 7}, []int{0, 7, 12}) {
			c.note(v, at, 0.9*length, hz*math.Pow(2, float64(n)/12), 0.2)
		}
	})
}

// drone: one note held, another repeated over it.
func drone(c *canvas) {
	v := voice{partials: []float64{1, 0.5, 0.7, 0.3, 0.4, 0.2, 0.3, 0.1}, attack: 0.02, release: 0.03, tremolo: 0.03, shake: 5}
	hz := pitch(-14 + c.rng.IntN(12))
	c.note(v, 0, c.seconds(), hz, 0.2)
	c.note(v, 0, c.seconds(), hz*1.4983, 0.15)
	c.melody(-2, 12, 0.3, func(at, length, hz float64) { c.note(v, at, 0.9*length, hz, 0.2) })
}

// flute: short notes that are nearly pure tones, with breath.
func flute(c *canvas) {
	v := voice{partials: []float64{1, 0.06, 0.02}, attack: 0.015, release: 0.02, vibrato: pick(c, 0, 0.003, 0.008), tremolo: 0.1, shake: 5.5}
	c.melody(3, 29, 0.12, func(at, length, hz float64) {
		c.note(v, at, 0.5*length, hz, c.between(0.2, 0.4))
		c.hit(at, 0.03, 3000, 0.02)
	})
	c.noise(0.002, 4000, 0.5, 1)
}

func plucked(c *canvas) {
	c.melody(-20, 16, 0.15, func(at, length, hz float64) { c.pluck(at, 3*length, hz, c.between(0.2, 0.5)) })
	c.melody(-30, -8, 0.4, func(at, length, hz float64) { c.pluck(at, 2*length, hz, c.between(0.3, 0.5)) })
}

func piano(c *canvas) {
	v := voice{partials: []float64{1, 0.7, 0.4, 0.3, 0.2, 0.15, 0.1, 0.05}, stretch: 4e-4, attack: 0.003, decay: 0.8, release: 0.1}
	c.melody(-8, 20, 0.2, func(at, length, hz float64) { c.note(v, at, length, hz, c.between(0.1, 0.4)) })
	c.melody(-30, -5, 0.6, func(at, length, hz float64) {
		for _, r := range []float64{1, 1.26, 1.5} {
			c.note(v, at, length, hz*r, c.between(0.1, 0.3))
		}
	})
}

func bells(c *canvas) {
	v := voice{partials: []float64{0.6, 1, 0.5, 0.4, 0.3}, stretch: 0.02, attack: 0.001, decay: 1.5, release: 0.5}
	c.melody(0, 30, 0.5, func(at, length, hz float64) { c.note(v, at, 2*length, hz, c.between(0.2, 0.4)) })
}

func drums(c *canvas) {
	beat := c.between(0.2, 0.35)
	skin := voice{partials: []float64{1, 0.3}, decay: 0.12, glide: -0.4, release: 0.05}
	for n, at := 0, 0.1; at < c.seconds(); n, at = n+1, at+beat/2 {
		switch {
		case n%8 == 0 || (n%8 == 5 && c.rng.IntN(2) == 0):
			c.note(skin, at, 0.4, c.between(60, 90), 0.8)
		case n%8 == 4:
			c.hit(at, 0.08, 5000, 0.4)
			c.note(skin, at, 0.2, 190, 0.3)
		}
		if n%2 == 0 || c.rng.IntN(3) == 0 {
			c.hit(at, pick(c, 0.02, 0.02, 0.2), -7000, 0.1)
		}
	}
}

// bowed: slow chords of strings with vibrato that swell.
func bowed(c *canvas) {
	v := voice{partials: []float64{1, 0.6, 0.5, 0.4, 0.3, 0.25, 0.2, 0.15, 0.1, 0.1}, attack: 0.2, release: 0.3, vibrato: 0.006, tremolo: 0.1, shake: 6}
	c.melody(-17, 12, 0.5, func(at, length, hz float64) {
		for _, r := range []float64{0.5, 1, 1.26, 1.5} {
			c.note(v, at, length, hz*r*c.between(0.999, 1.001), c.between(0.1, 0.2))
		}
	})
}

// square: arpeggios of a simple electronic sound with hard edges, each note at the same level.
func square(c *canvas) {
	v := voice{partials: []float64{1, 0, 1.0 / 3, 0, 1.0 / 5, 0, 1.0 / 7, 0, 1.0 / 9}}
	step := pick(c, 0.02, 0.04, 0.125)
	c.melody(-10, 15, 0.25, func(at, length, hz float64) {
		for i := range int(length / step) {
			c.note(v, at+float64(i)*step, pick(c, 1, 0.5)*step, hz*[]float64{1, 1.26, 1.5}[i%3], 0.3)
		}
	})
}

// whistling: a person who whistles: nearly pure, sliding from note to note.
func whistling(c *canvas) {
	v := voice{partials: []float64{1, 0.02}, attack: 0.04, release: 0.05, vibrato: 0.01, tremolo: 0.15, shake: 5}
	c.melody(15, 34, 0.2, func(at, length, hz float64) {
		w := v
		w.glide = c.between(-0.02, 0.02)
		c.note(w, at, 0.95*length, hz, c.between(0.2, 0.4))
	})
	c.noise(0.004, -2000, 0.3, 2)
}

func band(c *canvas) {
	drums(c)
	for _, play := range []func(*canvas){plucked, pick(c, organ, piano, flute, square)} {
		play(c)
	}
}

// tremolo: one chord, its level shaken deeply, as by a turning loudspeaker.
func tremolo(c *canvas) {
	v := voice{partials: []float64{1, 0.5, 0.3}, attack: 0.05, release: 0.1, tremolo: c.between(0.5, 0.95), vibrato: 0.004, shake: c.between(3, 8)}
	c.melody(-12, 12, 0.8, func(at, length, hz float64) {
		c.note(v, at, length, hz, 0.3)
		c.note(v, at, length, hz*1.5, 0.2)
	})
}
