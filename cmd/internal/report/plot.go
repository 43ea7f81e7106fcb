package report

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"breakcue/cmd/internal/session"
	"breakcue/timing/logbook"
)

// The picture, in its own units: as wide as a phone, so that its letters stay readable there.
const (
	plotWidth, plotHeight         = 420, 270
	plotLeft, plotTop, plotRight  = 46, 34, 8
	plotBottom                    = plotHeight - 34
	meanWidth                     = 40 // room for the mean at the end of a panel
	leastTicks                    = 4
	mostNumbers                   = 8 // of passes, written below a panel
	markSize, leastMark, markPart = 4.5, 0.8, 0.3
	plotMargin                    = 0.06 // above and below what is shown, as a part of it
	leastSpan                     = 1e-3 // [mm]
	beamPart                      = 0.25
)

// plot is the passes of a cylinder against the specified mark.
type plot struct {
	ID, Cylinder  string
	Desc          string // in words, for those who do not see it
	Caption       string
	Width, Height int
	Left, Right   int
	Top, Bottom   int
	Band          [2]string // y of the early and the late end of the tolerance
	BandHeight    string
	Span, Middle  string
	Mark          string // y of the specified travel
	Ticks         []label
	Panels        []panel
}

// label is a text at a place.
type label struct{ X, Y, Text string }

// panel is one phase. The marks are paths, so that thousands of passes stay a small picture.
type panel struct {
	Phase, Middle, Begin string
	Square               bool // as left has filled squares, as found open rings
	Beams, Marks, Unused string
	Mean, Interval       string
	MeanAt               label
	Numbers              []label
}

// shown is what a panel shows, as travel [mm before TDC].
type shown struct {
	phase    session.Phase
	passes   []shownPass
	mean     float64
	interval [2]float64
	known    bool // there is a mean
}

type shownPass struct {
	n            int
	closed, open float64
	bracket      bool
	middle       float64
	used         bool
}

// plots draws every cylinder that has a pass with a travel.
func plots(s session.Sheets, r session.Report) []plot {
	var out []plot
	for _, c := range r.Cylinders {
		var all []shown
		for _, ph := range c.Phases {
			if one := show(s, r, ph); len(one.passes) > 0 {
				all = append(all, one)
			}
		}
		if len(all) > 0 {
			out = append(out, newPlot(id("plot", len(out)), c.Name, r, all))
		}
	}
	return out
}

func show(s session.Sheets, r session.Report, ph session.Phase) shown {
	one := shown{phase: ph}
	for _, q := range ph.Passes {
		if q.TravelMM == nil {
			continue
		}
		p := shownPass{n: q.N, middle: *q.TravelMM, used: q.Unused == ""}
		p.closed, p.open, p.bracket = bracket(s.Setup, q.Reading)
		one.passes = append(one.passes, p)
	}
	if ph.ErrorMM != nil {
		specified := r.Specified.TravelMM
		one.mean, one.known = travel(r, ph), true
		one.interval = [2]float64{specified + ph.IntervalMM[0], specified + ph.IntervalMM[1]}
	}
	return one
}

// newPlot lays the panels out side by side. The scale holds the tolerance and all that the results rest on.
func newPlot(id, cylinder string, r session.Report, all []shown) plot {
	mark := r.Specified.TravelMM
	low, high := mark+r.Specified.ToleranceMM[0], mark+r.Specified.ToleranceMM[1]
	lo, hi := low, high
	take := func(values ...float64) { lo, hi = min(lo, slices.Min(values)), max(hi, slices.Max(values)) }
	for _, one := range all {
		if one.known {
			take(one.mean, one.interval[0], one.interval[1])
		}
		for _, p := range one.passes {
			switch {
			case p.used && p.bracket:
				take(p.closed, p.open)
			case p.used:
				take(p.middle)
			}
		}
	}
	margin := max(hi-lo, leastSpan) * plotMargin
	sc := scale{lo - margin, hi + margin}
	p := plot{
		ID: id, Cylinder: cylinder, Width: plotWidth, Height: plotHeight, Left: plotLeft, Right: plotWidth - plotRight, Top: plotTop, Bottom: plotBottom,
		Band: [2]string{coordinate(sc.y(high)), coordinate(sc.y(low))}, BandHeight: coordinate(sc.y(low) - sc.y(high)), Mark: coordinate(sc.y(mark)),
		Ticks: sc.ticks(), Span: coordinate(plotWidth - plotLeft - plotRight), Middle: coordinate((plotLeft + plotWidth - plotRight) / 2),
	}
	wide := float64(plotWidth-plotLeft-plotRight) / float64(len(all))
	outside := 0
	for i, one := range all {
		pa, out := newPanel(one, sc, plotLeft+float64(i)*wide, wide)
		p.Panels = append(p.Panels, pa)
		outside += out
	}
	p.Desc = inWords(r, all, low, high)
	p.Caption = fmt.Sprintf("Cylinder %s. Up is earlier. Solid line: specified, %s mm before TDC. Grey between dashed lines: tolerance, %s to %s mm. "+
		"Upright line: from the first reading with the points open to the last with them closed. Ring: as found. Filled square: as left. Cross: not used. "+
		"Diamond: the mean, its thick line the interval.", cylinder, number(mark, 2), number(low, 2), number(high, 2))
	if outside > 0 {
		p.Caption += " " + count(outside, "reading that is not used lies", "readings that are not used lie") + " outside the picture."
	}
	return p
}

// inWords says what the picture shows.
func inWords(r session.Report, all []shown, low, high float64) string {
	said := []string{fmt.Sprintf("Specified %s mm before TDC, tolerance %s to %s mm.", number(r.Specified.TravelMM, 2), number(low, 2), number(high, 2))}
	for _, one := range all {
		var used []float64
		for _, p := range one.passes {
			if p.used {
				used = append(used, p.middle)
			}
		}
		phase := one.phase.Phase.Words()
		text := fmt.Sprintf("%s: %s not used.", phase, count(len(one.passes), "reading that is", "readings that are"))
		if len(used) > 0 {
			text = fmt.Sprintf("%s: %s from %s to %s mm", phase, count(len(used), "pass", "passes"), number(slices.Min(used), 3), number(slices.Max(used), 3))
			if one.known {
				text += fmt.Sprintf(", mean %s mm, interval %s to %s mm", number(one.mean, 3), number(one.interval[0], 3), number(one.interval[1], 3))
			}
			text += "."
		}
		said = append(said, text)
	}
	return strings.ToUpper(said[0][:1]) + strings.Join(said, " ")[1:]
}

func newPanel(one shown, sc scale, left, wide float64) (p panel, outside int) {
	p = panel{
		Phase: one.phase.Phase.Words(), Middle: coordinate(left + wide/2), Begin: coordinate(left), Square: one.phase.Phase == logbook.AsLeft,
	}
	slot := (wide - meanWidth) / float64(len(one.passes))
	size := min(markSize, max(leastMark, slot*markPart))
	every := (len(one.passes) + mostNumbers - 1) / mostNumbers
	var beams, marks, crosses strings.Builder
	for i, q := range one.passes {
		x := left + slot*(float64(i)+0.5)
		if i%every == 0 {
			p.Numbers = append(p.Numbers, label{coordinate(x), coordinate(plotBottom + 14), fmt.Sprint(q.n)})
		}
		if !q.used {
			if q.middle < sc.lo || q.middle > sc.hi {
				outside++
				continue
			}
			crosses.WriteString(cross(x, sc.y(q.middle), size))
			continue
		}
		if q.bracket {
			beams.WriteString(beam(x, sc.y(q.closed), sc.y(q.open), size*beamPart*4))
		}
		if p.Square {
			marks.WriteString(square(x, sc.y(q.middle), size*0.8))
		} else {
			marks.WriteString(ring(x, sc.y(q.middle), size*0.8))
		}
	}
	p.Beams, p.Marks, p.Unused = beams.String(), marks.String(), crosses.String()
	if one.known {
		x := left + wide - meanWidth/2
		p.Interval = beam(x, sc.y(one.interval[1]), sc.y(one.interval[0]), markSize+2)
		p.Mean = diamond(x, sc.y(one.mean), markSize+2)
		p.MeanAt = label{coordinate(x), coordinate(plotBottom + 14), "mean"}
	}
	return p, outside
}

// scale is the travel at the lower and at the upper edge [mm before TDC].
type scale struct{ lo, hi float64 }

func (s scale) y(travel float64) float64 {
	return plotBottom - (travel-s.lo)/(s.hi-s.lo)*(plotBottom-plotTop)
}

// ticks are round figures along the scale: the largest step of 1, 2 or 5 times a power of ten that gives enough of them.
func (s scale) ticks() []label {
	step := math.Pow(10, math.Ceil(math.Log10(s.hi-s.lo)))
	for k := 0; (s.hi-s.lo)/step < leastTicks; k++ {
		step /= []float64{2, 2.5, 2}[k%3]
	}
	places := max(0, int(math.Ceil(-math.Log10(step)-1e-9)))
	var out []label
	for k := math.Ceil(s.lo / step); k*step <= s.hi; k++ {
		out = append(out, label{coordinate(plotLeft - 5), coordinate(s.y(k * step)), number(k*step, places)})
	}
	return out
}

func coordinate(x float64) string { return strings.TrimSuffix(fmt.Sprintf("%.1f", x), ".0") }

// The shapes, each a piece of a path around (x, y).

func ring(x, y, r float64) string {
	return fmt.Sprintf("M%.1f %.1fa%.1f %.1f 0 1 0 %.1f 0a%.1f %.1f 0 1 0 %.1f 0z", x-r, y, r, r, 2*r, r, r, -2*r)
}

func square(x, y, r float64) string {
	return fmt.Sprintf("M%.1f %.1fh%.1fv%.1fh%.1fz", x-r, y-r, 2*r, 2*r, -2*r)
}

func diamond(x, y, r float64) string {
	return fmt.Sprintf("M%.1f %.1fl%.1f %.1fl%.1f %.1fl%.1f %.1fz", x-r, y, r, -r, r, r, -r, r)
}

func cross(x, y, r float64) string {
	return fmt.Sprintf("M%.1f %.1fl%.1f %.1fm0 %.1fl%.1f %.1f", x-r, y-r, 2*r, 2*r, -2*r, -2*r, 2*r)
}

// beam is an upright line with a bar at either end.
func beam(x, from, to, r float64) string {
	return fmt.Sprintf("M%.1f %.1fV%.1fM%.1f %.1fh%.1fM%.1f %.1fh%.1f", x, from, to, x-r, from, 2*r, x-r, to, 2*r)
}
