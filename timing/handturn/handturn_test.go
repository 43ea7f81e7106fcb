package handturn

import (
	"math"
	"testing"

	"breakcue/timing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func crank(t require.TestingT) timing.Crank {
	c, err := timing.NewCrank(54, 110, 0)
	require.NoError(t, err)
	return c
}

// twin is an invented two-cylinder engine of 54 mm stroke whose points should open 2 mm before top dead centre.
func twin(t require.TestingT) Scenario {
	return Scenario{
		Crank: crank(t), Dial: timing.NewDial(10), Breaker: TypicalBreaker(1), Hand: CarefulHand(), Seed: 1,
		Stages: []Stage{
			{Cylinder: 1, Phase: "as_found", Opens: 21.5, Mark: 19.916, Passes: 3},
			{Cylinder: 2, Phase: "as_found", Opens: 18, Mark: 19.916, Passes: 2},
			{Cylinder: 1, Phase: "as_left", Opens: 19.9, Mark: 19.916, Passes: 3},
		},
	}
}

// draw makes any scenario that Validate allows, within what a hand would do.
func draw(t *rapid.T) Scenario {
	s := twin(t)
	s.Seed = rapid.Uint64().Draw(t, "seed")
	s.Dial = timing.NewDial(20)
	if rapid.Bool().Draw(t, "inch") {
		s.Dial.Unit, s.Dial.Graduation, s.Dial.PerRevolution = timing.Inch, 0.0127, 1.27 // half a thou
	}
	if rapid.Bool().Draw(t, "zeroed at the mark") {
		s.Dial.Zero = timing.ZeroMark
	}
	s.Breaker = Breaker{
		CamRatio: rapid.SampledFrom([]float64{0.5, 1}).Draw(t, "ratio"),
		Lift:     rapid.Float64Range(0.02, 0.05).Draw(t, "lift"),
		Scatter:  timing.Angle(rapid.Float64Range(0, 0.3).Draw(t, "scatter")),
		Play:     timing.Angle(rapid.Float64Range(0, 2).Draw(t, "play")),
	}
	s.Hand.Nudge = timing.Angle(rapid.Float64Range(0.05, 0.5).Draw(t, "nudge"))
	s.Hand.NudgeSpeed = rapid.Float64Range(0.2, 3).Draw(t, "nudge speed")
	s.Hand.Unsteady = rapid.Float64Range(0, 0.5).Draw(t, "unsteady")
	s.Hand.Halts = rapid.Float64Range(0, 3).Draw(t, "halts")
	s.Stages = nil
	for i := range rapid.IntRange(1, 3).Draw(t, "stages") {
		s.Stages = append(s.Stages, Stage{
			Cylinder: i + 1, Phase: "as_found", Passes: rapid.IntRange(1, 3).Draw(t, "passes"), Mark: 20,
			Opens: timing.Angle(rapid.Float64Range(0, 40).Draw(t, "opens")),
		})
	}
	return s
}

// angleAt returns the crank's angle on a path, and how fast it falls towards top dead centre.
func angleAt(path []Point, at float64) (angle timing.Angle, forward float64) {
	for i := 1; i < len(path); i++ {
		if a, b := path[i-1], path[i]; at > a.At && at <= b.At {
			f := (at - a.At) / (b.At - a.At)
			return a.Angle + timing.Angle(f)*(b.Angle-a.Angle), float64(a.Angle-b.Angle) / (b.At - a.At)
		}
	}
	return timing.Angle(math.NaN()), math.NaN()
}

func TestRunHoldsTogether(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := draw(t)
		run, err := s.Run()
		require.NoError(t, err)
		require.Len(t, run.Stages, len(s.Stages))

		last, closed := 0.0, true
		for _, c := range run.Changes {
			require.Greater(t, c.At, last, "time strictly increases")
			require.NotEqual(t, closed, c.Closed, "each change changes the state")
			last, closed = c.At, c.Closed
		}
		require.True(t, closed, "closed in the end")
		require.GreaterOrEqual(t, run.Duration, last)

		openings := 0
		now := 0.0
		for i, st := range run.Stages {
			require.GreaterOrEqual(t, st.From, now)
			now = st.To
			require.Len(t, st.Passes, s.Stages[i].Passes)
			for j := 1; j < len(st.Path); j++ {
				require.Greater(t, st.Path[j].At, st.Path[j-1].At)
			}
			from := st.From
			for _, p := range st.Passes {
				require.GreaterOrEqual(t, p.From, from)
				from = p.To
				openings += checkPass(t, s, run, st, p)
			}
		}
		all := 0
		for _, c := range run.Changes {
			if !c.Closed {
				all++
			}
		}
		require.Equal(t, all, openings, "each opening belongs to a pass")
	})
}

// checkPass looks at one pass and returns how often the contacts opened in it.
func checkPass(t *rapid.T, s Scenario, run Run, st StageRun, p Pass) int {
	var opened []float64
	stays := math.NaN() // when they closed for the last time
	for _, c := range run.Changes {
		switch {
		case c.At < p.From || c.At > p.To:
		case c.Closed:
			stays = c.At
		default:
			opened = append(opened, c.At)
		}
	}
	require.NotEmpty(t, opened)
	require.Equal(t, opened[0], p.First.At)
	require.Equal(t, opened[len(opened)-1], p.Last.At)
	require.Greater(t, stays, p.Last.At, "closed again by turning back")
	for _, at := range opened {
		angle, forward := angleAt(st.Path, at)
		require.Greater(t, forward, 0.0, "openings happen only while turning forward")
		require.LessOrEqual(t, float64(angle), float64(p.Opens)+1e-6, "not before the cam parts the points")
	}
	angle, _ := angleAt(st.Path, p.First.At)
	// The path is noted every few hundredths of a second, at constant speed in between: rounding only.
	require.InDelta(t, float64(angle), float64(p.First.Angle), 1e-6)
	travel, err := s.Crank.Travel(p.First.Angle)
	require.NoError(t, err)
	require.Equal(t, travel, p.First.Travel)
	_, forward := angleAt(st.Path, stays)
	require.Less(t, forward, 0.0, "closed by turning back")
	require.LessOrEqual(t, math.Abs(float64(p.Opens-st.Opens)), 5*float64(s.Breaker.Scatter)+1e-12)

	// The last break comes before the gap has grown past the noise by more than one chance to break.
	noisy := NoisyGap / (s.Breaker.Lift * s.Breaker.CamRatio)
	require.GreaterOrEqual(t, float64(p.Last.Angle), float64(p.Opens)-noisy-longStep*s.Hand.NudgeSpeed*4)

	// The bracket: true rests enclose first and last break while the crank comes up, and the text shows them.
	if p.Last.Angle > 1 {
		require.GreaterOrEqual(t, p.LastClosed, p.First.Travel)
		require.LessOrEqual(t, p.FirstOpen, p.Last.Travel)
	}
	require.True(t, p.ReadAt > p.Last.At && p.ReadAt < stays)
	mark, err := s.Crank.Travel(st.Mark)
	require.NoError(t, err)
	r, err := timing.ParseReading(p.Reading, s.Dial, mark)
	if err == nil { // a dial zeroed a little off may show less than it can at top dead centre itself
		got, err := s.Dial.Travel(r.LastClosed, mark)
		require.NoError(t, err)
		// Half a graduation, the dial's limits on more than twice the mark's travel, and five times the zero's error.
		tol := s.Dial.Graduation/2 + 5*s.Dial.MaxError + s.Dial.Hysteresis + s.Dial.Repeatability + 5*s.Hand.ZeroError
		require.InDelta(t, float64(p.LastClosed), float64(got), float64(tol))
	} else {
		require.Less(t, float64(p.FirstOpen), 0.05)
	}
	return len(opened)
}

func TestSameSeedSameRun(t *testing.T) {
	a, err := twin(t).Run()
	require.NoError(t, err)
	b, err := twin(t).Run()
	require.NoError(t, err)
	assert.Equal(t, a, b)
	other := twin(t)
	other.Seed++
	c, err := other.Run()
	require.NoError(t, err)
	assert.NotEqual(t, a.Changes, c.Changes)
}

// With a dial that makes no errors and a hand without tremor, bracket and truth are known.
func TestReadingsOfAPerfectDial(t *testing.T) {
	s := twin(t)
	s.Dial.MaxError, s.Dial.Hysteresis, s.Dial.Repeatability = 0, 0, 0
	s.Hand.ZeroError, s.Hand.Unsteady, s.Breaker.Scatter = 0, 0, 0
	run, err := s.Run()
	require.NoError(t, err)
	for _, st := range run.Stages {
		travel, angle := st.Mean()
		// Breaks come within the noisy gap: 3 um at 0.04 mm/degree are 0.075 degrees, here 0.2 mm/degree.
		assert.InDelta(t, float64(st.Opens), float64(angle), 0.08)
		want, err := s.Crank.Travel(st.Opens)
		require.NoError(t, err)
		assert.InDelta(t, float64(want), float64(travel), 0.017)
		for _, p := range st.Passes {
			r, err := timing.ParseReading(p.Reading, s.Dial, 2)
			require.NoError(t, err)
			assert.True(t, r.Bracket)
			assert.InDelta(t, float64(p.LastClosed), float64(r.LastClosed), 0.005+1e-9, "rounded to a graduation")
			assert.InDelta(t, float64(p.FirstOpen), float64(r.FirstOpen), 0.005+1e-9, "rounded to a graduation")
			// One nudge of 0.12 degrees, and up to the noisy gap and a quarter of a nudge more: 0.225 degrees.
			assert.Less(t, float64(p.LastClosed-p.FirstOpen), 0.05)
		}
	}
}

// The play must be taken up: points close later on the way back than they opened.
func TestPlayDelaysClosing(t *testing.T) {
	s := twin(t)
	run, err := s.Run()
	require.NoError(t, err)
	st := run.Stages[0]
	p := st.Passes[0]
	for _, c := range run.Changes {
		if c.Closed && c.At > p.Last.At {
			angle, _ := angleAt(st.Path, c.At)
			// Less the noisy gap in degrees and one long step at 8 degrees/s and more.
			assert.InDelta(t, float64(p.Opens+s.Breaker.Play), float64(angle), 0.2)
			return
		}
	}
	t.Fatal("never closed")
}

// Contact noise lasts 30..75 ms at 2 degrees/s for cams that open 0.02..0.05 mm a degree: computed.
func TestChatterLastsAsLongAsTheGapIsSmall(t *testing.T) {
	for _, tt := range []struct{ lift, want float64 }{{0.05, 0.030}, {0.02, 0.075}} {
		s := twin(t)
		s.Breaker.Lift, s.Hand.NudgeSpeed, s.Hand.Unsteady, s.Hand.Nudge = tt.lift, 2, 0, 1
		s.Stages = []Stage{{Cylinder: 1, Opens: 20, Mark: 20, Passes: 300}}
		run, err := s.Run()
		require.NoError(t, err)
		longest := 0.0
		for _, p := range run.Stages[0].Passes {
			longest = max(longest, p.Last.At-p.First.At)
		}
		// First and last chance are a few steps of 2 ms in; the last break may come one long step after the end.
		assert.InDelta(t, tt.want, longest, 0.025)
		assert.LessOrEqual(t, longest, tt.want+longStep)
	}
}

func TestTyped(t *testing.T) {
	mm := timing.NewDial(10)
	coarse, inch := mm, mm
	coarse.Graduation = 0.02
	inch.Unit, inch.Graduation, inch.PerRevolution = timing.Inch, 0.0127, 1.27
	for _, tt := range []struct {
		d    timing.Dial
		n    float64
		want string
	}{
		{mm, 198, "1.98"}, {mm, 0, "0.00"}, {mm, math.Copysign(0, -1), "0.00"}, {mm, -3, "-0.03"},
		{coarse, 99, "1.98"}, {inch, 157, "0.0785"},
	} {
		assert.Equal(t, tt.want, typed(tt.d, tt.n))
	}
}

func TestValidate(t *testing.T) {
	require.NoError(t, twin(t).Validate())
	nan := math.NaN()
	for _, tt := range []struct {
		want string
		edit func(*Scenario)
	}{
		{"handturn: crank, got none", func(s *Scenario) { s.Crank = timing.Crank{} }},
		{"want mm or in", func(s *Scenario) { s.Dial.Unit = timing.Thou }},
		{"cam ratio, got 2", func(s *Scenario) { s.Breaker.CamRatio = 2 }},
		{"lift [mm/degree], got 0", func(s *Scenario) { s.Breaker.Lift = 0 }},
		{"lift at the crank", func(s *Scenario) { s.Breaker.Lift, s.Breaker.CamRatio = 0.0015, 0.5 }},
		{"scatter [degrees], got NaN", func(s *Scenario) { s.Breaker.Scatter = timing.Angle(nan) }},
		{"play [degrees], got -1", func(s *Scenario) { s.Breaker.Play = -1 }},
		{"near [degrees], got 0", func(s *Scenario) { s.Hand.Near = 0 }},
		{"run-up [degrees], got 2, want 3", func(s *Scenario) { s.Hand.RunUp = 2 }},
		{"past [degrees], got 0", func(s *Scenario) { s.Hand.Past = 0 }},
		{"nudge [degrees], got 0", func(s *Scenario) { s.Hand.Nudge = 0 }},
		{"speed [degrees/s], got 0", func(s *Scenario) { s.Hand.Speed = 0 }},
		{"nudge speed [degrees/s], got 0", func(s *Scenario) { s.Hand.NudgeSpeed = 0 }},
		{"back speed [degrees/s], got -8", func(s *Scenario) { s.Hand.BackSpeed = -8 }},
		{"unsteadiness, got 1", func(s *Scenario) { s.Hand.Unsteady = 1 }},
		{"halts, got 11", func(s *Scenario) { s.Hand.Halts = 11 }},
		{"rest [s], got 0", func(s *Scenario) { s.Hand.Rest = 0 }},
		{"time between stages [s], got -1", func(s *Scenario) { s.Hand.Between = -1 }},
		{"zero error [mm], got 2", func(s *Scenario) { s.Hand.ZeroError = 2 }},
		{"stages, got 0", func(s *Scenario) { s.Stages = nil }},
		{"stage 2: cylinder, got 0", func(s *Scenario) { s.Stages[1].Cylinder = 0 }},
		{"stage 1: opening [degrees before top dead centre], got -1", func(s *Scenario) { s.Stages[0].Opens = -1 }},
		{"stage 1: mark [degrees before top dead centre], got NaN", func(s *Scenario) { s.Stages[0].Mark = timing.Angle(nan) }},
		{"stage 3: passes, got 0", func(s *Scenario) { s.Stages[2].Passes = 0 }},
		{"stage 1: timing: travel", func(s *Scenario) { s.Stages[0].Opens = 60 }},
	} {
		s := twin(t)
		tt.edit(&s)
		_, err := s.Run()
		assert.ErrorContains(t, err, tt.want)
	}
}

func BenchmarkRun(b *testing.B) {
	s := twin(b)
	for b.Loop() {
		_, err := s.Run()
		require.NoError(b, err)
	}
}
