package detect

import (
	"math"
	"testing"
)

// FuzzPair feeds any samples of two tones in any blocks, with gaps, to a Pair and a Split, and checks what must hold of every event and of every
// frame passed on.
func FuzzPair(f *testing.F) {
	f.Add([]byte{0, 127, 0, 129, 0, 127}, uint8(10))
	f.Add([]byte{253, 252, 251, 3, 3, 3, 253, 200, 3, 3}, uint8(99))
	f.Add([]byte{255, 255, 254, 0, 0, 0, 0, 0, 1, 2, 3}, uint8(1))
	f.Add([]byte("0\xf500xx00x0"), uint8('J')) // huge samples
	f.Add([]byte{0, 0, 0, 0, 50, 0, 0, 0, 80, 0, 50, 50, 80, 80, 80, 0, 0, 0, 16, 0, 0, 100, 100, 100, 100}, uint8(200))
	f.Fuzz(func(t *testing.T, data []byte, block uint8) {
		s := pairSynth{a: synth{fs: 8000, tone: 1000, closed: 0.25, sigma: 0.001, seed: 1, n: 800}, b: synth{fs: 8000, tone: 1600, closed: 0.25, n: 800}}
		first, second := s.a.render(), s.b.render()
		a, b := s.configs()
		b.Profile.Noise = a.Profile.Noise
		p, err := NewPair(a, b)
		if err != nil {
			t.Fatal(err)
		}
		split, err := NewSplit(8000, 1, 0, [2]float64{1000, 1600})
		if err != nil {
			t.Fatal(err)
		}
		var passed [2]int64
		take := func() {
			for i := range passed {
				sound, unheard := split.Take(i)
				passed[i] += int64(len(sound)) + unheard
			}
		}
		var ev []Event
		fed, lost := int64(0), int64(0)
		for _, v := range data {
			x := make([]float32, int(block)+1)
			for k := range x {
				n := (int(fed) + k) % 800
				switch {
				case v < 150: // the tones, or their absence
					if v%2 == 0 {
						x[k] += first[n]
					}
					if v%50 < 25 {
						x[k] += second[n]
					}
				case v < 200:
					x[k] = float32(v-150) / 1000 * float32(k%3)
				case v == 255:
					x[k] = float32(math.NaN())
				case v == 254:
					x[k] = float32(math.Inf(-1))
				default:
					x[k] = float32(int(v)-227) / 26 * math.MaxFloat32 / float32(1+k%9)
				}
			}
			ev = p.Process(ev, x)
			for rest := x; len(rest) > 0; {
				n := min(len(rest), split.Most())
				split.Process(rest[:n])
				rest = rest[n:]
				take()
			}
			fed += int64(len(x))
			if v%17 == 16 {
				ev = p.Skip(ev, int64(v))
				split.Finish()
				take()
				split.Skip(int64(v))
				fed += int64(v)
				lost += int64(v)
			}
		}
		ev = p.Flush(ev)
		split.Finish()
		take()
		if want := fed - lost; passed != [2]int64{want, want} {
			t.Fatalf("passed on %v frames of %d", passed, want)
		}
		last := map[int64]Event{}
		for _, e := range ev {
			was, known := last[e.ID]
			switch {
			case e.ID < 1 || e.Stage <= was.Stage || known && e.Set != was.Set:
				t.Fatalf("stage or set out of order: %+v", e)
			case e.Frame < 0 || e.DecidedFrame < 0 || e.Frame > fed || e.DecidedFrame > fed:
				t.Fatalf("frame outside the sound: %+v", e)
			case e.Uncertainty-e.Uncertainty != 0 || e.Half-e.Half != 0:
				t.Fatalf("not a number: %+v", e)
			}
			last[e.ID] = e
		}
	})
}
