package cli

import (
	"encoding/json"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"breakcue/audio"
	"breakcue/audio/audiotest"
	"breakcue/audio/bench"
	"breakcue/audio/live"
	"breakcue/cmd/internal/session"
	"breakcue/timing/logbook"
)

// twoSetShop is a shop whose engine has two sets of points: the first opens at 1, 2.5 and 4 s, the second at 1.8, 3.3 and 4.8 s, each for half a
// second.
func twoSetShop(t *testing.T) *shop {
	opens := func(from float64) (out []bench.Change) {
		for i := range 3 {
			at := from + 1.5*float64(i)
			out = append(out, bench.Change{At: at}, bench.Change{At: at + 0.5, Closed: true})
		}
		return out
	}
	s := newShop(t, opens(1)...)
	s.sound.Channels, s.sound.Frames, s.sound.Closed = 1, 48000*6, 0.5
	s.second = &bench.Second{Level: -12, Closed: 0.4, Changes: opens(1.8)}
	return s
}

func TestListenToTwoSets(t *testing.T) {
	s := twoSetShop(t)
	file := filepath.Join(t.TempDir(), "take.wav")
	require.Equal(t, ExitOK, s.run(t, "listen", "--json", "--sets", "2", "--record", file), s.errs.String())
	require.NotNil(t, s.asked.Second)
	assert.Equal(t, []int{1, 2}, []int{s.asked.Tone.Channel, s.asked.Second.Channel})
	assert.Equal(t, []float64{-12, -12}, []float64{s.asked.Tone.Level, s.asked.Second.Level})
	assert.NoError(t, tonesApart(s.asked.Tone.Hz, s.asked.Second.Hz), "the pair that is chosen is one that may be given")
	ids := map[int64]bool{}
	at := map[int][]float64{}
	for _, l := range s.lines(t) {
		assert.False(t, ids[l.ID], "ID %d twice", l.ID)
		ids[l.ID] = true
		if l.Event == "open" {
			at[l.Set] = append(at[l.Set], l.Time)
		}
	}
	require.Len(t, at, 2)
	assert.InDeltaSlice(t, []float64{1, 2.5, 4}, at[1], 1e-3) // a millisecond: far less than between openings
	assert.InDeltaSlice(t, []float64{1.8, 3.3, 4.8}, at[2], 1e-3)
	assert.Contains(t, s.errs.String(), "set 1: 3 openings, 3 closings; set 2: 3 openings, 3 closings in 6s\n")
	assert.Contains(t, s.errs.String(), "take.wav --tone ")

	s = twoSetShop(t)
	require.Equal(t, ExitOK, s.run(t, "listen", "--tone", "1010", "--tone", "1630"), s.errs.String())
	assert.Equal(t, []float64{1010, 1630}, []float64{s.asked.Tone.Hz, s.asked.Second.Hz})
	for _, want := range []string{"tones 1010 (left) and 1630 Hz (right), line box, at -", "set 1: points open, number 3", "set 2: points open, number 4", "set 2: points closed", "number 6"} {
		assert.Contains(t, s.out.String(), want)
	}
}

// Sound that was lost was lost for both, and is told once.
func TestListenToTwoSetsReportsLostFramesOnce(t *testing.T) {
	s := twoSetShop(t)
	s.wrap = func(src audio.Source) audio.Source {
		return audiotest.WithGaps(src, audio.GapError{At: 48000 * 37 / 10, Lost: 4800})
	}
	require.Equal(t, ExitOK, s.run(t, "listen", "--json", "--sets", "2"), s.errs.String())
	gaps := 0
	for _, l := range s.lines(t) {
		if l.Event == "gap" {
			gaps++
			assert.Zero(t, l.Set)
		}
	}
	assert.Equal(t, 1, gaps)
	assert.Contains(t, s.errs.String(), "sound lost 1 time\n")
}

// With both outputs taken a beep comes from another card, and one output is too few for two tones.
func TestTheBeepOfTwoSetsComesFromAnotherCard(t *testing.T) {
	s := twoSetShop(t)
	list := []live.Device{
		{Name: "line box", MaxInputs: 1, MaxOutputs: 2, DefaultRate: 48000, DefaultInput: true, DefaultOutput: true}, {Name: "horn", MaxOutputs: 1, DefaultRate: 48000},
	}
	s.env.Cards.List = func() ([]live.Device, error) { return list, nil }
	require.Equal(t, ExitOK, s.run(t, "listen", "--sets", "2", "--alert-device", "horn"), s.errs.String())
	require.NotNil(t, s.asked.Alert)
	assert.Equal(t, "horn", s.asked.Alert.Device)
	for _, hz := range []float64{s.asked.Tone.Hz, s.asked.Second.Hz} {
		assert.Greater(t, max(s.asked.Alert.Hz-hz, hz-s.asked.Alert.Hz), float64(alertApart), "what leaks of the beep is neither tone")
	}
	assert.Greater(t, s.card.sounded, 4, "at the openings of both")

	list[0].MaxOutputs = 1
	s.errs.Reset()
	assert.Equal(t, ExitUsage, s.run(t, "listen", "--sets", "2"))
	assert.Contains(t, s.errs.String(), "line box has 1 output channel: there is none for the second tone")
}

// A session measures the one set, then the other, is cut off, and goes on with both.
func TestALiveSessionOfTwoSets(t *testing.T) {
	s := twoSetShop(t)
	s.typedAt(map[float64]string{
		2.9:  "2.20/2.14",                          // of opening 3 at 2.5 s
		3.15: "# right as_found", 3.6: "2.03/1.98", // of opening 4 at 3.3 s
		4.3: "x", 5.9: "q",
	})
	code, dir := s.session(t, "--plain", "--sets", "2")
	require.Equal(t, ExitOK, code, s.errs.String())
	j, err := logbook.Read(dir)
	require.NoError(t, err)
	assert.Empty(t, logbook.Check(j))
	r, err := session.FromJournal(j)
	require.NoError(t, err)
	used := func(cylinder string) (ids []int64) {
		ph, _ := r.Phase(logbook.Place{Cylinder: cylinder, Phase: logbook.AsFound})
		for _, p := range ph.Passes {
			if p.Unused == "" {
				ids = append(ids, p.Edge.ID)
			}
		}
		return ids
	}
	assert.Equal(t, []int64{3}, used("left"))
	assert.Empty(t, used("right"), "the newest of the points at hand was thrown away, though the others had opened since")
	assert.Contains(t, s.out.String(), "left: points open, number 3")

	// Gone on with: both are played and followed without being asked for.
	s2 := twoSetShop(t)
	s2.typedAt(map[float64]string{1.7: "# right as_found", 3.6: "2.02/1.98", 5.9: "q"})
	require.Equal(t, ExitOK, s2.run(t, "session", "--plain", "--resume="+filepath.Base(dir), "--dir", filepath.Dir(dir)), s2.errs.String())
	require.NotNil(t, s2.asked.Second)
	s2.out.Reset()
	require.Equal(t, ExitOK, s2.run(t, "log", "show", dir, "--json"), s2.errs.String())
	require.NoError(t, json.Unmarshal(s2.out.Bytes(), &r))
	ph, _ := r.Phase(logbook.Place{Cylinder: "right", Phase: logbook.AsFound})
	last := ph.Passes[len(ph.Passes)-1]
	require.NotNil(t, last.Edge)
	assert.Equal(t, []int{2, 2}, []int{last.Edge.Take, last.Edge.Set})
	assert.InDelta(t, 3.3, last.Edge.TimeS, 1e-3)
}
