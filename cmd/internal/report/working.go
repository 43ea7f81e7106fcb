package report

import (
	"fmt"
	"math"
	"strings"

	"breakcue/cmd/internal/session"
	"breakcue/timing"
)

// working is how the figures come about, for whoever checks them by hand.
type working struct {
	General []string // what holds for all
	Each    []workedOut
}

// workedOut is the working of one result.
type workedOut struct {
	place
	Lines []string
}

func specification(s session.Sheets, r session.Report) []fact {
	t, crank, dial := r.Specified, s.Setup.Crank, s.Setup.Dial
	ends := [2]float64{t.TravelMM + t.ToleranceMM[0], t.TravelMM + t.ToleranceMM[1]}
	tolerance := fmt.Sprintf("±%s: from %s to %s mm before TDC", t.Tolerance, number(ends[0], 3), number(ends[1], 3))
	if a, b, ok := angles(crank, ends); ok {
		tolerance += fmt.Sprintf(", %s° to %s° of crank", number(a, 2), number(b, 2))
	}
	out := []fact{
		{"Points open", fmt.Sprintf("%s before TDC, which is %s mm of piston travel and %s° of crank", t.Value, number(t.TravelMM, 3), number(t.AngleDeg, 2))},
		{"Tolerance", tolerance},
	}
	if apart := float64(s.Setup.Target.Spread); apart > 0 {
		out = append(out, fact{"Cylinders apart", fmt.Sprintf("at most %s mm", number(apart, 3))})
	}
	out = append(out,
		fact{"Automatic advance", t.Advance},
		fact{"Gap of the points", fmt.Sprintf("%.2f mm (%.1f thou)", s.Engine.Breaker.Gap, s.Engine.Breaker.Gap.Thou())},
		fact{"Crank", fmt.Sprintf("stroke %g mm, rod %g mm between centres, pin offset %g mm", crank.Stroke(), crank.Rod(), crank.PinOffset())},
		fact{"Dial", fmt.Sprintf("graduation %g mm, range %g mm, zeroed at %s", dial.Graduation, dial.Range, zeroedAt(dial))},
	)
	return out
}

func zeroedAt(d timing.Dial) string {
	if d.Zero == timing.ZeroMark {
		return "the specified mark"
	}
	return "top dead centre"
}

func angles(c timing.Crank, travel [2]float64) (a, b float64, ok bool) {
	x, err := c.Angle(timing.Length(travel[0]), timing.BTDC)
	if err != nil {
		return 0, 0, false
	}
	y, err := c.Angle(timing.Length(travel[1]), timing.BTDC)
	return float64(x), float64(y), err == nil
}

// newWorking writes the sums out.
func newWorking(s session.Sheets, r session.Report) working {
	dial, crank := s.Setup.Dial, s.Setup.Crank
	piston := "The dial reads piston travel before TDC directly."
	if dial.Zero == timing.ZeroMark {
		piston = fmt.Sprintf("The dial was zero at the mark: what the plunger moves there, %.3f mm, is added to each reading.", r.Specified.TravelMM*dial.Ratio())
	}
	if ratio := dial.Ratio(); math.Abs(ratio-1) > 1e-9 {
		piston += fmt.Sprintf(" The plunger leans: its movement is divided by %.5f, the cosine of the crown's slope (%g°) over the cosine of what plunger and slope differ by (plunger %g°).",
			ratio, dial.CrownSlope, dial.PlungerAngle)
	}
	rr, l := float64(crank.Stroke())/2, float64(crank.Rod())
	formula := fmt.Sprintf("Travel at the crank angle b before TDC: r (1 − cos b) + l − √(l² − r² sin² b), with r = %g mm (half the stroke) and l = %g mm.", rr, l)
	if e := float64(crank.PinOffset()); e != 0 {
		formula = fmt.Sprintf("Travel at the crank angle b before TDC: h(t) − h(t − b), with h(x) = r cos x + √(l² − (r sin x − e)²), sin t = e / (l + r), "+
			"r = %g mm (half the stroke), l = %g mm and e = %g mm (pin offset).", rr, l, e)
	}
	w := working{General: []string{
		"The travel of a pass is the middle between the last reading with the points closed and the first with them open. " + piston,
		"The result is the mean of the passes that are used, less the specified travel. A reading taken once, after stopping, is late and is corrected first.",
		formula,
		"The standard uncertainty is the root of the sum of the squares of its parts. The interval is not that times a fixed factor: the distributions of the parts are added up whole, as JCGM 101 does.",
		"Figures are rounded only here, so that a sum by hand may be off by one in the last place.",
	}}
	for _, c := range r.Cylinders {
		for _, ph := range c.Phases {
			if ph.ErrorMM != nil {
				w.Each = append(w.Each, workedOut{at(c.Name, ph.Phase), lines(s, r, ph)})
			}
		}
	}
	return w
}

// lines are the sums of one result.
func lines(s session.Sheets, r session.Report, ph session.Phase) []string {
	const most = 12 // passes that are written out
	var sum float64
	var terms []string
	for _, q := range ph.Passes {
		if q.Unused == "" && q.TravelMM != nil {
			sum += *q.TravelMM
			terms = append(terms, number(*q.TravelMM, 3))
		}
	}
	n := float64(len(terms))
	mean, opens, specified := sum/n, travel(r, ph), r.Specified.TravelMM
	long := strings.Join(terms, " + ")
	if len(terms) > most {
		long = fmt.Sprintf("sum of the %d travels used: %s", len(terms), number(sum, 3))
	}
	out := []string{fmt.Sprintf("mean: (%s) / %d = %s mm", long, len(terms), number(mean, 4))}
	if late := opens - mean; math.Abs(late) > 0.00005 { // less does not show in the figures
		word := "added, because readings taken after stopping are late"
		if late < 0 {
			word = "taken off, because the readings taken after stopping lie before the brackets"
		}
		out = append(out, fmt.Sprintf("correction of the mean: %s mm %s; points open at %s mm", number(math.Abs(late), 4), word, number(opens, 4)))
	}
	out = append(out, "error: "+errorMM.to(4).less(opens, specified))
	angle := r.Specified.AngleDeg
	out = append(out, fmt.Sprintf("in degrees of crank: %s mm is %s°; %s", number(opens, 4), number(angle+*ph.ErrorDeg, 3), errorDeg.to(3).less(angle+*ph.ErrorDeg, angle)))
	var squares float64
	for _, c := range ph.Budget {
		squares += c.UMM * c.UMM
	}
	half := (ph.IntervalMM[1] - ph.IntervalMM[0]) / 2
	if u := math.Sqrt(squares); u > 0 {
		out = append(out, fmt.Sprintf("standard uncertainty: √%.7f mm² = %s mm; half the interval, %s mm, is %.2f times that", squares, number(u, 4), number(half, 4), half/u))
	}
	return out
}
