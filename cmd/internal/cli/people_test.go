package cli

import (
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"breakcue/audio/bench"
	"breakcue/cmd/internal/session"
	"breakcue/timing"
	"breakcue/timing/logbook"
)

// job is two cylinders as found and as left, two passes each: when the points open without a guide [s], the keys struck before and after,
// how the reading stands in the log, and what the two passes come to [mm before TDC], mean of all four figures.
var job = []struct {
	at            float64
	before, after string
	reading       string
	place         logbook.Place
	mean          float64
	verdict       string
}{
	{1.5, "2.28/\n", "2.25\n", "2.28/2.25", logbook.Place{Cylinder: "left", Phase: logbook.AsFound}, 2.28, timing.OutOfTolerance.String()},
	{3.0, "", "2+31/2+28\n", "2+31/2+28", logbook.Place{Cylinder: "left", Phase: logbook.AsFound}, 2.28, timing.OutOfTolerance.String()},
	{4.5, "1.72/\n", "1.69\n", "1.72/1.69", logbook.Place{Cylinder: "right", Phase: logbook.AsFound}, 1.715, timing.OutOfTolerance.String()},
	{6.0, "1.74/\n", "1.71\n", "1.74/1.71", logbook.Place{Cylinder: "right", Phase: logbook.AsFound}, 1.715, timing.OutOfTolerance.String()},
	{7.5, "2.09/\n2.01/\n", "1.98\n", "2.01/1.98", logbook.Place{Cylinder: "left", Phase: logbook.AsLeft}, 2.0025, timing.InTolerance.String()},
	{9.0, "", "2.02/2.00\n", "2.02/2.00", logbook.Place{Cylinder: "left", Phase: logbook.AsLeft}, 2.0025, timing.InTolerance.String()},
	{10.5, "2.03/\n", "1.98\n", "2.03/1.98", logbook.Place{Cylinder: "right", Phase: logbook.AsLeft}, 2.005, timing.InTolerance.String()},
	{12.0, "2.02/\n", "1.99\n", "2.02/1.99", logbook.Place{Cylinder: "right", Phase: logbook.AsLeft}, 2.005, timing.InTolerance.String()},
}

// openings are those of the job: the points are open for half a second each time.
func openings() (out []bench.Change) {
	for _, pass := range job {
		out = append(out, bench.Change{At: pass.at}, bench.Change{At: pass.at + 0.5, Closed: true})
	}
	return out
}

// assertJob asserts that a report is that of the job: every pass with its opening [s], which is found so
// exactly [s], no other opening, and the results.
func assertJob(t *testing.T, r session.Report, opened []float64, within float64) {
	t.Helper()
	assert.Empty(t, r.Unread, "a false opening")
	count := map[logbook.Place]int{}
	for i, pass := range job {
		ph, ok := r.Phase(pass.place)
		require.True(t, ok, "%v", pass.place)
		passes, _ := used(ph)
		require.Len(t, passes, 2, "%v", pass.place)
		p := passes[count[pass.place]]
		count[pass.place]++
		assert.Equal(t, pass.reading, p.Reading)
		assert.Empty(t, p.Unused)
		require.NotNil(t, p.Edge)
		assert.InDelta(t, opened[i], p.Edge.TimeS, within)
		assert.InDelta(t, pass.mean-2, *ph.ErrorMM, 1e-9) // rounding; the sheet says 2.0 mm
		assert.Equal(t, pass.verdict, ph.Verdict)
		if pass.verdict == timing.OutOfTolerance.String() {
			require.NotNil(t, ph.EarlyOrLate)
			assert.Equal(t, pass.mean > 2, *ph.EarlyOrLate == "early")
		}
	}
}

// broken gives when each opening of a sound began [s].
func broken(t *testing.T, c bench.Config) (at []float64) {
	b, err := bench.New(c)
	require.NoError(t, err)
	for _, e := range b.Truth(20 * time.Millisecond).Events {
		if !e.Closed {
			at = append(at, e.First/float64(c.SampleRate))
		}
	}
	return at
}

// results gives what people go by of each place of a report.
func results(t *testing.T, r session.Report) map[logbook.Place]session.Phase {
	out := map[logbook.Place]session.Phase{}
	for _, c := range r.Cylinders {
		for _, ph := range c.Phases {
			ph.Passes = slices.Clone(ph.Passes)
			for i := range ph.Passes {
				require.NotNil(t, ph.Passes[i].Edge)
				ph.Passes[i].Edge, ph.Passes[i].Entry = nil, 0
			}
			out[logbook.Place{Cylinder: c.Name, Phase: ph.Phase}] = ph
		}
	}
	return out
}
