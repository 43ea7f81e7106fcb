package handturn

import (
	"fmt"
	"math"
	"math/rand/v2"
	"runtime"
	"slices"
	"sync"

	"breakcue/timing"
)

// trial is a number of settings of one class.
type trial struct {
	Population
	Class
	// errors is the range of true errors drawn.
	errors [2]timing.Length
	// reference tells to work out the Bayes intervals too.
	reference bool
}

// tally is what a trial gave.
type tally struct {
	settings int
	// How often the stated interval, the one of Bayes and the one of the oracle held the truth.
	held, bayesHeld, oracleHeld int
	inTolerance                 int // verdicts
	bayesInTolerance            int // what the verdicts would be with the intervals of Bayes
	// Sums of the widths [mm], and the single ratios of the stated width.
	width, bayesWidth, oracleWidth float64
	toBayes, toOracle              []float64
}

// run carries a trial out. The same seed gives the same tally.
func (t trial) run(settings int, seed1, seed2 uint64) (tally, error) {
	rng := rand.New(rand.NewPCG(seed1, seed2))
	out := tally{settings: settings}
	b := t.belief()
	for range settings {
		s, err := t.Draw(rng, t.Class, timing.Length(between(rng, float64(t.errors[0]), float64(t.errors[1]))))
		if err != nil {
			return tally{}, err
		}
		results, err := s.Setup.Evaluate(s.Passes)
		if err != nil {
			return tally{}, err
		}
		r := results[0]
		lo, hi := float64(r.Travel.Interval[0]), float64(r.Travel.Interval[1])
		out.held += s.within(lo, hi)
		if r.Verdict == timing.InTolerance {
			out.inTolerance++
		}
		if !t.reference {
			continue
		}
		width := hi - lo
		out.width += width
		p, err := s.reference(b)
		if err != nil {
			return tally{}, err
		}
		lo, hi = p.central(timing.Coverage)
		out.bayesHeld += s.within(lo, hi)
		out.bayesWidth += hi - lo
		out.toBayes = append(out.toBayes, width/(hi-lo))
		out.bayesInTolerance += s.proven(p)
		if p, err = s.reference(known(s.Sigma)); err != nil {
			return tally{}, err
		}
		lo, hi = p.central(timing.Coverage)
		out.oracleHeld += s.within(lo, hi)
		out.oracleWidth += hi - lo
		out.toOracle = append(out.toOracle, width/(hi-lo))
	}
	return out, nil
}

// within returns 1 where the truth lies between lo and hi.
func (s Setting) within(lo, hi float64) int {
	if lo <= float64(s.Truth) && float64(s.Truth) <= hi {
		return 1
	}
	return 0
}

// proven returns 1 where p proves the travel inside the tolerance, at each end with 95 %.
func (s Setting) proven(p density) int {
	t := s.Setup.Target
	lo, hi := p.central(0.9)
	if lo >= float64(t.Travel+t.Low) && hi <= float64(t.Travel+t.High) {
		return 1
	}
	return 0
}

// runAll carries trials out, on all processors; each has its own random numbers, so the order does not matter.
func runAll(trials []trial, settings int, seed uint64) ([]tally, error) {
	out := make([]tally, len(trials))
	errs := make([]error, len(trials))
	next := make(chan int)
	var wg sync.WaitGroup
	for range runtime.GOMAXPROCS(0) {
		wg.Go(func() {
			for i := range next {
				out[i], errs[i] = trials[i].run(settings, seed, uint64(i))
			}
		})
	}
	for i := range trials {
		next <- i
	}
	close(next)
	wg.Wait()
	for i, err := range errs {
		if err != nil {
			return nil, fmt.Errorf("%s: %w", trials[i].Class, err)
		}
	}
	return out, nil
}

// together adds tallies up.
func together(all []tally) tally {
	var sum tally
	for _, t := range all {
		sum.settings += t.settings
		sum.held += t.held
		sum.bayesHeld += t.bayesHeld
		sum.oracleHeld += t.oracleHeld
		sum.inTolerance += t.inTolerance
		sum.bayesInTolerance += t.bayesInTolerance
		sum.width += t.width
		sum.bayesWidth += t.bayesWidth
		sum.oracleWidth += t.oracleWidth
		sum.toBayes = append(sum.toBayes, t.toBayes...)
		sum.toOracle = append(sum.toOracle, t.toOracle...)
	}
	return sum
}

// percent returns how much n is of the settings [%].
func (t tally) percent(n int) float64 { return 100 * float64(n) / float64(t.settings) }

// standardError returns the standard error of a percentage [%].
func (t tally) standardError(percent float64) float64 {
	return math.Sqrt(percent * (100 - percent) / float64(t.settings))
}

func mean(x []float64) float64 {
	sum := 0.0
	for _, v := range x {
		sum += v
	}
	return sum / float64(len(x))
}

func median(x []float64) float64 {
	x = slices.Sorted(slices.Values(x))
	return (x[(len(x)-1)/2] + x[len(x)/2]) / 2
}

// String returns the class in words of fixed width.
func (c Class) String() string {
	plunger, n := "straight", fmt.Sprint(c.Least)
	if c.Inclined {
		plunger = "inclined"
	}
	if c.Most > c.Least {
		n += fmt.Sprint("-", c.Most)
	}
	for _, o := range c.Others {
		n += fmt.Sprint("+", o)
	}
	return fmt.Sprintf("%-7s  %-8s  n = %-4s", c.Mode, plunger, n)
}
