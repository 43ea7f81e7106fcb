package detect

import (
	"math"
	"testing"
)

// FuzzDetector feeds any samples in any blocks, with gaps, and checks what must hold of every event.
func FuzzDetector(f *testing.F) {
	f.Add([]byte{0, 127, 0, 129, 0, 127}, uint8(10))
	f.Add([]byte{253, 252, 251, 3, 3, 3, 253, 200, 3, 3}, uint8(99))
	f.Add([]byte{255, 255, 254, 0, 0, 0, 0, 0, 1, 2, 3}, uint8(1))
	f.Add([]byte("0\xf500xx00x0"), uint8('J')) // huge samples
	f.Add([]byte{0, 0, 0, 0, 0, 0, 0, 0, 100, 0, 100, 100, 100, 100, 100, 100, 0, 0, 0, 0, 0, 100, 100, 100, 100}, uint8(200))
	f.Fuzz(func(t *testing.T, data []byte, block uint8) {
		cfg := Config{SampleRate: 8000, Channels: 1, Profile: Profile{Tone: 1000, Closed: 0.25, Noise: 0.01}}
		d, err := New(cfg)
		if err != nil {
			t.Fatal(err)
		}
		s := synth{fs: 8000, tone: 1000, closed: 0.25, sigma: 0.001, seed: 1, n: 800}
		tone := s.render()
		var ev []Event
		fed := int64(0)
		for i, b := range data {
			x := make([]float32, int(block)+1)
			for k := range x {
				switch {
				case b < 100: // the tone, or its absence
					x[k] = tone[(int(fed)+k)%len(tone)]
				case b < 200:
					x[k] = float32(b-100) / 1000 * float32((i+k)%3)
				case b == 255:
					x[k] = float32(math.NaN())
				case b == 254:
					x[k] = float32(math.Inf(-1))
				default:
					x[k] = float32(int(b)-227) / 26 * math.MaxFloat32 / float32(1+k%9)
				}
			}
			ev = d.Process(ev, x)
			fed += int64(len(x))
			if b%17 == 16 {
				ev = d.Skip(ev, int64(b))
				fed += int64(b)
			}
		}
		ev = d.Flush(ev)
		last := map[int64]Stage{}
		for _, e := range ev {
			switch {
			case e.ID < 1 || e.Stage <= last[e.ID]:
				t.Fatalf("stage out of order: %+v", e)
			case e.Frame < 0 || e.DecidedFrame < 0 || e.Frame > fed || e.DecidedFrame > fed:
				t.Fatalf("frame outside the sound: %+v", e)
			case e.Uncertainty-e.Uncertainty != 0 || e.Half-e.Half != 0:
				t.Fatalf("not a number: %+v", e)
			case e.Reclosures < 0 || (e.Stage == Settled && e.LastFrame < e.Frame):
				t.Fatalf("bounce the wrong way: %+v", e)
			}
			last[e.ID] = e.Stage
		}
		for id, st := range last {
			if st < Settled {
				t.Fatalf("event %d was left on its way: %+v", id, ev)
			}
		}
		if d.Judge() == nil && d.Levels().Edges == 0 {
			t.Fatal("believed without an edge")
		}
	})
}

// FuzzSurvey feeds any samples and checks that nothing but numbers come out.
func FuzzSurvey(f *testing.F) {
	f.Add([]byte("some sound that is none"), uint16(900))
	f.Fuzz(func(t *testing.T, data []byte, n uint16) {
		if len(data) == 0 {
			return
		}
		s, err := NewSurvey(8000, 1, SurveyOptions{})
		if err != nil {
			t.Fatal(err)
		}
		x := make([]float32, int(n))
		for i := range x {
			x[i] = float32(int8(data[i%len(data)])) / 128
			if data[i%len(data)] == 0x80 {
				x[i] = float32(math.Inf(1))
			}
		}
		s.Write(x)
		cfg, found, err := s.Result()
		if err == nil && cfg.Validate() != nil {
			t.Fatalf("a config that is not valid: %+v", cfg)
		}
		for _, v := range []float64{found.High, found.Low, found.Tone, found.Noise, found.Coherence} {
			if v-v != 0 {
				t.Fatalf("not a number: %+v", found)
			}
		}
	})
}
