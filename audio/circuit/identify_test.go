package circuit

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// confusion counts, of n random circuits, which kind was found for which.
func (l listening) confusion(t require.TestingT, n int, seed uint64) (table [6][6]int, right int) {
	rng := rand.New(rand.NewPCG(seed, 0))
	for range n {
		c, kind := l.draw(rng)
		got, err := Identify(l.hear(t, c, rng))
		require.NoError(t, err)
		table[kind][got.Kind]++
		if got.Kind == kind {
			right++
		}
	}
	return table, right
}

func format(table [6][6]int) string {
	var b strings.Builder
	fmt.Fprintf(&b, "%-20s", "is \\ found")
	for k := range table {
		fmt.Fprintf(&b, "%20s", Kind(k))
	}
	for k, row := range table {
		fmt.Fprintf(&b, "\n%-20s", Kind(k))
		for _, n := range row {
			fmt.Fprintf(&b, "%20d", n)
		}
	}
	return b.String()
}

// The kind is found at 40 dB, in line and across.
func TestKindIsFound(t *testing.T) {
	for _, l := range []listening{recommended(), across()} {
		table, right := l.confusion(t, 200, 5)
		assert.GreaterOrEqual(t, right, 190, "%s\n%s", l.cable.Wiring, format(table))
	}
}

// BenchmarkKinds prints what is found for what: go test ./audio/circuit -run '^$' -bench Kinds -benchtime 1x
func BenchmarkKinds(b *testing.B) {
	for _, l := range []listening{recommended(), across()} {
		b.Run(l.cable.Wiring.String(), func(b *testing.B) {
			for range b.N {
				table, right := l.confusion(b, 2000, 6)
				fmt.Printf("%s: %d of 2000 right\n%s\n", l.cable.Wiring, right, format(table))
			}
		})
	}
}

// errorsOf collects the relative errors of n draws: of condenser and contact, and of the coil's values.
func (l listening) errorsOf(t require.TestingT, n int, seed uint64, coil bool) map[string][]float64 {
	rng, list := rand.New(rand.NewPCG(seed, 0)), map[string][]float64{}
	add := func(what string, e Estimate, truth float64) {
		if e.Had() {
			list[what] = append(list[what], math.Abs(e.Value/truth-1))
			list["pull "+what] = append(list["pull "+what], (e.Value-truth)/e.Sd)
			return
		}
		list[what] = append(list[what], 1)
	}
	for range n {
		c := l.cable
		c.Condenser, c.Contact = logRange(rng, 0.1e-6, 0.4e-6), logRange(rng, 1, 30)
		if coil {
			c.Coil = l.sourceCoil(rng)
		}
		got, err := Identify(l.hear(t, c, rng))
		require.NoError(t, err)
		add("condenser", got.Condenser, c.Condenser)
		add("contact", got.Contact, c.Contact)
		if coil {
			add("coil L", got.CoilL, c.Coil.L)
			add("coil R", got.CoilR, c.Coil.R)
			add("coil eddy", got.Eddy, c.Coil.Eddy)
		}
	}
	return list
}

func quantile(x []float64, p float64) float64 {
	s := slices.Sorted(slices.Values(x))
	return s[int(math.Ceil(p*float64(len(s))))-1]
}

// With a known resistor and the cable in line, at 40 dB: condensers of 0.1..0.4 uF within 15 %, contacts of 1..30 ohm within 20 %.
func TestValuesInLine(t *testing.T) {
	list := recommended().errorsOf(t, 100, 8, false)
	assert.Less(t, quantile(list["condenser"], 1), 0.15)
	assert.Less(t, quantile(list["contact"], 1), 0.20)
	assert.Len(t, list["pull contact"], 100, "all were had")
}

// A source coil's values, across: what comes out at 40 dB for nineteen of twenty. No source: what is reached now, with a margin.
func TestSourceCoilAcross(t *testing.T) {
	list := across().errorsOf(t, 100, 8, true)
	for what, most := range map[string]float64{"coil L": 0.02, "coil eddy": 0.02, "coil R": 0.4, "condenser": 0.12, "contact": 0.1} {
		assert.Less(t, quantile(list[what], .95), most, what)
	}
}

// BenchmarkValues prints how good the values are: go test ./audio/circuit -run '^$' -bench Values -benchtime 1x
func BenchmarkValues(b *testing.B) {
	for _, l := range []listening{recommended(), across()} {
		for _, coil := range []bool{false, true} {
			b.Run(fmt.Sprintf("%s/coil=%v", l.cable.Wiring, coil), func(b *testing.B) {
				for range b.N {
					list := l.errorsOf(b, 1000, 7, coil)
					for _, what := range []string{"condenser", "contact", "coil L", "coil R", "coil eddy"} {
						if e := list[what]; e != nil {
							pull := 0.0
							for _, p := range list["pull "+what] {
								pull += p * p
							}
							fmt.Printf("%s, coil %v: %s: 95 %% within %.3f %%, worst %.3f %%; had %d; error over stated %.2f\n", l.cable.Wiring, coil, what,
								100*quantile(e, .95), 100*quantile(e, 1), len(list["pull "+what]), math.Sqrt(pull/float64(len(list["pull "+what]))))
						}
					}
				}
			})
		}
	}
}
