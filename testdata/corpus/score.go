package corpus

import (
	"cmp"
	"math"
	"slices"
	"sort"
)

// Tolerance is how far a detected edge may lie from a true one to count as that [s].
const Tolerance = 0.010

// Lead is how long a detector may take at the start of a recording to find its feet [s]: what it detects there does not count.
const Lead = 0.100

// Score is how well detected edges match the true ones.
type Score struct {
	Missed  int // true edges without a detected one
	False   int // detected edges without a true one
	Ignored int // such as lie in a stretch to ignore
	Pairs   []Pair
}

// Pair is a true edge and the detected one that belongs to it.
type Pair struct {
	True, Got int     // places in Truth.Edges and in the list given
	Error     float64 // detected less true [s]: positive is late
}

// Match gives each true edge at most one detected edge of its kind, and the other way round, the closest pairs first, within Tolerance. What
// is detected within Lead does not count. NaN counts as false.
func (t Truth) Match(got []Edge) Score {
	var s Score
	var near []Pair
	byPlace := make([]int, len(t.Edges))
	for i := range byPlace {
		byPlace[i] = i
	}
	slices.SortFunc(byPlace, func(a, b int) int { return cmp.Compare(t.Edges[a].Sample, t.Edges[b].Sample) })
	rate := float64(t.Rate)
	for j, g := range got {
		from := sort.Search(len(byPlace), func(k int) bool { return t.Edges[byPlace[k]].Sample >= g.Sample-Tolerance*rate })
		for _, i := range byPlace[from:] {
			e := t.Edges[i]
			if e.Sample > g.Sample+Tolerance*rate {
				break
			}
			if e.Kind == g.Kind && g.Sample >= Lead*rate {
				near = append(near, Pair{i, j, (g.Sample - e.Sample) / rate})
			}
		}
	}
	slices.SortStableFunc(near, func(a, b Pair) int { return cmp.Compare(math.Abs(a.Error), math.Abs(b.Error)) })
	taken, used := make([]bool, len(t.Edges)), make([]bool, len(got))
	for _, p := range near {
		if !taken[p.True] && !used[p.Got] {
			taken[p.True], used[p.Got] = true, true
			s.Pairs = append(s.Pairs, p)
		}
	}
	s.Missed = len(t.Edges) - len(s.Pairs)
	for j, g := range got {
		switch {
		case used[j] || g.Sample < Lead*rate:
		case slices.ContainsFunc(t.Ignore, func(z [2]float64) bool { return z[0] <= g.Sample && g.Sample <= z[1] }):
			s.Ignored++
		default:
			s.False++
		}
	}
	return s
}

// RMS returns the root mean square error [s]; NaN when no edge was found.
func (s Score) RMS() float64 {
	sum := 0.0
	for _, p := range s.Pairs {
		sum += p.Error * p.Error
	}
	return math.Sqrt(sum / float64(len(s.Pairs)))
}

// Bias returns the mean error [s], positive = late; NaN when no edge was found.
func (s Score) Bias() float64 {
	sum := 0.0
	for _, p := range s.Pairs {
		sum += p.Error
	}
	return sum / float64(len(s.Pairs))
}
