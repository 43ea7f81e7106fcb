package pump_test

import (
	"math"
)

// shops are the kinds of shop-like sound; each fills its canvas.
var shops = map[string]func(*canvas){
	"hammering":     hammering,
	"grinding":      grinding,
	"compressor":    compressor,
	"impact wrench": wrench,
	"air":           air,
	"hum":           shopHum,
	"radio":         radio,
	"ratchet":       ratchet,
	"engine":        engine,
	"telephone":     telephone,
	"reversing":     reversing,
	"all of it":     everything,
}

// hammering: blows on steel that rings, each a little different.
func hammering(c *canvas) {
	modes := make([]float64, 6)
	for i := range modes {
		modes[i] = c.between(300, 9000)
	}
	for at := 0.2; at < c.seconds(); at += c.between(0.3, 1) {
		blow := c.between(0.3, 1)
		for _, hz := range modes {
			c.note(voice{partials: []float64{1}, decay: c.between(0.02, 0.4), release: 0.1}, at, 1, hz, 0.3*blow*c.rng.Float64())
		}
		c.hit(at, 0.004, 8000, blow)
	}
}

// grinding: noise that is shaken by the turning disc, pressed on and taken off, with the whine of the motor that goes down under load.
func grinding(c *canvas) {
	for at := 0.3; at < c.seconds(); {
		length := c.between(1, 8)
		hz := c.between(150, 190)
		v := voice{partials: []float64{0.5, 0.2, 0.1, 0.4, 0.1, 0.1, 0.05, 0.3}, attack: 0.4, release: 1.5, vibrato: 0.01, shake: 0.7, glide: -0.1}
		c.note(v, at, length, hz, 0.3)
		for t := at; t < at+length; t += 1 / hz {
			c.hit(t, 0.003, -3000, c.between(0.1, 0.3))
		}
		at += length + c.between(1, 4)
	}
}

// compressor: a motor that runs up, pumps, whistles through its valve at nearly one pitch, and stops; again and again.
func compressor(c *canvas) {
	whistle := c.between(700, 3000)
	for at := c.between(0, 2); at < c.seconds(); {
		length := c.between(2, 12)
		c.note(voice{partials: []float64{1, 0.5, 0.4, 0.3, 0.2, 0.2, 0.1}, attack: 0.3, release: 0.8, tremolo: 0.2, shake: 12}, at, length, 24.3, 0.5)
		c.note(voice{partials: []float64{1, 0.1}, attack: c.between(0.03, 0.3), release: c.between(0.05, 0.5), vibrato: 0.001, tremolo: 0.03, shake: 11}, at+0.5, length-0.5,
			whistle*c.between(0.998, 1.002), 0.3)
		c.hit(at+length, 0.4, -2000, 0.3) // the unloader blows off
		at += length + c.between(1, 8)
	}
	c.noise(0.01, 3000, 0.3, 0.2)
}

// wrench: bursts of quick blows over the whistle of the air motor, which slows down.
func wrench(c *canvas) {
	for at := 0.3; at < c.seconds(); {
		length := c.between(0.3, 3)
		c.note(voice{partials: []float64{1, 0.5, 0.3}, attack: 0.1, release: 0.3, glide: -0.3, vibrato: 0.01, shake: 9}, at, length, c.between(800, 2500), 0.15)
		rate := c.between(15, 25)
		for t := at + 0.2; t < at+length; t += 1 / (rate * c.between(0.95, 1.05)) {
			c.hit(t, 0.008, 4000, c.between(0.4, 0.8))
			c.note(voice{partials: []float64{1, 0, 0.4}, stretch: 0.05, decay: 0.01, release: 0.01}, t, 0.05, c.between(900, 1100), 0.3)
		}
		at += length + c.between(0.3, 3)
	}
	c.noise(0.01, -1000, 0, 0)
}

// air: hisses that begin and end at once.
func air(c *canvas) {
	for at := 0.2; at < c.seconds(); {
		length := c.between(0.1, 3)
		part := canvas{fs: c.fs, x: c.x[int(at*c.fs):min(len(c.x), int((at+length)*c.fs))], rng: c.rng}
		part.noise(c.between(0.1, 0.3), -c.between(500, 4000), 0.1, 3)
		at += length + c.between(0.2, 2)
	}
	c.noise(0.003, 3000, 0, 0)
}

func shopHum(c *canvas) {
	c.hum(pick(c, 50.0, 60.0), 0.3)
	c.noise(0.01, 2000, 0.3, 0.1)
	for at := 1.0; at < c.seconds(); at += c.between(1, 10) { // switches
		c.hit(at, 0.0002, 20000, 0.5)
	}
}

// radio: music and a beat from a small loudspeaker across the shop, with hum and tools.
func radio(c *canvas) {
	far := &canvas{fs: c.fs, x: make([]float32, len(c.x)), rng: c.rng}
	pick(c, band, bowed, organ, square, piano)(far)
	low := float32(0)
	for i, x := range far.x {
		low += 0.05 * (x - low)
		c.x[i] += 0.3 * (x - low)
	}
	c.hum(50, 0.02)
	pick(c, hammering, air, shopHum, wrench)(c)
}

// ratchet: quick clicks.
func ratchet(c *canvas) {
	for at := 0.3; at < c.seconds(); at += c.between(0.3, 1.2) {
		rate := c.between(30, 70)
		for i := range 4 + c.rng.IntN(12) {
			c.hit(at+float64(i)/rate, 0.0015, -2000, c.between(0.2, 0.5))
		}
	}
	c.noise(0.003, 2000, 0, 0)
}

// engine: one that idles, is opened up and stopped.
func engine(c *canvas) {
	for at := 0.3; at < c.seconds(); {
		length, hz := c.between(3, 15), c.between(12, 30)
		for t := at; t < at+length; {
			c.hit(t, 0.01, 900, c.between(0.6, 1))
			t += (1 + 0.03*c.rng.NormFloat64()) / (hz * (1.5 + math.Sin(2*math.Pi*0.2*t)))
		}
		at += length + c.between(0.5, 4)
	}
	c.noise(0.005, 2000, 0, 0)
}

// telephone: two tones in turn, or a warble, rung for a second in four.
func telephone(c *canvas) {
	a, b, rate := c.between(500, 1200), c.between(1.15, 1.4), c.between(10, 25)
	for at := c.between(0, 3); at < c.seconds(); at += 4 {
		for i := range int(rate) {
			c.gates = append(c.gates, at+float64(i)/rate, at+float64(i+1)/rate)
			c.note(voice{partials: []float64{1, 0.1, 0.2}, attack: 0.002, release: 0.003}, at+float64(i)/rate, 1/rate, a*[]float64{1, b}[i%2], 0.4)
		}
	}
	c.noise(0.004, 3000, 0.3, 0.2)
}

// beeper: the beeps of a machine that reverses, and stands still: two a second, each as loud as the last.
func beeper(c *canvas) {
	hz := c.between(950, 1400)
	for at := 0.3; at < c.seconds(); at++ {
		c.gates = append(c.gates, at, at+0.5)
		c.note(voice{partials: []float64{1}}, at, 0.5, hz, 0.3)
	}
}

// reversing: the beeps of a machine that comes nearer and goes away again, in a hall that rings after each, over its engine.
func reversing(c *canvas) {
	hz, turn := c.between(950, 1400), c.between(0, 2*math.Pi)
	for at := 0.3; at < c.seconds(); at++ {
		c.gates = append(c.gates, at, at+0.5)
		near := 1 / (1.6 + 1.4*math.Sin(2*math.Pi*at/17+turn))
		c.note(voice{partials: []float64{1, 0.05, 0.1}, attack: 0.005, release: 0.01}, at, 0.5, hz, 0.2*near)
		c.note(voice{partials: []float64{1}, decay: 0.15, release: 0.3}, at+0.5, 0.5, hz, 0.05*near)
	}
	engine(c)
}

func everything(c *canvas) {
	names := []func(*canvas){hammering, grinding, compressor, wrench, air, engine, ratchet}
	c.rng.Shuffle(len(names), func(i, j int) { names[i], names[j] = names[j], names[i] })
	for _, f := range names[:3] {
		f(c)
	}
	shopHum(c)
}
