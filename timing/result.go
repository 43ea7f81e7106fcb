package timing

import (
	"fmt"
	"math"
)

// Coverage is the probability with which the intervals of results hold the truth.
const Coverage = 0.95

// Setup is an engine and a dial, as they bear on the reading of a timing. Make one with NewSetup.
type Setup struct {
	Crank  Crank
	Dial   Dial
	Spec   Spec
	Target Target
	kappa  float64 // plunger movement for a degree of crank at the mark [mm]
}

// NewSetup checks that crank, dial and specification fit together: the crank is known, and the dial can show the mark.
func NewSetup(c Crank, d Dial, s Spec) (Setup, error) {
	if err := c.checkKnown(); err != nil {
		return Setup{}, err
	}
	if err := d.Validate(); err != nil {
		return Setup{}, err
	}
	t, err := s.Target(c)
	if err != nil {
		return Setup{}, err
	}
	slope, err := c.Slope(t.Angle)
	if err != nil {
		return Setup{}, err
	}
	out := Setup{Crank: c, Dial: d, Spec: s, Target: t, kappa: slope * d.Ratio()}
	start, err := out.leastStart()
	if err != nil {
		return Setup{}, err
	}
	wanted, err := c.Travel(start)
	if err != nil {
		return Setup{}, err
	}
	// Whoever has to press the dial in further does it once, for the whole approach.
	if err := d.follows(t.Travel, wanted); err != nil {
		return Setup{}, fmt.Errorf("timing: the dial cannot show the mark: %w", err)
	}
	return out, nil
}

// ParseReading reads a dial reading as typed; see the function of that name.
func (s Setup) ParseReading(text string) (Reading, error) {
	r, err := ParseReading(text, s.Dial, s.Target.Travel)
	if err != nil || r.None {
		return r, err
	}
	_, err = s.Travel(r)
	return r, err
}

// Travel returns the piston's travel before top dead centre at the middle of a reading. It is an error when it is beyond
// the stroke.
func (s Setup) Travel(r Reading) (Length, error) {
	travel, err := s.Dial.Travel(r.Mid(), s.Target.Travel)
	if err != nil {
		return 0, err
	}
	if travel > s.Crank.TrueStroke() {
		return 0, fmt.Errorf("timing: reading, got %q, %.2f mm of travel, want 0..%.2f mm (the stroke)", r.Text, travel, s.Crank.TrueStroke())
	}
	return travel, nil
}

// Result is what the passes of one cylinder in one phase say. The measurand is the mean travel at first break over many
// slow forward turns of the engine as it stands, less the specified travel.
type Result struct {
	Travel     Estimate[Length] // mean travel before top dead centre at the opening
	Error      Estimate[Length] // Travel less the specified one; positive = early. Its caveats are those of the result
	ErrorAngle Estimate[Angle]  // the same in degrees of crank
	// Scatter is the standard deviation of single passes [mm of travel]; nil below two passes, which show no repeatability.
	Scatter *Length
	Verdict Verdict
	// InTolerance is the probability that the error lies within the tolerance.
	InTolerance float64
	// Budget lists what makes Travel uncertain [mm]; empty without a pass.
	Budget []Component
	// Late is how late readings taken after stopping were taken to be [mm of travel]: it was added to each of them, and
	// is below 0 where stops lie before the brackets. Measured tells that brackets of the same hand show it; otherwise it is
	// assumed. It is 0 where all passes are brackets.
	Late     Length
	Measured bool

	evidence evidence
}

// When says whether the points open early or late.
func (r Result) When() When { return WhenOf(r.Error.Value) }

// Evaluate works out one Result for each series of readings, in the order given: the passes of one cylinder in one phase
// each, all of one engine and one dial, because what they say of the scatter is pooled. A series may be empty; readings
// that are None are passed over. It is an error when the dial cannot show a reading.
func (s Setup) Evaluate(passes [][]Reading) ([]Result, error) {
	all := make([]series, len(passes))
	for i, readings := range passes {
		var err error
		if all[i], err = newSeries(s.Dial, s.Target.Travel, readings); err != nil {
			return nil, err
		}
	}
	late, spent := lagOf(all, s.kappa), 0.0
	if late.measured {
		spent = 1
	}
	for i := range all {
		all[i].correct(late.late)
	}
	out := make([]Result, len(passes))
	for i := range all {
		kappa, err := s.kappaAt(all[i].mean)
		if err != nil {
			return nil, err
		}
		e := evidence{own: all[i], lag: late, kappa: kappa}
		e.sd, e.df = pooled(all[i], all, kappa, spent)
		if out[i], err = s.result(e); err != nil {
			return nil, err
		}
		out[i].Error.Caveats = append(out[i].Error.Caveats, append(outliers(i, all, e, s.Dial), drift(all[i], late.late, s.Dial)...)...)
	}
	return out, nil
}

// kappaAt returns the plunger movement for a degree of crank where the plunger has moved by y [mm], at least what it is at the
// mark: points that open far before it scatter in angle as others do, and so more in travel.
func (s Setup) kappaAt(y float64) (float64, error) {
	b, err := s.angleAt(Length(y / s.Dial.Ratio()))
	if err != nil {
		return 0, err
	}
	slope, err := s.Crank.Slope(b)
	return max(s.kappa, slope*s.Dial.Ratio()), err
}

func (s Setup) result(e evidence) (Result, error) {
	r := Result{evidence: e}
	n := e.own.n()
	if n == 0 {
		r.Error.Caveats = []Caveat{{"no_pass", "no pass with both an opening and a usable reading; turn through the mark again and read the dial"}}
		return r, nil
	}
	ratio := s.Dial.Ratio()
	r.Budget = e.budget(s.Dial, n, e.df)
	r.Travel = newEstimate(Length(e.own.mean/ratio), r.Budget, n)
	r.Error = r.Travel.less(s.Target.Travel)
	if e.own.stops() > 0 {
		r.Late, r.Measured = Length(e.lag.late/ratio), e.lag.measured
	}
	r.Error.Caveats = s.caveats(r)

	var err error
	if r.ErrorAngle, err = s.inDegrees(r.Travel); err != nil {
		return Result{}, err
	}
	if n > 1 {
		sd := Length(math.Sqrt(e.own.variance) / ratio)
		r.Scatter = &sd
	}
	r.Verdict = Decide(r.Error, s.Target.Low, s.Target.High)
	r.InTolerance = Probability(r.Error, s.Target.Low, s.Target.High)
	return r, nil
}

// angleAt returns the crank angle before top dead centre at a travel; what lies beyond a dead centre counts as that.
func (s Setup) angleAt(travel Length) (Angle, error) {
	return s.Crank.Angle(min(max(travel, 0), s.Crank.TrueStroke()), BTDC)
}

// inDegrees turns a travel into the error of crank angle. The ends of the interval go through the crank too, because
// near top dead centre it is far from even.
func (s Setup) inDegrees(travel Estimate[Length]) (Estimate[Angle], error) {
	e := Estimate[Angle]{Coverage: travel.Coverage, DF: travel.DF, N: travel.N}
	b, err := s.angleAt(travel.Value)
	if err != nil {
		return e, err
	}
	e.Value = b - s.Target.Angle
	for i, l := range travel.Interval {
		end, err := s.angleAt(l)
		if err != nil {
			return e, err
		}
		e.Interval[i] = end - s.Target.Angle
	}
	// As good as u over the slope away from top dead centre, and finite at it.
	e.U = (e.Interval[1] - e.Interval[0]) * Angle(travel.U/(travel.Interval[1]-travel.Interval[0]))
	return e, nil
}

// caveats says what the passes behind a result leave open.
func (s Setup) caveats(r Result) []Caveat {
	var out []Caveat
	own, lag := r.evidence.own, r.evidence.lag
	if own.n() == 1 {
		out = append(out, Caveat{"one_pass", "one pass alone shows no repeatability and never proves the timing in tolerance; make more"})
	}
	if stops := own.stops(); stops > 0 {
		stopped := fmt.Sprintf("%d of %d passes have", stops, own.n())
		switch {
		case own.n() == 1:
			stopped = "the pass has"
		case stops == 1:
			stopped = fmt.Sprintf("1 of %d passes has", own.n())
		}
		done := fmt.Sprintf("%.3f mm was added to each", r.Late)
		if r.Late < 0 {
			done = fmt.Sprintf("%.3f mm was taken off each, because they lie before the brackets, which can only be chance or a slip", -r.Late)
		}
		how := fmt.Sprintf("%s, measured from %d stops against %d brackets of this session", done, lag.stops, lag.bracket)
		code := "read_after_stopping_measured"
		if !lag.measured {
			code = "read_after_stopping"
			how = fmt.Sprintf("it is taken as %.3f mm late, as at a slow creep, and that was added; this is assumed, not measured: "+
				"type last closed / first open, as 2.03/1.98, or in one cylinder make two passes of each kind", r.Late)
		}
		out = append(out, Caveat{code, fmt.Sprintf("%s one reading, taken after stopping: %s", stopped, how)})
	}
	if r.Travel.Interval[0] <= 0 {
		out = append(out, Caveat{"near_tdc", "the points open so near TDC that the dial, which reads alike on both sides, does not tell on which: " +
			"nothing here says that it is before; use a degree wheel"})
	}
	if s.Dial.PlungerAngle != 0 {
		out = append(out, Caveat{"inclined_plunger", fmt.Sprintf(
			"the plunger stands at %g° and the crown is taken as sloping %g°; calibrate with a degree wheel or a dial in a straight hole to be sure of this",
			s.Dial.PlungerAngle, s.Dial.CrownSlope)})
	}
	return out
}
