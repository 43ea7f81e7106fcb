package handturn

import (
	"slices"

	"breakcue/timing"
)

// typical is the population by which the intervals are judged; the others show what they are worth where engines are calmer or worse.
var (
	typical = Population{Median: 0.25, Spread: 2}
	calm    = Population{Median: 0.12, Spread: 2}
	worn    = Population{Median: 0.5, Spread: 2}
)

// study is everything that the table says.
type study struct {
	main  []tally    // of each of the classes
	given [][]tally  // classes by givenSigmas
	wrong [][2]tally // classes of two passes and more; true error at the late end of the tolerance and at the early one
	power []tally    // powerClasses
	other [][]tally  // pooledClasses by others
}

var (
	passNumbers = [][2]int{{1, 1}, {2, 2}, {3, 4}, {5, 8}}
	givenSigmas = []timing.Angle{0.12, 0.25, 0.5, 1}
	others      = []Population{calm, typical, worn}
)

// classes returns the classes by mode, plunger and number of passes.
func classes() []Class {
	var out []Class
	for _, mode := range []Mode{Brackets, Stops} {
		for _, inclined := range []bool{false, true} {
			for _, n := range passNumbers {
				out = append(out, Class{Mode: mode, Inclined: inclined, Least: n[0], Most: n[1]})
			}
		}
	}
	return out
}

// repeatedClasses returns those that can prove a timing in tolerance.
func repeatedClasses() []Class {
	return slices.DeleteFunc(classes(), func(c Class) bool { return c.Most < 2 })
}

// powerClasses returns those whose power is looked at.
func powerClasses() []Class {
	var out []Class
	for _, mode := range []Mode{Brackets, Stops} {
		for _, inclined := range []bool{false, true} {
			for _, n := range []int{3, 8} {
				out = append(out, Class{Mode: mode, Inclined: inclined, Least: n, Most: n})
			}
		}
	}
	return out
}

// pooledClasses returns one pass by itself, and series with four degrees of freedom and more in themselves and the series pooled with them.
func pooledClasses() []Class {
	var out []Class
	for _, mode := range []Mode{Brackets, Stops, Both} {
		for _, inclined := range []bool{false, true} {
			series := [][]int{{1}, {1, 5}, {3, 3}, {5}, {5, 5}}
			if mode == Both {
				series = [][]int{{4, 4}, {6}}
			}
			for _, n := range series {
				out = append(out, Class{Mode: mode, Inclined: inclined, Least: n[0], Most: n[0], Others: n[1:]})
			}
		}
	}
	return out
}

// degrees returns the degrees of freedom of all series.
func (c Class) degrees() int {
	df := c.Least - 1
	for _, o := range c.Others {
		df += o - 1
	}
	return df
}

// wide is the range of true errors where they do not matter [mm].
var wide = [2]timing.Length{-0.3, 0.3}

func at(error timing.Length) [2]timing.Length { return [2]timing.Length{error, error} }

func mainTrials() (out []trial) {
	for _, c := range classes() {
		out = append(out, trial{typical, c, wide, true})
	}
	return out
}

func wrongTrials() (out []trial) {
	for _, c := range repeatedClasses() {
		out = append(out, trial{typical, c, at(-tolerance), false}, trial{typical, c, at(tolerance), false})
	}
	return out
}

// newStudy carries the study out with a number of settings for each of the main trials and for wrong verdicts; power and other
// populations get half as many, each scatter by itself a quarter.
func newStudy(settings int, seed uint64) (study, error) {
	var s study
	all, err := runAll(append(mainTrials(), wrongTrials()...), settings, seed)
	if err != nil {
		return s, err
	}
	take := func(n int) (t []tally) {
		t, all = all[:n], all[n:]
		return t
	}
	s.main = take(len(classes()))
	for range repeatedClasses() {
		s.wrong = append(s.wrong, [2]tally(take(2)))
	}
	var trials []trial
	for _, c := range powerClasses() {
		trials = append(trials, trial{typical, c, at(0), true})
	}
	for _, c := range pooledClasses() {
		for _, p := range others {
			trials = append(trials, trial{p, c, wide, false})
		}
	}
	if all, err = runAll(trials, (settings+1)/2, seed+1); err != nil {
		return s, err
	}
	s.power = take(len(powerClasses()))
	for range pooledClasses() {
		s.other = append(s.other, take(len(others)))
	}
	trials = nil
	for _, c := range classes() {
		for _, sigma := range givenSigmas {
			trials = append(trials, trial{Population{sigma, 1}, c, wide, false})
		}
	}
	if all, err = runAll(trials, (settings+3)/4, seed+2); err != nil {
		return s, err
	}
	for range classes() {
		s.given = append(s.given, take(len(givenSigmas)))
	}
	return s, nil
}
