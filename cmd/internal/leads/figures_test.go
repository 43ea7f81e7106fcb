package leads

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"breakcue/audio"
	"breakcue/audio/bench"
	"breakcue/audio/circuit"
)

// figure of a random case: what was found over what is there.
type found struct {
	condenser, contact         *Quantity
	trueCondenser, trueContact float64
}

// randomCase checks the recommended cable in line, 100 and 47 ohm, on a random condenser and contact, at 40 dB SNR with the points closed.
// The resistor is off its value by 1 %, the card has a random delay and gain.
func randomCase(t require.TestingT, seed uint64) found {
	rng := rand.New(rand.NewPCG(seed, 40))
	c := bench.CableConfig{SampleRate: 24000, Channels: 1, Frames: bench.Endless, Delay: 100 + rng.IntN(3000), Seed: seed, Gain: -10 + 15*rng.Float64()}
	c.Circuit = circuit.Circuit{Source: 20 * rng.Float64(), Series: 100, Load: 47, Lead: 0.2, Input: 5e3 + 2e4*rng.Float64(),
		Condenser: (0.1 + 0.3*rng.Float64()) * 1e-6, Contact: 0.05 + 7*rng.Float64()}
	c.Resistor = 100 * (1 + 0.01*rng.NormFloat64())
	l, err := c.Circuit.At(1000)
	require.NoError(t, err)
	c.Noise = bench.NoiseFor(audio.Amplitude(-12)*math.Hypot(real(l.Closed), imag(l.Closed))*bench.Amplitude(c.Gain), 40)
	r := newRig(t, c, Options{Level: -12, Resistor: 100, Tolerance: 0.01}).all(true)
	f := found{trueCondenser: c.Circuit.Condenser, trueContact: c.Circuit.Contact}
	if r.Connected != nil {
		f.condenser, f.contact = r.Connected.Condenser, r.Connected.Contact
	}
	return f
}

// randomCases makes so many, two at a time.
func randomCases(t require.TestingT, n int) []found {
	list := make([]found, n)
	var all sync.WaitGroup
	next := make(chan int, n)
	for i := range n {
		next <- i
	}
	close(next)
	for range 2 {
		all.Go(func() {
			for i := range next {
				list[i] = randomCase(t, uint64(i))
			}
		})
	}
	all.Wait()
	return list
}

// From sound to figure: the condenser within 15 %, a contact above 1 ohm within 20 %, and uncertainties that are honest.
func TestFiguresThroughTheWholeChain(t *testing.T) {
	honest, all := 0, 0
	for i, f := range randomCases(t, 200) {
		require.NotNil(t, f.condenser, "case %d", i)
		assert.InEpsilon(t, f.trueCondenser, f.condenser.Value, 0.15, "condenser of case %d", i)
		if f.trueContact > 1 {
			require.NotNil(t, f.contact, "case %d", i)
			assert.InEpsilon(t, f.trueContact, f.contact.Value, 0.20, "contact of case %d", i)
		}
		for _, q := range []struct {
			q    *Quantity
			true float64
		}{{f.condenser, f.trueCondenser}, {f.contact, f.trueContact}} {
			if q.q != nil {
				all++
				if math.Abs(q.q.Value-q.true) <= 2*q.q.U {
					honest++
				}
			}
		}
	}
	// Twice the standard uncertainty holds 95 in 100; of 400, fewer than 91 in 100 would be chance once in a thousand times.
	assert.Greater(t, float64(honest)/float64(all), 0.91)
}

// The errors of condenser and contact through the whole chain: median and worst of the random cases.
func BenchmarkFigures(b *testing.B) {
	for b.Loop() {
		var cond, contact, pull []float64
		for _, f := range randomCases(b, 200) {
			cond = append(cond, 100*math.Abs(f.condenser.Value/f.trueCondenser-1))
			pull = append(pull, math.Abs(f.condenser.Value-f.trueCondenser)/f.condenser.U)
			if f.trueContact > 1 && f.contact != nil {
				contact = append(contact, 100*math.Abs(f.contact.Value/f.trueContact-1))
				pull = append(pull, math.Abs(f.contact.Value-f.trueContact)/f.contact.U)
			}
		}
		for _, x := range []struct {
			name string
			list []float64
			unit string
		}{{"condenser", cond, "%"}, {"contact above 1 ohm", contact, "%"}, {"errors over their uncertainty", pull, ""}} {
			slices.Sort(x.list)
			n := len(x.list)
			fmt.Printf("%-30s %3d cases: median %.2f%s, 95 of 100 %.2f%s, worst %.2f%s\n", x.name, n, x.list[n/2], x.unit, x.list[n*95/100], x.unit, x.list[n-1], x.unit)
		}
	}
}
