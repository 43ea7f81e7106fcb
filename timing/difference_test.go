package timing

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// As found against as left, worked by hand: scatter of both, the dial's limit for a movement under half a revolution (JIS B
// 7503:2011, 9 µm), a graduation each. Its zero and its error over the whole range cancel.
func TestDifferenceOfAsFoundAndAsLeft(t *testing.T) {
	s := setup(t, NewDial(10))
	r := evaluate(t, s, readings(t, s, "2.28/2.25", "2.31/2.28"), readings(t, s, "2.01/1.98", "2.02/2.00", "2.02/2.00"))
	d := s.Difference(r[1], r[0], SameZero)
	assert.InDelta(t, 6.015/3-2.28, float64(d.Value), 1e-12)
	assert.Equal(t, 2, d.N, "the fewer of both: a difference from one pass proves nothing")
	a, b := r[1].Budget[0].U, r[0].Budget[0].U
	want := math.Sqrt(a*a + b*b + 0.009*0.009/3 + 2*0.01*0.01/12)
	assert.InDelta(t, want, float64(d.U), 1e-12)
	anew := s.Difference(r[1], r[0], ZeroedAnew)
	assert.InDelta(t, math.Sqrt(want*want+2*s.Dial.zeroU()*s.Dial.zeroU()), float64(anew.U), 1e-12)
	soft := s
	soft.Dial.ExtensionGive = 0.02
	onSoft := evaluate(t, soft, readings(t, s, "2.28/2.25", "2.31/2.28"), readings(t, s, "2.01/1.98", "2.02/2.00", "2.02/2.00"))
	give := float64(soft.Difference(onSoft[1], onSoft[0], SameZero).U)
	assert.InDelta(t, math.Sqrt(want*want+2*0.02*0.02/3), give, 1e-12, "it may give another way each time")
	back := s.Difference(r[0], r[1], SameZero)
	assert.InDelta(t, -float64(d.Value), float64(back.Value), 1e-12)
	assert.InDelta(t, float64(d.U), float64(back.U), 1e-12)
	assert.False(t, s.Difference(r[0], Result{}, SameZero).Known())
}

// Wide brackets that lie alike tell a difference no finer than their widths, as they do each of the two places: of the
// (w²/12)/2 for either (see evidence.alike) the scatter of the means takes its part.
func TestDifferenceOfWideBracketsAlike(t *testing.T) {
	s := setup(t, NewDial(10))
	var eights [][]Reading
	for _, text := range []string{"2.50/2.10", "2.45/2.05"} {
		eights = append(eights, readings(t, s, text, text, text, text, text, text, text, text))
	}
	r := evaluate(t, s, eights...)
	one := (0.4*0.4/12 + 0.01*0.01/24) / 2
	// JIS B 7503:2011, 5 µm within a tenth of a revolution; a graduation each.
	want := math.Sqrt(2*one + 0.005*0.005/3 + 2*0.01*0.01/12)
	assert.InDelta(t, want, float64(s.Difference(r[1], r[0], SameZero).U), 1e-12, "rounding only")
}

// Stops are late in both alike, so the assumed lag falls out of a difference of stops, and counts whole between stops and brackets.
// Where it was measured, so much of its variance counts as the parts of stops differ.
func TestDifferenceOfStops(t *testing.T) {
	s := setup(t, NewDial(10))
	stops, brackets := readings(t, s, "2.20", "2.21"), readings(t, s, "2.02/1.98", "2.03/1.99")
	u2 := func(r []Result) float64 { u := float64(s.Difference(r[1], r[0], SameZero).U); return u * u }
	rest := func(r []Result) float64 { // scatter, a graduation each, and the dial within half a revolution or a tenth (JIS B 7503:2011)
		limit := 0.009
		if math.Abs(r[0].evidence.own.mean-r[1].evidence.own.mean) < 0.1 {
			limit = 0.005
		}
		a, b := r[0].evidence, r[1].evidence
		return a.sd*a.sd/float64(a.own.n()) + b.sd*b.sd/float64(b.own.n()) + limit*limit/3 + 2*0.01*0.01/12
	}
	r := evaluate(t, s, stops, readings(t, s, "2.23", "2.24"))
	assert.InDelta(t, rest(r), u2(r), 1e-15, "rounding only")
	r = evaluate(t, s, stops, brackets)
	half := 0.053 * 0.1977003717 // 0.053° (see stops.go) at the slope at 2 mm (mpmath)
	assert.InDelta(t, rest(r)+half*half/3, u2(r), 1e-12)
	// Weight 1 from two and two; the parts of stops are 1/2 and 1.
	r = evaluate(t, s, readings(t, s, "2.20", "2.25/2.23", "2.20", "2.26/2.24"), stops)
	a, b := r[0].evidence, r[1].evidence
	assert.InDelta(t, rest(r)+0.25*(a.sd*a.sd+b.sd*b.sd)/2, u2(r), 1e-15)
}

// An inclined plunger's angles, the largest term of each result, hardly touch a small difference.
func TestDifferenceOfAnInclinedDial(t *testing.T) {
	d := NewDial(10)
	d.PlungerAngle, d.PlungerAngleU, d.CrownSlopeU = 20, 1, 3
	s := setup(t, d)
	var sixes [][]Reading
	for _, text := range []string{"2.15/2.13", "2.17/2.15"} {
		sixes = append(sixes, readings(t, s, text, text, text, text, text, text))
	}
	r := evaluate(t, s, sixes...)
	diff := s.Difference(r[1], r[0], SameZero)
	assert.Less(t, float64(diff.U), 0.6*float64(r[0].Error.U))
	for _, p := range s.Dial.angles(0.02) {
		assert.Less(t, p.U, 4e-4, "%s", p.Name)
	}
}

func TestSpreadOfCylinders(t *testing.T) {
	s := setup(t, NewDial(10))
	s.Target.Spread = 0.1
	six := func(text string) []Reading { return readings(t, s, text, text, text, text, text, text) }
	spread := func(texts ...string) Spread {
		var all [][]Reading
		for _, text := range texts {
			all = append(all, six(text))
		}
		out, ok := s.Spread(evaluate(t, s, all...))
		require.True(t, ok)
		return out
	}
	two := spread("2.02/2.00", "2.03/2.01")
	assert.Equal(t, 1, two.Early)
	assert.Equal(t, 0, two.Late)
	assert.InDelta(t, 0.01, float64(two.Difference.Value), 1e-12)
	assert.Equal(t, InTolerance, two.Verdict)
	assert.Greater(t, two.InTolerance, 0.9)
	out := spread("2.02/2.00", "2.32/2.30")
	assert.Equal(t, OutOfTolerance, out.Verdict)
	assert.Less(t, out.InTolerance, 0.05)
	assert.Equal(t, CannotTell, spread("2.02/2.00", "2.12/2.10").Verdict)
	three := spread("2.02/2.00", "2.32/2.30", "2.02/2.00")
	assert.Equal(t, 1, three.Early)
	assert.Equal(t, 0, three.Late)
	assert.Equal(t, OutOfTolerance, three.Verdict, "one pair is enough")
	assert.Equal(t, CannotTell, spread("2.02/2.00", "2.12/2.10", "2.02/2.00").Verdict, "every pair must be proven")
	assert.Equal(t, CannotTell, spread("2.12/2.10", "2.02/2.00", "2.02/2.00").Verdict, "in whichever order")
	assert.Equal(t, OutOfTolerance, spread("2.02/2.00", "2.02/2.00", "2.32/2.30").Verdict, "in whichever order")
	same := spread("2.02/2.00", "2.02/2.00")
	assert.Equal(t, 0, same.Early)
	assert.Equal(t, 1, same.Late)
	assert.Zero(t, same.Difference.Value)

	_, ok := s.Spread(evaluate(t, s, six("2.02/2.00"), nil))
	assert.False(t, ok, "one cylinder has no spread")
	_, ok = s.Spread(nil)
	assert.False(t, ok)
}

// The interval of a difference holds the true one in about 95 %: the dial's error and its zero are common, drawn once for
// each setting. 1500 settings: the standard deviation of the share is 0.56 %.
func TestDifferenceCoverage(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 4))
	s := setup(t, NewDial(10))
	const settings = 1500
	held := 0
	for range settings {
		sigma := 0.25 * math.Exp(math.Log(2)*rng.NormFloat64()) * s.kappa // the population of engines: median 0.25°, geometric sd 2
		bias := 0.015*(2*rng.Float64()-1) + 0.01*(rng.Float64()-0.5)
		truth := [2]float64{2.2 + 0.2*rng.Float64(), 2}
		var p [2][]Reading
		for i := range p {
			local := 0.0045 * (2*rng.Float64() - 1) // half the limit at either place: 0.009 between them
			for range 3 {
				at := truth[i] + sigma*rng.NormFloat64()
				high := at + 0.03*rng.Float64()
				read := func(y float64) Length { return Length(math.Round((y+bias+local)*100) / 100) }
				p[i] = append(p[i], Reading{LastClosed: max(0, read(high)), FirstOpen: max(0, read(high-0.03)), Bracket: true})
			}
		}
		r := evaluate(t, s, p[0], p[1])
		d := s.Difference(r[1], r[0], SameZero)
		if want := Length(truth[1] - truth[0]); d.Interval[0] <= want && want <= d.Interval[1] {
			held++
		}
	}
	assert.InDelta(t, 0.95, float64(held)/settings, 0.02)
}
