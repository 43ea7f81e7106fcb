package corpus

import (
	"math"
	"math/cmplx"
)

// leak is what passes beside the points: so many dB of the tone, turned by a phase [turns].
func leak(db, turns float64) complex128 {
	return cmplx.Rect(math.Pow(10, db/20), 2*math.Pi*turns)
}

// brief are the spans of recordings with many edges.
var brief = [2]float64{0.05, 0.2}

// uneven is a tone [Hz] whose period is no whole number of frames, so that edges come at all its phases: those near a zero crossing are what goes
// wrong at high SNR, and a tone of 1000 Hz at 48 kHz has only 48 phases, near a zero or not as chance will have it.
const uneven = 1000.3

// many is a recording of more than a thousand edges in white noise.
func many(snr float64, openings int) scene {
	return scene{tone: uneven, noisier: 40 - snr, openings: openings, open: brief, closed: brief}
}

// Recipes returns the table of all recordings.
func Recipes() []Recipe {
	leaky := func(snr, db, turns float64) scene {
		s := many(snr, 520)
		s.left = leak(db, turns)
		return s
	}
	return []Recipe{
		{"noise40", "white noise 40 dB below the tone, more than 1000 edges", false, many(40, 1000)},
		{"noise30", "white noise at 30 dB", false, many(30, 1000)},
		{"noise20", "white noise at 20 dB", false, many(20, 520)},
		{"noise10", "white noise at 10 dB", false, many(10, 520)},
		{"noise6", "white noise at 6 dB", false, many(6, 520)},
		{"noise3", "white noise at 3 dB", false, many(3, 520)},
		{"noise0", "white noise at 0 dB", false, many(0, 520)},
		{"leak6_30", "leak of -6 dB in phase, noise at 30 dB", false, leaky(30, -6, 0)},
		{"leak6_10", "leak of -6 dB in phase, noise at 10 dB", false, leaky(10, -6, 0)},
		{"fraction", "real-valued instants through an anti-alias filter", false, scene{tone: uneven, openings: 520, open: brief, closed: brief, shape: BandLimited}},
		{"fraction20", "the same in noise at 20 dB", false, scene{noisier: 20, openings: 520, open: brief, closed: brief, shape: BandLimited}},

		{"clean", "series cable, hard edges, noise at 40 dB", true, scene{}},
		{"across", "shunt cable: points closed = silence", true, scene{across: true}},
		{"silent", "no noise: exact zeros while the points are open", true, scene{noiseless: true}},
		{"leak14", "leak of -14 dB, a tenth of a turn ahead", true, scene{left: leak(-14, 0.1)}},
		{"leak6", "leak of -6 dB, against the tone", true, scene{left: leak(-6, 0.5)}},
		{"turned", "a condenser across the points: -1.8 dB and 36 degrees are all that changes", true, scene{left: leak(-1.8, -0.1)}},
		{"across8", "shunt cable, -8 dB left, a quarter turn", true, scene{across: true, left: leak(-8, 0.25), noisier: 10}},

		{"hum50", "50 Hz hum 20 dB above the tone, wandering, one harmonic on the tone", true, scene{amp: 0.03, hum: &hum{hz: 50.01, wander: 0.05, db: 20}}},
		{"hum60", "60 Hz hum 10 dB above the tone, wandering", true, scene{amp: 0.08, tone: 1010, hum: &hum{hz: 59.97, wander: 0.04, db: 10}}},
		{"spikes", "spikes of 100 us, 20 dB above the tone", true, scene{amp: 0.06, spikes: true}},
		{"spikes10", "the same in noise at 10 dB", true, scene{amp: 0.06, spikes: true, noisier: 30}},
		{"dropout", "384 lost frames as zeros in most states", true, scene{dropouts: true, open: [2]float64{0.1, 0.5}, closed: [2]float64{0.1, 0.5}}},
		{"gain20", "gain control of 14 dB, leak of -20 dB", true, scene{amp: 0.1, left: leak(-20, 0.3), gain: &gain{14, 0.005, 0.3},
			open: [2]float64{0.4, 1}, closed: [2]float64{0.3, 0.8}, openings: 25}},
		{"gain12", "gain control of 12 dB that brings a leak of -12 dB up to the tone", true, scene{amp: 0.1, left: leak(-12, 0.6), gain: &gain{12, 0.004, 0.15},
			open: [2]float64{0.4, 1}, closed: [2]float64{0.3, 0.8}, openings: 25}},
		{"fade", "noise suppression turns the steady tone down by up to 6 dB", true, scene{fade: true, closed: [2]float64{0.2, 3}, openings: 20}},
		{"clip", "driven 14 dB into clipping", true, scene{amp: 0.6, clip: 0.2}},

		{"bounce", "1 to 5 re-closures within 3 ms", true, scene{burst: &burst{[2]int{1, 5}, [2]float64{100e-6, 400e-6}, [2]float64{30e-6, 300e-6}}}},
		{"chatter", "slowly parting points: 8 to 25 re-closures in some 30 ms", true, scene{openings: 40, open: [2]float64{0.2, 0.5}, closed: [2]float64{0.2, 0.5},
			burst: &burst{[2]int{8, 25}, [2]float64{200e-6, 4e-3}, [2]float64{200e-6, 5e-3}}}},

		{"ramp2", "straight ramps of 2 ms", true, scene{shape: straight(0.002)}},
		{"ramp5", "raised cosines of 5 ms", true, scene{shape: raisedCosine(0.005)}},
		{"charge", "edges as of a resistor and a condenser, 0.3 ms", true, scene{shape: charging(0.3e-3)}},
		{"opus", "Opus at 32 kbit/s", true, scene{codec: []string{"-c:a", "libopus", "-b:a", "32k", "take.ogg"}}},
		{"mp3", "MP3 at 64 kbit/s", true, scene{codec: []string{"-c:a", "libmp3lame", "-b:a", "64k", "take.mp3"}}},

		{"tone300", "tone of 300 Hz", true, scene{tone: 300}},
		{"tone703", "tone of 703 Hz", true, scene{tone: 703}},
		{"tone980", "tone 2 % off", true, scene{tone: 980}},
		{"tone3010", "tone of 3010 Hz", true, scene{tone: 3010}},
		{"tone8000", "tone of 8 kHz", true, scene{tone: 8000}},
		{"ppm100", "tone off by 100 ppm", true, scene{tone: 1000.1}},
		{"drift", "tone that swings by 0.2 % within seconds", true, scene{swing: 0.002}},

		{"stereo", "44.1 kHz, two channels: hum and noise left, tone right", true, scene{rate: 44100, stereo: true}},
		{"old", "8 kHz, 8 bits", true, scene{rate: 8000, bits: 8, amp: 0.7}},
		{"fast", "96 kHz", true, scene{rate: 96000, openings: 30}},
		{"late", "tone starts after 6 s", true, scene{late: 6}},
		{"open99", "points open 99 % of the time", true, scene{openings: 12, open: [2]float64{4, 5}, closed: [2]float64{0.04, 0.05}}},
		{"open1", "points open 1 % of the time", true, scene{openings: 12, open: [2]float64{0.04, 0.05}, closed: [2]float64{4, 5}}},

		{"long", "30 minutes, noise at 30 dB", false, scene{noisier: 10, openings: 40, open: [2]float64{0.1, 4}, closed: [2]float64{43.5, 44.5}}},
	}
}
