package cli

import (
	"bytes"
	"errors"
	"io"
	"os"

	"github.com/spf13/cobra"

	"breakcue/timing"
	"breakcue/timing/sheet"
)

// tdcFlags are the flags of tdc, as typed.
type tdcFlags struct {
	crankFlags
	dial                                  string
	forwards, backwards, heights, pointsF string
	step                                  string
	falls                                 bool
	json                                  bool
}

func newTDC(env Env) *cobra.Command {
	var f tdcFlags
	c := &cobra.Command{
		Use:   "tdc",
		Short: "Find top dead centre by the dial or by equal heights, and tell which one the specification needs",
		Long: `Find top dead centre (TDC), with its uncertainty, and tell which way of finding it the specification needs.

By itself it tells what is needed, why, and how it is done. Then it takes what was read:

  --forwards LIST, --backwards LIST
      readings of the dial where its pointer stands and turns round, the crank
      rocked over the top forwards and backwards. Good for a timing specified as
      travel.
  --heights "HEIGHT: BEFORE AFTER; ..."
      a degree wheel read at the same height on the dial before and after TDC.
      Good for degrees. Behind AFTER stands how the crank was turned up to the
      readings: "forwards" (when left out), "backwards", or best "rising": the
      piston coming up to both, so forwards before TDC and backwards after it.
      Then play and hysteresis drop out.
  --points FILE
      wheel and dial read together, a point a line, at any four or more places
      on both sides of TDC, each with its way of turning as above. The exact
      curve of the crank is fitted to them.

Dial readings say how far the piston stands below the dial's zero, as 0.37, or counter and pointer, as 0+37. For --heights
the zero must stand where the dial sheet says (without a sheet, at the highest reading). The wheel must sit on the crank
itself, and its figures may run either way; where they fall as the engine turns forwards --points needs --wheel-falls.`,
		Example: `  breakcue tdc --engine twin.toml
  breakcue tdc --engine twin.toml --dial dial.toml --forwards "0.00 -0.01 0.00" --backwards "0.01 0.00 0.00"
  breakcue tdc --stroke 54 --rod 110 --heights "2.00: 340.1 20.0 rising; 5.00: 327.9 32.2 rising"`,
		Args: exactArgs(0, "no argument"),
		RunE: func(c *cobra.Command, _ []string) error {
			out, err := f.find(env)
			if err != nil {
				return err
			}
			if f.json {
				return printJSON(env.Out, out)
			}
			var page bytes.Buffer
			out.print(&page)
			_, err = page.WriteTo(env.Out)
			return err
		},
	}
	f.add(c)
	flags := c.Flags()
	flags.StringVar(&f.dial, "dial", "", "dial sheet (default: a good 10 mm dial in a straight hole)")
	flags.StringVar(&f.forwards, "forwards", "", "readings where the pointer turned round, turning forwards")
	flags.StringVar(&f.backwards, "backwards", "", "the same, turning backwards")
	flags.StringVar(&f.heights, "heights", "", "pairs of equal heights, parted by semicolons")
	flags.StringVar(&f.pointsF, "points", "", "file of points, or - for standard input")
	flags.StringVar(&f.step, "wheel-step", "", "what the degree wheel can be read to, in degrees (default: what the readings need)")
	flags.BoolVar(&f.falls, "wheel-falls", false, "the wheel's figures fall as the engine turns forwards (only for --points)")
	flags.BoolVar(&f.json, "json", false, "print one JSON object, not rounded")
	return c
}

// find works out everything that was asked for.
func (f tdcFlags) find(env Env) (tdcResult, error) {
	out := tdcResult{Schema: "breakcue.tdc/1", d: timing.NewDial(10)}
	crank, err := f.crank()
	if err != nil {
		return out, err
	}
	if !crank.Known() {
		return out, fail(ExitUsage, "add --engine SHEET, or --stroke and --rod", "tdc needs a crank")
	}
	out.crank, out.command = crank, f.again()
	if f.dial != "" {
		d, err := sheet.LoadDial(f.dial)
		if err != nil {
			return out, fail(ExitFailed, "correct the dial sheet and try again", "%w", err)
		}
		out.d = d.Dial
	}
	if err := out.need(f); err != nil {
		return out, err
	}
	step, err := f.wheelStep()
	if err != nil {
		return out, err
	}
	if f.falls && f.pointsF == "" {
		return out, fail(ExitUsage, "leave it out; with --heights the order of the two readings tells", "--wheel-falls is only for --points")
	}
	if err := out.reversal(f); err != nil {
		return out, err
	}
	if err := out.heights(f, step); err != nil {
		return out, err
	}
	return out, out.points(env, f, step)
}

// again returns the flags that name crank and dial, as they are typed once more.
func (f tdcFlags) again() string {
	var out string
	for _, flag := range []struct{ name, value string }{
		{"engine", f.engine}, {"stroke", f.stroke}, {"rod", f.rod}, {"pin-offset", f.pinOffset}, {"dial", f.dial},
	} {
		if flag.value != "" {
			out += " --" + flag.name + " " + shellWord(flag.value)
		}
	}
	return out
}

// need fills in what the specification needs, and what a slip of the zero does.
func (r *tdcResult) need(f tdcFlags) error {
	for _, off := range []timing.Angle{1, 2, 3} {
		s, err := r.crank.ZeroSlip(off)
		if err != nil {
			return fail(ExitUsage, "check the crank", "%w", err)
		}
		r.Slip = append(r.Slip, tdcSlip{float64(off), float64(s.Most), float64(s.Mean), float64(s.U), [2]float64{float64(s.Interval[0]), float64(s.Interval[1])}})
	}
	if f.engine == "" {
		return nil
	}
	e, err := sheet.LoadEngine(f.engine)
	if err != nil {
		return fail(ExitFailed, "correct the engine sheet and try again", "%w", err)
	}
	r.engine, r.spec, r.target = e.Name, e.Timing, e.Target
	way, specified := e.Timing.TDCWay().String(), e.Timing.Value.String()
	travel, angle := float64(e.Target.Travel), float64(e.Target.Angle)
	r.Way, r.Specified, r.TravelMM, r.AngleDeg = &way, &specified, &travel, &angle
	if e.Timing.TDCWay() == timing.ByHeights {
		off, err := r.crank.RodEffect(e.Target.Angle, 1)
		if err != nil {
			return fail(ExitFailed, "check the engine sheet", "%w", err)
		}
		r.RodEffectDeg = (*float64)(&off)
	}
	return nil
}

func (f tdcFlags) wheelStep() (timing.Angle, error) {
	if f.step == "" {
		return 0, nil
	}
	const hint = "give it in degrees, as 0.5"
	q, err := timing.ParseQuantity(f.step)
	if err != nil {
		return 0, fail(ExitUsage, hint, "--wheel-step: %w", err)
	}
	a, err := q.Angle(timing.Degree)
	if err != nil {
		return 0, fail(ExitUsage, hint, "--wheel-step: %w", err)
	}
	if !(a > 0 && a <= 5) {
		return 0, fail(ExitUsage, hint, "--wheel-step, got %s, want more than 0, up to 5°", q)
	}
	return a, nil
}

func (r *tdcResult) reversal(f tdcFlags) error {
	if f.forwards == "" && f.backwards == "" {
		return nil
	}
	const hint = `give readings with spaces between them, as --forwards "0.00 -0.01 0.00" --backwards "0.01 0.00 0.00"`
	forwards, err := r.d.ParseDistances(f.forwards)
	if err != nil {
		return fail(ExitUsage, hint, "--forwards: %w", err)
	}
	backwards, err := r.d.ParseDistances(f.backwards)
	if err != nil {
		return fail(ExitUsage, hint, "--backwards: %w", err)
	}
	rev, err := timing.FindReversal(r.crank, r.d, forwards, backwards)
	if err != nil {
		return fail(ExitUsage, hint, "%w", err)
	}
	r.Reversal = &tdcReversal{
		ReadingMM: estimateOf(rev.Reading, rev.Budget), DifferenceMM: (*float64)(rev.Difference), LeftOpenDeg: float64(rev.LeftOpen),
		forwards: len(forwards), backwards: len(backwards),
	}
	return nil
}

func (r *tdcResult) heights(f tdcFlags, step timing.Angle) error {
	if f.heights == "" {
		return nil
	}
	const hint = `give pairs as --heights "2.00: 340.1 20.0 rising; 5.00: 327.9 32.2 rising", the reading before TDC first`
	pairs, err := r.d.ParseHeights(f.heights)
	if err != nil {
		return fail(ExitUsage, hint, "--heights: %w", err)
	}
	if r.d.Zero == timing.ZeroMark {
		if r.Way == nil {
			return fail(ExitUsage, "add --engine SHEET", "a dial zeroed at the mark shows no height from TDC without an engine sheet")
		}
		for i := range pairs {
			pairs[i].Height += r.target.Travel * timing.Length(r.d.Ratio())
		}
	}
	h, err := timing.FindHeights(r.crank, r.d, pairs, step)
	if err != nil {
		return fail(ExitUsage, hint, "%w", err)
	}
	r.Heights = &tdcHeights{TDCDeg: estimateOf(h.TDC, h.Budget), LostMM: (*float64)(h.Lost)}
	for i, p := range pairs {
		one := h.Pairs[i]
		r.Heights.Pairs = append(r.Heights.Pairs, tdcPair{
			HeightMM: float64(p.Height), BeforeDeg: float64(p.Before), AfterDeg: float64(p.After), Turning: p.Turning.String(),
			MiddleDeg: float64(one.Middle), PinOffsetDeg: float64(one.PinOffset), TDCDeg: float64(one.TDC),
		})
	}
	return nil
}

// maxPoints is the largest file of points taken [bytes].
const maxPoints = 1 << 20

func (r *tdcResult) points(env Env, f tdcFlags, step timing.Angle) error {
	if f.pointsF == "" {
		return nil
	}
	in := env.In
	if f.pointsF != "-" {
		file, err := os.Open(f.pointsF)
		if err != nil {
			return fail(ExitFailed, "check the name given by --points", "%w", err)
		}
		defer file.Close()
		in = file
	}
	text, err := io.ReadAll(io.LimitReader(in, maxPoints+1))
	if err == nil && len(text) > maxPoints {
		err = errors.New("more than 1 MB, which is no list of points")
	}
	if err != nil {
		return fail(ExitFailed, "check the name given by --points", "%s: %w", f.pointsF, err)
	}
	const hint = `write a point a line, wheel and dial, as "351.5 0.37 rising", four or more, on both sides of TDC`
	points, err := r.d.ParsePoints(string(text))
	if err != nil {
		return fail(ExitUsage, hint, "%s: %w", f.pointsF, err)
	}
	top, err := timing.FitTop(r.crank, r.d, points, f.falls, step)
	if err != nil {
		return fail(ExitUsage, hint, "%s: %w", f.pointsF, err)
	}
	r.Points = &tdcTop{TDCDeg: estimateOf(top.TDC, top.Budget), PeakMM: estimateOf(top.Peak, nil)}
	if top.Lost != nil {
		play := estimateOf(*top.Lost, nil)
		r.Points.PlayMM = &play
	}
	for i, p := range points {
		r.Points.Points = append(r.Points.Points, tdcPoint{float64(p.Wheel), float64(p.Dial), p.Turning.String(), float64(top.Residuals[i])})
	}
	return nil
}
