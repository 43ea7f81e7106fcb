package circuit

import (
	"math"
	"math/cmplx"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

const uF, mH = 1e-6, 1e-3

func at(t *testing.T, c Circuit, f float64) Levels {
	t.Helper()
	l, err := c.At(f)
	require.NoError(t, err)
	return l
}

// Reactances and the resonance: computed independently with mpmath.
func TestReactance(t *testing.T) {
	for _, tt := range []struct{ c, f, want float64 }{
		{0.22, 1000, 723.43156}, {0.22, 400, 1808.58}, {0.22, 2000, 361.716}, {0.18, 1000, 884.194}, {0.30, 1000, 530.516},
	} {
		// The last digit given may be rounded either way.
		assert.InDelta(t, tt.want, Reactance(tt.c*uF, tt.f), 0.005, "%v uF at %v Hz", tt.c, tt.f)
	}
	assert.InDelta(t, 3790, Resonance(8*mH, 0.22*uF), 10) // 3.79 kHz, given to three figures
}

// Where a capacitor's reactance is the resistance in its way, the level is 3.0103 dB down and turned by 45 degrees: 20 log10(sqrt 2),
// computed. The time constant R*C puts that at 1/(2*pi*R*C).
func TestTimeConstants(t *testing.T) {
	corner := func(r, c float64) float64 { return 1 / (2 * math.Pi * r * c) }
	against := func(with, without Circuit, f, turn float64) {
		got := Levels{Closed: at(t, without, f).Open, Open: at(t, with, f).Open}
		assert.InDelta(t, 3.0103, got.Contrast(), 1e-4)
		assert.InDelta(t, turn, got.Turn(), 1e-4)
	}
	// A leak of 1 ohm makes a loop of 1000 ohm of the open points.
	line := Circuit{Source: 100, Load: 899, Leak: 1}
	blocked := line
	blocked.Block = 1e-6
	against(blocked, line, corner(1000, 1e-6), 45)
	across := Circuit{Wiring: Shunt, Source: 100, Load: 900}
	condenser := across
	condenser.Condenser = 0.22 * uF
	against(condenser, across, corner(90, 0.22*uF), -45) // 100 and 900 ohm in parallel
	leads := across
	leads.LeadC = 1e-9
	against(leads, across, corner(90, 1e-9), -45)
}

// A battery primary of 4..10 mH is 25..63 ohm at 1 kHz: computed, two figures.
func TestBatteryCoil(t *testing.T) {
	assert.InDelta(t, 25, cmplx.Abs(Coil{L: 4 * mH}.Impedance(1000)), 0.5)
	assert.InDelta(t, 63, cmplx.Abs(Coil{L: 10 * mH}.Impedance(1000)), 0.5)
}

// The condenser across open points at 1 kHz, source of no resistance: computed independently; given to the digits that
// the tolerances allow.
func TestCondenserInSeriesWiring(t *testing.T) {
	l := at(t, Circuit{Load: 1000, Condenser: 0.22 * uF}, 1000)
	assert.InDelta(t, 1.8, l.Contrast(), 0.05)
	assert.InDelta(t, 36, l.Turn(), 0.5)
	assert.InDelta(t, 0.59, l.Distance(), 0.005)
	l = at(t, Circuit{Load: 47, Condenser: 0.22 * uF}, 1000)
	assert.InDelta(t, 24, l.Contrast(), 0.5)
}

// The README says why the load must be low, with two figures for the cable that it describes. Computed independently: the
// fall is 20 log10(|R - jX|/R) with R = source and load together and X = 723.43 ohm: 14.02 dB into 47 ohm, 1.56 dB into 1 kohm.
func TestTheFallThatTheReadmeTells(t *testing.T) {
	text, err := os.ReadFile(filepath.Join("..", "..", "README.md"))
	require.NoError(t, err)
	sentence := regexp.MustCompile(`through (\d+) Ω, to the\s+insulated lead[^:]*?; (\d+) Ω between[^:]*: the condenser ` +
		`passes[^:]*at 1 kHz with 0\.22 µF the\s+level then falls by ([\d.]+) dB into 47 Ω, but by only ([\d.]+) dB into 1 kΩ`)
	found := sentence.FindStringSubmatch(string(text))
	require.NotNil(t, found, "the sentence in the README")
	var said [4]float64
	for i := range said {
		said[i], err = strconv.ParseFloat(found[i+1], 64)
		require.NoError(t, err)
	}
	source, load := said[0], said[1]
	fall := func(load float64) float64 {
		return at(t, Circuit{Source: source, Load: load, Condenser: 0.22 * uF}, 1000).Contrast()
	}
	assert.InDelta(t, 14.02, fall(load), 0.005, "the last digit given")
	assert.InDelta(t, 1.56, fall(1000), 0.005, "the last digit given")
	assert.InDelta(t, fall(load), said[2], 0.5, "said to a whole dB")
	assert.InDelta(t, fall(1000), said[3], 0.05, "said to a tenth of a dB")
}

// A magneto's source coil left across the points: ranges computed for assumed values, 0.3..0.6 ohm of wire, 0.8..4 mH,
// eddy losses and 0.22 uF, points of 0.2 ohm when clean and 5 ohm when dirty. Tolerance: half of the last digit given,
// and a little for the eddy losses, which here are loss angles of 14 and 19 degrees.
func TestMagneto(t *testing.T) {
	magneto := func(w Wiring, source, load float64, big bool, contact float64) Circuit {
		coil, loss := &Coil{R: 0.3, L: 0.8 * mH}, 14.0
		if big {
			coil, loss = &Coil{R: 0.6, L: 4 * mH}, 19
		}
		coil.Eddy = 2 * math.Pi * 1000 * coil.L / math.Tan(loss*math.Pi/180)
		return Circuit{Wiring: w, Source: source, Load: load, Condenser: 0.22 * uF, Contact: contact, Coil: coil}
	}
	type limits struct{ lo, hi, tol float64 }
	for _, tt := range []struct {
		name         string
		wiring       Wiring
		source, load float64
		db, turn     limits
		clean, dirty limits
	}{
		{"series 100 + 1k", Series, 100, 1000, limits{.01, .07, .005}, limits{0, 1, .5}, limits{.005, .023, .0006}, limits{.003, .022, .0006}},
		{"series 100 + 47", Series, 100, 47, limits{.1, .6, .05}, limits{2, 9, .5}, limits{.03, .16, .006}, limits{.02, .15, .006}},
		{"series 10 + 10", Series, 10, 10, limits{.8, 5.5, .1}, limits{12, 40, .5}, limits{.22, .68, .006}, limits{.14, .63, .006}},
		{"shunt 1k", Shunt, 1000, 1e6, limits{28, 42, .5}, limits{68, 71, 1.5}, limits{.99, .99, .007}, limits{.61, .92, .01}},
	} {
		t.Run(tt.name, func(t *testing.T) {
			for _, big := range []bool{false, true} {
				l := at(t, magneto(tt.wiring, tt.source, tt.load, big, 0.2), 1000)
				within(t, tt.db.lo, tt.db.hi, tt.db.tol, l.Contrast(), "contrast")
				within(t, tt.turn.lo, tt.turn.hi, tt.turn.tol, math.Abs(l.Turn()), "turn")
				within(t, tt.clean.lo, tt.clean.hi, tt.clean.tol, l.Distance(), "clean")
				l = at(t, magneto(tt.wiring, tt.source, tt.load, big, 5), 1000)
				within(t, tt.dirty.lo, tt.dirty.hi, tt.dirty.tol, l.Distance(), "dirty")
			}
		})
	}
	big := magneto(Shunt, 1000, 1e6, true, 0.2)
	z := func(f float64) float64 { return cmplx.Abs(big.across(f, cmplx.Inf())) }
	within(t, 5, 26, 0.5, z(1000), "open points at 1 kHz")
	within(t, 2.4, 3, 0.05, z(3000)/z(1000), "gain of a higher tone")
}

func within(t *testing.T, lo, hi, tol, got float64, what string) {
	t.Helper()
	assert.GreaterOrEqual(t, got, lo-tol, what)
	assert.LessOrEqual(t, got, hi+tol, what)
}

// ngspice solves the same circuits (testdata/cables.cir). It prints 13 digits and adds 1 pS across each node: 1e-8.
func TestAgainstNgspice(t *testing.T) {
	battery := Circuit{Source: 120, Load: 1000, Condenser: 0.22 * uF, Contact: 0.05, Leak: 100e3}
	magneto := Circuit{Wiring: Shunt, Source: 100, Load: 10e3, Condenser: 0.22 * uF, Contact: 0.2, Coil: &Coil{R: 0.5, L: 2 * mH, Eddy: 40}}
	coilLeft := Circuit{Source: 10, Load: 47, Condenser: 0.3 * uF, Contact: 0.1, Coil: &Coil{R: 2, L: 8 * mH}}
	for _, tt := range []struct {
		name         string
		c            Circuit
		f            float64
		closed, open complex128
	}{
		{"battery 1k", battery, 1000, 8.928172849431e-01 + 2.754658284554e-09i, 6.288157296896e-01 + 4.042551482056e-01i},
		{"battery 3k", battery, 3000, 8.928172849444e-01 + 8.263974707461e-09i, 8.528974384707e-01 + 1.835384384427e-01i},
		{"magneto 1k", magneto, 1000, 1.984525722900e-03 + 2.998658326750e-05i, 5.236015796139e-02 + 1.053409728060e-01i},
		{"magneto 3k", magneto, 3000, 1.986008978282e-03 + 8.568437494903e-06i, 2.059160016421e-01 + 1.273327495427e-01i},
		{"coil left on 1k", coilLeft, 1000, 8.231174565720e-01 - 2.59117225496e-06i, 4.223133049006e-01 - 3.94432842685e-01i},
		{"coil left on 3k", coilLeft, 3000, 8.231173506935e-01 - 1.40608298720e-07i, 6.615748186957e-03 - 4.52502334109e-02i},
	} {
		l := at(t, tt.c, tt.f)
		assert.InDelta(t, 0, cmplx.Abs(l.Closed-tt.closed), 1e-8, "%s closed", tt.name)
		assert.InDelta(t, 0, cmplx.Abs(l.Open-tt.open), 1e-8, "%s open", tt.name)
	}
}

func TestBareContacts(t *testing.T) {
	series := at(t, Circuit{Source: 100, Load: 900}, 1000)
	assert.Equal(t, Levels{Closed: 0.9, Open: 0}, series)
	assert.Equal(t, float64(MaxContrast), series.Contrast())
	assert.Equal(t, 1.0, series.Distance())
	assert.Zero(t, series.Turn(), "a level of 0 has no phase")

	shunt := at(t, Circuit{Wiring: Shunt, Source: 100, Load: 900}, 1000)
	assert.Equal(t, complex128(0), shunt.Closed)
	assert.InDelta(t, 0.9, real(shunt.Open), 1e-15) // rounding

	assert.Zero(t, Levels{}.Contrast())
	assert.Zero(t, Levels{}.Distance())
	assert.Zero(t, Levels{}.Turn())
}

func TestValidate(t *testing.T) {
	good := Circuit{Wiring: Shunt, Source: 100, Load: 1000, Coil: &Coil{R: 1, L: mH}}
	require.NoError(t, good.Validate())
	for _, tt := range []struct {
		want string
		edit func(*Circuit)
	}{
		{"circuit: wiring, got 7", func(c *Circuit) { c.Wiring = 7 }},
		{"circuit: source resistance [ohm], got -1, want 0 or more", func(c *Circuit) { c.Source = -1 }},
		{"circuit: source resistance [ohm], got 0, want more than 0 in shunt", func(c *Circuit) { c.Source = 0 }},
		{"circuit: load resistance [ohm], got 0", func(c *Circuit) { c.Load = 0 }},
		{"circuit: load resistance [ohm], got +Inf", func(c *Circuit) { c.Load = math.Inf(1) }},
		{"circuit: condenser [F], got NaN", func(c *Circuit) { c.Condenser = math.NaN() }},
		{"circuit: contact resistance [ohm], got -0.1", func(c *Circuit) { c.Contact = -0.1 }},
		{"circuit: leak [ohm], got -5", func(c *Circuit) { c.Leak = -5 }},
		{"circuit: coil resistance [ohm], got -1", func(c *Circuit) { c.Coil = &Coil{R: -1, L: mH} }},
		{"circuit: coil inductance [H], got 0", func(c *Circuit) { c.Coil = &Coil{} }},
		{"circuit: eddy loss resistance [ohm], got NaN", func(c *Circuit) { c.Coil = &Coil{L: mH, Eddy: math.NaN()} }},
	} {
		c := good
		tt.edit(&c)
		_, err := c.At(1000)
		require.ErrorContains(t, err, tt.want)
	}
	for _, f := range []float64{0, -1, math.NaN(), math.Inf(1)} {
		_, err := good.At(f)
		require.ErrorContains(t, err, "circuit: frequency [Hz]")
	}
}

// A passive circuit never gives more than the source does without resonance (no coil), and the figures stay in range.
func TestLevelsStayPhysical(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := Circuit{
			Wiring:    Wiring(rapid.IntRange(0, 1).Draw(t, "wiring")),
			Source:    rapid.Float64Range(1, 1000).Draw(t, "source"),
			Load:      rapid.Float64Range(1, 1e5).Draw(t, "load"),
			Condenser: rapid.Float64Range(0, 1e-6).Draw(t, "condenser"),
			Contact:   rapid.Float64Range(0, 10).Draw(t, "contact"),
			Leak:      rapid.Float64Range(0, 1e6).Draw(t, "leak"),
		}
		l, err := c.At(rapid.Float64Range(50, 20000).Draw(t, "f"))
		require.NoError(t, err)
		// 1e-12: rounding.
		assert.LessOrEqual(t, cmplx.Abs(l.Closed), 1+1e-12)
		assert.LessOrEqual(t, cmplx.Abs(l.Open), 1+1e-12)
		assert.True(t, l.Contrast() >= 0 && l.Contrast() <= MaxContrast)
		assert.True(t, l.Distance() >= 0 && l.Distance() <= 2)
	})
}
