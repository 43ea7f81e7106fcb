package cli

import (
	"fmt"
	"math"

	"breakcue/timing"
)

// tdcResult is what tdc prints with --json, not rounded. What was not asked for is null.
type tdcResult struct {
	Schema string `json:"schema"`
	// Way is what the specification needs, highest or heights; null without an engine sheet.
	Way       *string `json:"way"`
	Specified *string `json:"specified"`
	// TravelMM and AngleDeg are the specified place.
	TravelMM *float64 `json:"travel_mm"`
	AngleDeg *float64 `json:"angle_deg"`
	// RodEffectDeg is how early the timing would be, set as a travel, with a rod 1 mm longer than the crank's.
	RodEffectDeg *float64     `json:"rod_effect_deg_per_mm"`
	Slip         []tdcSlip    `json:"slip"`
	Reversal     *tdcReversal `json:"reversal"`
	Heights      *tdcHeights  `json:"heights"`
	Points       *tdcTop      `json:"points"`

	engine  string // its name, and the words that name crank and dial in a command line, for people
	command string
	crank   timing.Crank
	target  timing.Target
	spec    timing.Spec
	d       timing.Dial
}

// tdcSlip is what a zero set beside top dead centre does to a travel.
type tdcSlip struct {
	OffDeg   float64    `json:"off_deg"`
	MostMM   float64    `json:"most_mm"`
	MeanMM   float64    `json:"mean_mm"`
	UMM      float64    `json:"uncertainty_mm"`
	Interval [2]float64 `json:"interval_mm"`
}

// tdcEstimate is a value with its uncertainty, in the unit that its name in the JSON says.
type tdcEstimate struct {
	Value    float64         `json:"value"`
	U        float64         `json:"uncertainty"`
	Interval [2]float64      `json:"interval"`
	Coverage float64         `json:"coverage"`
	DF       *float64        `json:"degrees_of_freedom"` // null where they are without limit
	N        int             `json:"n"`
	Budget   []tdcComponent  `json:"budget"`
	Caveats  []timing.Caveat `json:"caveats"`
}

type tdcComponent struct {
	Name   string  `json:"name"`
	U      float64 `json:"uncertainty"`
	Remedy string  `json:"remedy"`
}

type tdcReversal struct {
	ReadingMM    tdcEstimate `json:"reading_mm"`
	DifferenceMM *float64    `json:"difference_mm"`
	LeftOpenDeg  float64     `json:"left_open_deg"`

	forwards, backwards int
}

type tdcHeights struct {
	TDCDeg tdcEstimate `json:"tdc_deg"`
	LostMM *float64    `json:"play_mm"`
	Pairs  []tdcPair   `json:"pairs"`
}

type tdcPair struct {
	HeightMM     float64 `json:"height_mm"`
	BeforeDeg    float64 `json:"before_deg"`
	AfterDeg     float64 `json:"after_deg"`
	Turning      string  `json:"turning"`
	MiddleDeg    float64 `json:"middle_deg"`
	PinOffsetDeg float64 `json:"pin_offset_deg"`
	TDCDeg       float64 `json:"tdc_deg"`
}

type tdcTop struct {
	TDCDeg tdcEstimate  `json:"tdc_deg"`
	PeakMM tdcEstimate  `json:"peak_mm"`
	PlayMM *tdcEstimate `json:"play_mm"`
	Points []tdcPoint   `json:"points"`
}

type tdcPoint struct {
	WheelDeg   float64 `json:"wheel_deg"`
	DialMM     float64 `json:"dial_mm"`
	Turning    string  `json:"turning"`
	ResidualMM float64 `json:"residual_mm"`
}

// estimateOf turns an estimate and its budget into what is printed.
func estimateOf[T ~float64](e timing.Estimate[T], budget []timing.Component) tdcEstimate {
	out := tdcEstimate{
		Value: float64(e.Value), U: float64(e.U), Interval: [2]float64{float64(e.Interval[0]), float64(e.Interval[1])},
		Coverage: e.Coverage, N: e.N, Budget: []tdcComponent{}, Caveats: append([]timing.Caveat{}, e.Caveats...),
	}
	if !math.IsInf(e.DF, 1) {
		out.DF = &e.DF
	}
	for _, c := range budget {
		out.Budget = append(out.Budget, tdcComponent{c.Name, c.U, c.Remedy})
	}
	return out
}

// largest returns the part that most of the uncertainty comes from.
func (e tdcEstimate) largest() tdcComponent {
	var top tdcComponent
	for _, c := range e.Budget {
		if c.U > top.U {
			top = c
		}
	}
	return top
}

// seen tells whether anything was measured.
func (r tdcResult) seen() bool { return r.Reversal != nil || r.Heights != nil || r.Points != nil }

// atMark says what an angle is at the specified place, as travel; empty where none is known.
func (r tdcResult) atMark(u float64) string {
	if r.Way == nil {
		return ""
	}
	slope, err := r.crank.Slope(r.target.Angle)
	if err != nil {
		return ""
	}
	return fmt.Sprintf("%.3f mm of travel at the mark", u*slope)
}
