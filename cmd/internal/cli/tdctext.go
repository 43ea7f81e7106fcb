package cli

import (
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"text/tabwriter"

	"breakcue/cmd/internal/pump"
	"breakcue/cmd/internal/session"
	"breakcue/timing"
)

// tdcPage writes the result of tdc for people.
type tdcPage struct {
	tdcResult
	w io.Writer
}

func (r tdcResult) print(w io.Writer) {
	p := tdcPage{r, w}
	p.need()
	if !r.seen() {
		p.why()
		p.how()
	}
	if r.Reversal != nil {
		p.reversal()
	}
	if r.Heights != nil {
		p.heights()
	}
	if r.Points != nil {
		p.points()
	}
}

func (p tdcPage) say(format string, args ...any) {
	fmt.Fprintln(p.w, session.Printable(fmt.Sprintf(format, args...)))
}

// rows writes a table; cells are parted by tabs.
func (p tdcPage) rows(lines ...string) {
	var b strings.Builder
	tw := tabwriter.NewWriter(&b, 0, 0, 2, ' ', 0)
	for _, l := range lines {
		fmt.Fprintln(tw, "  "+l)
	}
	tw.Flush()
	for line := range strings.Lines(b.String()) {
		p.say("%s", strings.TrimRight(line, " \n"))
	}
}

// need says which way the specification needs.
func (p tdcPage) need() {
	switch {
	case p.Way == nil:
		wrapped(p.w, "", "a timing in mm or inches needs the highest reading of the dial: 1° beside TDC the piston is only %.4f mm lower", p.Slip[0].MostMM)
		wrapped(p.w, "", "a timing in degrees, set with a degree wheel, needs equal heights: an error of 1° at TDC is an error of 1°")
	case *p.Way == timing.ByHighest.String():
		p.say("%s: points specified to open %s before TDC", p.engine, p.spec.Value)
		p.say("needed: the highest reading of the dial, because a travel is specified")
	default:
		p.say("%s: points specified to open %s before TDC", p.engine, p.spec.Value)
		p.say("needed: equal heights with a degree wheel, because degrees are specified")
	}
}

// why gives the reason for it in figures.
func (p tdcPage) why() {
	if p.Way == nil {
		return
	}
	beside := "With the dial's zero set beside TDC all travels come out too small, by"
	if *p.Way == timing.ByHighest.String() {
		beside = "Near the top the piston hardly moves. With the zero set beside TDC all travels come out too small, but only by"
	} else {
		early := "early"
		if *p.RodEffectDeg < 0 {
			early = "late"
		}
		p.wrap("A degree wheel whose zero stands 1° beside TDC is 1° wrong everywhere, and at the top the dial does not tell one degree from the next.")
		p.wrap("Or set it with the dial instead, as a travel: with this stroke and rod %s is %.3f mm. Then the highest reading will do; but "+
			"were the rod 1 mm longer than in the sheet, the timing would be %.2f° too %s.", p.spec.Value, *p.TravelMM, math.Abs(*p.RodEffectDeg), early)
	}
	p.wrap("%s", beside)
	slope, err := p.crank.Slope(p.target.Angle)
	for _, s := range p.Slip {
		line := fmt.Sprintf("up to %.4f mm", s.MostMM)
		if err == nil && slope > 0 {
			line += fmt.Sprintf(", %.3f° of crank at the mark", s.MostMM/slope)
		}
		p.say("    %g° beside TDC: %s", s.OffDeg, line)
	}
}

// how says how it is done.
func (p tdcPage) how() {
	if p.Way == nil || *p.Way == timing.ByHighest.String() {
		p.say("")
		p.say("the highest reading")
		p.wrap("Rock the crank over the top and note where the pointer stands and turns round, three times turning forwards and three times " +
			"backwards. Then type, with your readings:")
		one := strconv.FormatFloat(math.Round(float64(p.d.Graduation/p.d.Unit.Length())*1e6)/1e6, 'f', -1, 64)
		p.say(`    breakcue tdc%s --forwards "0 -%s 0" --backwards "%s 0 0"`, p.command, one, one)
	}
	if p.Way == nil || *p.Way == timing.ByHeights.String() {
		p.say("")
		p.say("equal heights")
		low, high := p.example(0.04), p.example(0.1)
		p.wrap("With the wheel on the crank and the dial at zero at the top, turn forwards until the dial reads %g on the way up, and read "+
			"the wheel. Turn on, past the top and well below %g, then back up to %g, and read it again. So the piston comes up both times, "+
			"and play drops out. Do it at two or three heights. Then type, with your readings:", low.at, low.at, low.at)
		p.say(`    breakcue tdc%s --heights "%s; %s"`, p.command, low, high)
	}
}

// exampleHeight is a pair of equal heights that this crank could show, for people to put theirs in its place.
type exampleHeight struct {
	at            float64 // on the dial, in its unit
	before, after float64
}

func (e exampleHeight) String() string {
	return fmt.Sprintf("%g: %.1f %.1f rising", e.at, e.before, e.after)
}

// example returns a height of about the part of the stroke given.
func (p tdcPage) example(part float64) exampleHeight {
	step := 10 * p.d.Graduation
	y := max(step, timing.Length(math.Round(part*float64(p.crank.TrueStroke()/step)))*step)
	travel := min(y/timing.Length(p.d.Ratio()), p.crank.TrueStroke())
	b, _ := p.crank.Angle(travel, timing.BTDC) // within the stroke there is one
	a, _ := p.crank.Angle(travel, timing.ATDC)
	if p.d.Zero == timing.ZeroMark {
		y -= p.target.Travel * timing.Length(p.d.Ratio())
	}
	return exampleHeight{math.Round(float64(y/p.d.Unit.Length())*1e4) / 1e4, 360 - float64(b), float64(a)}
}

// wrap is say for what may need several lines.
func (p tdcPage) wrap(format string, args ...any) { wrapped(p.w, "  ", format, args...) }

// estimate says a value with its interval, then what makes it uncertain, and what must be known of it.
func (p tdcPage) estimate(e tdcEstimate, show func(float64) string, u string) {
	p.wrap("%.0f %% interval %s to %s, standard uncertainty %s", 100*e.Coverage, show(e.Interval[0]), show(e.Interval[1]), u)
	if top := e.largest(); top.Remedy != "" {
		p.wrap("mostly because of %s; what makes it smaller: %s", top.Name, top.Remedy)
	}
}

func (p tdcPage) caveats(e tdcEstimate) {
	for _, c := range e.Caveats {
		p.wrap("note: %s", c.Message)
	}
}

func (p tdcPage) reversal() {
	r := p.Reversal
	e := r.ReadingMM
	p.say("")
	p.say("by the dial's reversal: %s forwards, %d backwards", pump.Count(r.forwards, "reading", "readings"), r.backwards)
	reading := func(x float64) string { return p.d.Format(timing.Length(x)) }
	p.say("  at TDC the dial reads %s (it shows %s)", reading(e.Value), p.d.Face(timing.Length(e.Value)))
	p.estimate(e, reading, fmt.Sprintf("%.4f mm", e.U))
	if r.DifferenceMM != nil {
		p.say("  forwards and backwards differ by %s", reading(math.Abs(*r.DifferenceMM)))
	}
	p.zero(e)
	p.say("  as an angle TDC stays open: over %.1f° to either side the pointer seems to stand", r.LeftOpenDeg)
	p.caveats(e)
}

// zero says whether the dial's zero stands where it should, as far as that is known.
func (p tdcPage) zero(e tdcEstimate) {
	want := timing.Length(0)
	if p.d.Zero == timing.ZeroMark {
		if p.Way == nil {
			return
		}
		want = -p.target.Travel * timing.Length(p.d.Ratio())
	}
	off := timing.Length(e.Value) - want
	if math.Abs(float64(off)) <= max(e.Interval[1]-e.Value, float64(p.d.Graduation)/2) {
		p.say("  the zero stands as well as can be told: TDC should read %s", p.d.Format(want))
		return
	}
	large := "too large"
	if off < 0 {
		large = "too small"
	}
	p.wrap("TDC should read %s: all travels read with this zero come out %s %s; turn the bezel until it shows %s at TDC",
		p.d.Format(want), p.d.Format(timing.Length(math.Abs(float64(off)))), large, p.d.Face(want))
}

// wheelText shows a place on the wheel.
func wheelText(x float64) string {
	x = math.Mod(x, 360)
	if x < -0.005 {
		x += 360
	}
	if x >= 359.995 {
		x = 0
	}
	return fmt.Sprintf("%.2f°", math.Abs(x))
}

func (p tdcPage) heights() {
	h := p.Heights
	p.say("")
	p.say("by equal heights")
	lines := []string{"height\tturning\tbefore\tafter\tmiddle\tpin offset\tTDC"}
	for _, q := range h.Pairs {
		lines = append(lines, fmt.Sprintf("%s\t%s\t%s\t%s\t%s\t%.3f°\t%s", p.d.Format(timing.Length(q.HeightMM)), q.Turning,
			wheelText(q.BeforeDeg), wheelText(q.AfterDeg), wheelText(q.MiddleDeg), q.PinOffsetDeg, wheelText(q.TDCDeg)))
	}
	p.rows(lines...)
	p.wheel(h.TDCDeg)
	if h.LostMM != nil {
		p.say("  play between crank and piston, found from both ways of turning: about %s", p.d.Format(timing.Length(math.Abs(*h.LostMM))))
	}
	p.caveats(h.TDCDeg)
}

// wheel says where top dead centre is on the wheel.
func (p tdcPage) wheel(e tdcEstimate) {
	p.say("  TDC is at %s on the wheel", wheelText(e.Value))
	u := fmt.Sprintf("%.3f°", e.U)
	if travel := p.atMark(e.U); travel != "" {
		u += " (" + travel + ")"
	}
	p.estimate(e, wheelText, u)
}

func (p tdcPage) points() {
	t := p.Points
	p.say("")
	p.say("by the curve of the crank through %d points", len(t.Points))
	lines := []string{"wheel\tdial\tturning\toff the curve"}
	for _, q := range t.Points {
		off := p.d.Format(timing.Length(math.Abs(q.ResidualMM)))
		if q.ResidualMM < 0 {
			off += " higher"
		} else {
			off += " lower"
		}
		lines = append(lines, fmt.Sprintf("%s\t%s\t%s\t%s", wheelText(q.WheelDeg), p.d.Format(timing.Length(q.DialMM)), q.Turning, off))
	}
	p.rows(lines...)
	p.wheel(t.TDCDeg)
	p.say("  at TDC the dial reads %s", p.d.Format(timing.Length(t.PeakMM.Value)))
	if t.PlayMM != nil {
		p.say("  play between crank and piston: about %s", p.d.Format(timing.Length(math.Abs(t.PlayMM.Value))))
	}
	p.caveats(t.TDCDeg)
}
