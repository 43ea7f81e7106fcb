package circuit

import (
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// shop is a tone of 0.2 V against 0.1 mV of noise, the level wandering by 2 %.
var shop = Hearing{Tone: 0.2, Noise: 1e-4, Wander: 0.02}

func margined(t *testing.T, cases []Circuit, f float64) (float64, Circuit) {
	t.Helper()
	m, which, err := shop.Worst(cases, f)
	require.NoError(t, err)
	return m, which
}

func TestMargin(t *testing.T) {
	l := Levels{Closed: 0.5, Open: complex(0, 0.5)} // turned by a right angle, as loud as before
	// By hand: 0.707 * 0.2 V = 141.4 mV over sqrt(0.1^2 + (0.02*100)^2) = 2.0025 mV.
	assert.InDelta(t, 20*math.Log10(141.42/2.0025), shop.Margin(l), 1e-3, "digits given")
	assert.InDelta(t, 60, shop.SNR(l), 1e-9, "100 mV over 0.1 mV")
	assert.InDelta(t, 2e6, shop.Step(l), 1, "twice the SNR")
	assert.True(t, math.IsInf(shop.Margin(Levels{0.5, 0.5}), -1), "equal levels")
	assert.True(t, math.IsInf(shop.SNR(Levels{}), -1))
}

// The cable that is recommended for magnetos will do for any source coil of 0.8..4 mH and 0.3..0.6 ohm of wire (assumed values, with eddy
// losses of 14..19 degrees at 1 kHz) with 0.1..0.4 uF, and points of 0.05..5 ohm; one in line into 1 kohm for none of them. That it
// is so by wide margins, 24 dB and more against 14 and 20, is what makes it a recommendation.
func TestMagnetoVerdicts(t *testing.T) {
	for _, l := range []float64{0.8 * mH, 1.8 * mH, 4 * mH} {
		for _, r := range []float64{0.3, 0.6} {
			for _, condenser := range []float64{0.1 * uF, 0.22 * uF, 0.4 * uF} {
				for _, loss := range []float64{14, 19} {
					coil := &Coil{R: r, L: l, Eddy: 2 * math.Pi * 1000 * l / math.Tan(loss*math.Pi/180)}
					for _, series := range []float64{50, 100, 200} {
						c := Circuit{Wiring: Shunt, Source: 100, Series: series, Input: 10e3, Condenser: condenser, Coil: coil}
						m, _ := margined(t, c.Spread(0.2), 3250)
						assert.Equal(t, WillDo, Judge(m), "across: %+v %+v: %.1f dB", c, coil, m)
						assert.Greater(t, m, 24.0)
					}
					c := Circuit{Source: 100, Series: 100, Load: 1000, Input: 10e3, Condenser: condenser, Coil: coil}
					m, _ := margined(t, c.Spread(0.2), 1000)
					assert.Equal(t, WillNotDo, Judge(m), "in line: %+v %+v: %.1f dB", c, coil, m)
				}
			}
		}
	}
}

func TestJudge(t *testing.T) {
	for _, tt := range []struct {
		margin float64
		want   Verdict
	}{
		{math.Inf(-1), WillNotDo}, {math.Nextafter(14, 0), WillNotDo}, {14, Poor}, {math.Nextafter(20, 0), Poor}, {20, WillDo},
		{math.Inf(1), WillDo}, {math.NaN(), WillNotDo},
	} {
		assert.Equal(t, tt.want, Judge(tt.margin), "%v dB", tt.margin)
	}
	assert.Equal(t, "will not do, poor, will do", WillNotDo.String()+", "+Poor.String()+", "+WillDo.String())
}

// A source coil that stays on asks for a higher tone and for a cable across; bare points for neither.
func TestBest(t *testing.T) {
	coil := &Coil{R: 0.4, L: 0.8 * mH, Eddy: 20}
	magneto := Circuit{Wiring: Shunt, Source: 100, Input: 10e3, Condenser: 0.22 * uF, Coil: coil}
	across, err := shop.Best(magneto.Spread(0.2), UsualChoice(Shunt))
	require.NoError(t, err)
	assert.Greater(t, across.Tone, 2000.0)
	assert.Equal(t, 56.0, across.Series, "the tone is weak there: as much of it as can be had")
	assert.Zero(t, across.Load)
	assert.LessOrEqual(t, across.From, across.Tone)
	assert.GreaterOrEqual(t, across.To, across.Tone)

	inline := magneto
	inline.Wiring = Series
	best, err := shop.Best(inline.Spread(0.2), UsualChoice(Series))
	require.NoError(t, err)
	assert.Equal(t, WillNotDo, Judge(best.Margin), "no cable in line will do: %+v", best)

	inline.Coil = nil
	best, err = shop.Best(inline.Spread(0.2), UsualChoice(Series))
	require.NoError(t, err)
	assert.Equal(t, WillDo, Judge(best.Margin))
	assert.InDelta(t, 1000, best.Tone, 200, "the usual tone is as good as any")
}

// Nothing in the choice is better than the best by more than counts, and what Best says of it is so.
func TestNothingIsBetter(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := Circuit{
			Wiring:    Wiring(rapid.IntRange(0, 1).Draw(t, "wiring")),
			Source:    rapid.Float64Range(10, 600).Draw(t, "source"),
			Input:     rapid.Float64Range(1e3, 50e3).Draw(t, "input"),
			Condenser: rapid.Float64Range(0.1, 0.4).Draw(t, "condenser") * uF,
		}
		if rapid.Bool().Draw(t, "coil") {
			c.Coil = &Coil{R: 0.5, L: rapid.Float64Range(0.8, 4).Draw(t, "coil") * mH, Eddy: 40}
		}
		from := Choice{Tones: []float64{330, 1010, 3250, 7770}, Series: []float64{100, 180}, Loads: []float64{47, 330}, Usual: 1000}
		cases := c.Spread(0.2)
		best, err := shop.Best(cases, from)
		require.NoError(t, err)
		var all []Best // with the step and the limit of the worst case, worked out apart
		top := math.Inf(-1)
		for _, series := range from.Series {
			for _, load := range from.Loads {
				for _, f := range from.Tones {
					own := slices.Clone(cases)
					step := math.Inf(1)
					for i := range own {
						own[i].Series, own[i].Load = series, load
						l, err := own[i].At(f)
						require.NoError(t, err)
						step = math.Min(step, shop.Step(l))
					}
					m, _, err := shop.Worst(own, f)
					require.NoError(t, err)
					top = math.Max(top, m)
					all = append(all, Best{Tone: f, Series: series, Load: load, Margin: m, Limit: EdgeLimit(step, f), step: step})
					assert.LessOrEqual(t, m, best.Margin+even)
					if series == best.Series && load == best.Load && f == best.Tone {
						assert.InDelta(t, m, best.Margin, 1e-9, "rounding")
					}
					if series == best.Series && load == best.Load && f >= best.From && f <= best.To {
						assert.GreaterOrEqual(t, m, best.Margin-1)
					}
				}
			}
		}
		// 1e-9: rounding.
		least := math.Inf(1)
		for _, b := range all {
			if b.Margin > top-even+1e-9 {
				least = math.Min(least, b.Limit)
			}
			if b.Series == best.Series && b.Load == best.Load && b.Tone == best.Tone {
				assert.InDelta(t, b.Limit, best.Limit, 1e-9*b.Limit)
			}
		}
		assert.LessOrEqual(t, best.Limit, 1.1*least*(1+1e-9), "of what is as good the one timed best")
		for _, b := range all {
			if b.Margin > top-even+1e-9 && b.Limit < 1.1*least*(1-1e-9) {
				assert.LessOrEqual(t, math.Abs(math.Log(best.Tone/from.Usual)), math.Abs(math.Log(b.Tone/from.Usual)), "then the usual tone")
				if b.Tone == best.Tone {
					assert.LessOrEqual(t, b.step, best.step*(1+1e-9), "then the loudest")
				}
			}
		}
	})
}

func TestUsualChoice(t *testing.T) {
	for _, w := range []Wiring{Series, Shunt} {
		c := UsualChoice(w)
		assert.True(t, slices.IsSorted(c.Tones))
		assert.Less(t, c.Tones[0], 320.0)
		assert.Greater(t, c.Tones[len(c.Tones)-1], 7500.0)
		for i, f := range c.Tones {
			for _, mains := range []float64{50, 60} {
				assert.GreaterOrEqual(t, math.Abs(f-mains*math.Round(f/mains)), 8.0, "%v Hz beside a harmonic of %v Hz", f, mains)
			}
			if i > 0 {
				assert.InDelta(t, 1.04, f/c.Tones[i-1], 0.13, "moved off a harmonic by up to 25 Hz either side")
			}
		}
	}
	// IEC 60063, E12, from memory.
	assert.Equal(t, []float64{56, 68, 82, 100, 120, 150, 180}, UsualChoice(Shunt).Series)
	assert.Contains(t, UsualChoice(Series).Loads, 47.0)
}

func TestSpread(t *testing.T) {
	c := Circuit{Load: 47, Condenser: 1, Coil: &Coil{L: 10, Eddy: 100, R: 1}}
	all := c.Spread(0.2)
	assert.Len(t, all, 27)
	for _, v := range all {
		assert.InDelta(t, 10, v.Coil.Eddy/v.Coil.L, 1e-12, "the loss angle stays")
	}
	assert.Equal(t, 10.0, c.Coil.L, "the circuit itself is left alone")
	assert.Len(t, Circuit{Load: 47}.Spread(0.2), 3, "dirt only")
	assert.Len(t, c.Spread(0), 3, "dirt only")
	dirty := Circuit{Load: 47, Contact: 20}.Spread(0.2)
	assert.Equal(t, 20.0, dirty[len(dirty)-1].Contact, "points known to be worse")
}

func TestBadHearing(t *testing.T) {
	cases := []Circuit{{Load: 47}}
	for _, tt := range []struct {
		h    Hearing
		want string
	}{
		{Hearing{Noise: 1}, "circuit: tone [V], got 0, want more than 0"},
		{Hearing{Tone: 1, Noise: math.NaN()}, "circuit: noise [V], got NaN"},
		{Hearing{Tone: 1, Noise: 1, Wander: 2}, "circuit: wander, got 2, want 0..1"},
	} {
		_, err := tt.h.Best(cases, UsualChoice(Series))
		require.ErrorContains(t, err, tt.want)
	}
	_, err := shop.Best(nil, UsualChoice(Series))
	require.ErrorContains(t, err, "circuit: nothing to choose from, got 0 cases")
	_, err = shop.Best([]Circuit{{Load: 47, Leak: -1}}, UsualChoice(Series))
	require.ErrorContains(t, err, "circuit: leak [ohm], got -1")
	_, err = shop.Best(cases, Choice{Tones: []float64{1000}, Series: []float64{-1}, Loads: []float64{47}, Usual: 1000})
	require.ErrorContains(t, err, "circuit: series resistance [ohm], got -1")
	_, err = shop.Best([]Circuit{{Load: 47, Contact: 1, Leak: 1}}, UsualChoice(Series))
	require.ErrorContains(t, err, "circuit: no tone tells open from closed")
	_, _, err = shop.Worst(cases, math.NaN())
	require.ErrorContains(t, err, "circuit: frequency [Hz]")
}
