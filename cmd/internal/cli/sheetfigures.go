package cli

import (
	"breakcue/timing"
	"breakcue/timing/sheet"
)

// engineFigures are an engine sheet with its numbers worked out, not rounded.
type engineFigures struct {
	Name         string          `json:"name"`
	Cycle        sheet.Cycle     `json:"cycle"`
	Rotation     timing.Rotation `json:"rotation"`
	Cylinders    []string        `json:"cylinders"`
	StrokeMM     float64         `json:"stroke_mm"` // twice the crank radius
	RodMM        float64         `json:"rod_mm"`
	PinOffsetMM  float64         `json:"pin_offset_mm"`
	TrueStrokeMM float64         `json:"true_stroke_mm"` // the piston's travel between its dead centres
	TDCDeg       float64         `json:"tdc_deg"`        // top dead centre past the crank's top position
	Value        string          `json:"value"`          // as specified
	Tolerance    string          `json:"tolerance"`
	Spread       string          `json:"spread"` // empty when none is specified
	Mark         sheetPlace      `json:"mark"`
	EarlyEnd     sheetPlace      `json:"early_end"` // of the tolerance
	LateEnd      sheetPlace      `json:"late_end"`
	SpreadMM     float64         `json:"spread_mm"` // 0 when none is specified
	SpreadDeg    float64         `json:"spread_deg"`
	SlopeMM      float64         `json:"slope_mm_per_deg"` // of travel at the mark
	Advance      string          `json:"advance"`
	Hold         string          `json:"hold"`     // as in the sheet, like the three that follow; empty when it does not say
	Ignition     string          `json:"ignition"` //
	SourceCoil   string          `json:"source_coil"`
	Coils        []string        `json:"coils"`
	CamRatio     float64         `json:"cam_ratio"`
	CamRotation  timing.Rotation `json:"cam_rotation"`
	GapMM        float64         `json:"gap_mm"`
	Sets         []pointsSet     `json:"sets"`
	PlatePerDeg  float64         `json:"plate_deg_per_crank_deg"`
	// What the plate's rim moves for a degree of crank, and from one end of the tolerance to the other; null without a radius.
	RimPerDeg      *float64 `json:"rim_mm_per_crank_deg"`
	RimTolerance   *float64 `json:"rim_mm_in_tolerance"`
	PlateTolerance float64  `json:"plate_deg_in_tolerance"`
	PlateRadiusMM  float64  `json:"plate_radius_mm"` // 0 when the sheet does not say
	sheet          sheet.Engine
}

// sheetPlace is a place before top dead centre.
type sheetPlace struct {
	TravelMM float64 `json:"travel_mm"`
	AngleDeg float64 `json:"angle_deg"`
}

// pointsSet is a set of points and what it serves.
type pointsSet struct {
	Set       int      `json:"set"` // from 1
	Cylinders []string `json:"cylinders"`
	Coil      string   `json:"coil"` // empty when the sheet does not say
}

// figuresOfEngine works an engine sheet out.
func figuresOfEngine(e sheet.Engine) (*engineFigures, error) {
	c, t, b := e.Crank, e.Target, e.Breaker
	slope, err := c.Slope(t.Angle)
	if err != nil {
		return nil, err
	}
	at := func(travel timing.Length) sheetPlace {
		travel = min(travel, c.TrueStroke())
		angle, e := c.Angle(travel, timing.BTDC)
		if err == nil {
			err = e
		}
		return sheetPlace{float64(travel), float64(angle)}
	}
	out := &engineFigures{
		Name: e.Name, Cycle: e.Cycle, Rotation: e.Rotation, Cylinders: e.Cylinders,
		StrokeMM: float64(c.Stroke()), RodMM: float64(c.Rod()), PinOffsetMM: float64(c.PinOffset()),
		TrueStrokeMM: float64(c.TrueStroke()), TDCDeg: float64(c.TDC()),
		Value: e.Timing.Value.String(), Tolerance: e.Timing.Tolerance.String(),
		Mark: sheetPlace{float64(t.Travel), float64(t.Angle)}, EarlyEnd: at(t.Travel + t.High), LateEnd: at(t.Travel + t.Low),
		SlopeMM: slope, Advance: e.Timing.Advance.String(), Hold: e.Hold, Ignition: string(e.Ignition), SourceCoil: string(e.SourceCoil),
		Coils: append([]string{}, e.Coils...), CamRatio: b.CamRatio, CamRotation: b.Cam, GapMM: float64(b.Gap),
		PlatePerDeg: b.CamRatio, PlateRadiusMM: float64(b.PlateRadius), sheet: e,
	}
	if t.Spread > 0 {
		out.Spread, out.SpreadMM = e.Timing.Spread.String(), float64(t.Spread)
		out.SpreadDeg = at(t.Travel+t.Spread/2).AngleDeg - at(t.Travel-t.Spread/2).AngleDeg
		if e.Timing.Spread.Unit == timing.Degree {
			out.SpreadDeg = e.Timing.Spread.Value // its middle at the mark in degrees, not in travel
		}
	}
	for set := range b.Sets {
		p := pointsSet{Set: set + 1}
		for i := set; i < len(e.Cylinders); i += b.Sets {
			p.Cylinders = append(p.Cylinders, e.Cylinders[i])
		}
		if set < len(e.Coils) {
			p.Coil = e.Coils[set]
		}
		out.Sets = append(out.Sets, p)
	}
	out.PlateTolerance = (out.EarlyEnd.AngleDeg - out.LateEnd.AngleDeg) * b.CamRatio
	if b.PlateRadius > 0 {
		one := float64(b.PlateRadius) * timing.Angle(b.CamRatio).Radians()
		all := float64(b.PlateRadius) * timing.Angle(out.PlateTolerance).Radians()
		out.RimPerDeg, out.RimTolerance = &one, &all
	}
	return out, err
}

// dialFigures are a dial sheet with its numbers worked out, not rounded.
type dialFigures struct {
	Name            string   `json:"name"`
	Unit            string   `json:"unit"`
	GraduationMM    float64  `json:"graduation_mm"`
	PerRevolutionMM float64  `json:"per_revolution_mm"`
	Graduations     int      `json:"graduations"` // in one turn
	RangeMM         float64  `json:"range_mm"`
	Turns           float64  `json:"turns"` // from end to end
	Zeroed          string   `json:"zeroed"`
	Counting        string   `json:"counting"`
	FaceAtZero      string   `json:"face_at_zero"`
	PreloadMM       *float64 `json:"preload_mm"` // null when the sheet does not say
	PlungerAngleDeg float64  `json:"plunger_angle_deg"`
	CrownSlopeDeg   float64  `json:"crown_slope_deg"`
	Ratio           float64  `json:"ratio"` // plunger movement over piston travel
	MaxErrorMM      float64  `json:"max_error_mm"`
	Assumed         bool     `json:"max_error_assumed"` // that of a good dial of its range
	HysteresisMM    float64  `json:"hysteresis_mm"`
	RepeatabilityMM float64  `json:"repeatability_mm"`
	// ErrorWithinMM are the limits of error within a tenth of a turn, half a turn and one turn.
	ErrorWithinMM   [3]float64 `json:"max_error_within_mm"`
	ExtensionGiveMM float64    `json:"extension_give_mm"`
	sheet           sheet.Dial
}

// figuresOfDial works a dial sheet out.
func figuresOfDial(d sheet.Dial) *dialFigures {
	zero := d.Face(0)
	out := &dialFigures{
		Name: d.Name, Unit: d.Unit.String(), GraduationMM: float64(d.Graduation), PerRevolutionMM: float64(d.PerRevolution), Graduations: zero.Turn,
		RangeMM: float64(d.Range), Turns: float64(d.Range / d.PerRevolution), Zeroed: d.Zero.String(), Counting: d.Counting.String(),
		FaceAtZero: zero.String(), PlungerAngleDeg: float64(d.PlungerAngle), CrownSlopeDeg: float64(d.CrownSlope), Ratio: d.Ratio(),
		MaxErrorMM: float64(d.MaxError), Assumed: d.Unchecked, HysteresisMM: float64(d.Hysteresis), RepeatabilityMM: float64(d.Repeatability),
		ExtensionGiveMM: float64(d.ExtensionGive), sheet: d,
	}
	if d.Preload > 0 {
		p := float64(d.Preload)
		out.PreloadMM = &p
	}
	for i, part := range []timing.Length{0.1, 0.5, 1} {
		out.ErrorWithinMM[i] = float64(d.ErrorWithin(part * d.PerRevolution))
	}
	return out
}
