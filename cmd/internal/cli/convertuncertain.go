package cli

import (
	"fmt"
	"io"
	"strings"

	"breakcue/timing"
)

// uncertainConversion is the uncertainty of a conversion: standard uncertainties, the intervals that hold the truth with the
// probability Coverage, and what each input brings to the figure that was worked out. All are null when no uncertainty was given,
// those of the angle without a crank, too.
type uncertainConversion struct {
	TravelUMM      *float64    `json:"travel_uncertainty_mm"`
	TravelUIn      *float64    `json:"travel_uncertainty_in"`
	TravelUThou    *float64    `json:"travel_uncertainty_thou"`
	TravelInterval *[2]float64 `json:"travel_interval_mm"`
	AngleUDeg      *float64    `json:"angle_uncertainty_deg"`
	AngleInterval  *[2]float64 `json:"angle_interval_deg"`
	Coverage       *float64    `json:"coverage"`
	Parts          []uPart     `json:"uncertainty_parts"`
}

// uPart is what one input brings to the uncertainty of what was worked out.
type uPart struct {
	Name string  `json:"name"`
	U    float64 `json:"uncertainty"`
	Unit string  `json:"unit"`
}

// carried works out the uncertainty of a conversion. u is that of the value, nil when only the crank has one.
func carried(q timing.Quantity, u *timing.Quantity, travel timing.Length, angle timing.Angle, crank timing.Crank, crankU timing.CrankU) (uncertainConversion, error) {
	if u == nil {
		u = &timing.Quantity{Unit: q.Unit}
	}
	var out uncertainConversion
	coverage := timing.Coverage
	out.Coverage = &coverage
	if q.Unit == timing.Degree {
		own := timing.Angle(u.Value)
		t, err := crank.CarryAngle(angle, own, crankU)
		if err != nil {
			return out, err
		}
		out.travel(t.U, t.Interval)
		out.angle(own, timing.NormalInterval(angle, own))
		out.Parts = parts(t.Parts, "mm")
		return out, nil
	}
	own, err := u.Length(timing.NoUnit)
	if err != nil {
		return out, err
	}
	interval := timing.NormalInterval(travel, own)
	interval[0] = max(0, interval[0])
	if crank.Known() {
		interval[1] = min(interval[1], max(travel, crank.TrueStroke()))
		b, err := crank.CarryTravel(travel, own, timing.BTDC, crankU)
		if err != nil {
			return out, err
		}
		out.angle(b.U, b.Interval)
		out.Parts = parts(b.Parts, "deg")
	}
	out.travel(own, interval)
	return out, nil
}

func (c *uncertainConversion) travel(u timing.Length, interval [2]timing.Length) {
	mm, in, thou := float64(u), u.Inches(), u.Thou()
	c.TravelUMM, c.TravelUIn, c.TravelUThou = &mm, &in, &thou
	c.TravelInterval = &[2]float64{float64(interval[0]), float64(interval[1])}
}

func (c *uncertainConversion) angle(u timing.Angle, interval [2]timing.Angle) {
	c.AngleUDeg = (*float64)(&u)
	c.AngleInterval = &[2]float64{float64(interval[0]), float64(interval[1])}
}

func parts[T ~float64](from []timing.Part[T], unit string) []uPart {
	out := []uPart{}
	for _, p := range from {
		out = append(out, uPart{p.Name, float64(p.U), unit})
	}
	return out
}

// print writes the uncertainty for people, rounded; nothing where there is none.
func (c uncertainConversion) print(w io.Writer) error {
	if c.Coverage == nil {
		return nil
	}
	percent := 100 * *c.Coverage
	if *c.TravelUMM > 0 {
		if _, err := fmt.Fprintf(w, "standard uncertainty of the travel %.4f mm = %.5f in = %.2f thou,\n  %.0f %% interval %.4f mm to %.4f mm\n",
			*c.TravelUMM, *c.TravelUIn, *c.TravelUThou, percent, c.TravelInterval[0], c.TravelInterval[1]); err != nil {
			return err
		}
	}
	if c.AngleUDeg != nil && *c.AngleUDeg > 0 {
		if _, err := fmt.Fprintf(w, "standard uncertainty of the angle %.3f° of crank,\n  %.0f %% interval %s\n",
			*c.AngleUDeg, percent, sides(*c.AngleInterval)); err != nil {
			return err
		}
	}
	if len(c.Parts) < 2 {
		return nil
	}
	var from []string
	for _, p := range c.Parts {
		if p.Unit == "deg" {
			from = append(from, fmt.Sprintf("%s %.3f°", p.Name, p.U))
		} else {
			from = append(from, fmt.Sprintf("%s %.4f mm", p.Name, p.U))
		}
	}
	_, err := fmt.Fprintf(w, "of which    %s (added as squares)\n", strings.Join(from, ", "))
	return err
}

// sides writes a range of angles before top dead centre, in rising order, without a sign.
func sides(a [2]float64) string {
	switch {
	case a[0] >= 0:
		return fmt.Sprintf("%.3f° to %.3f° before top dead centre", a[0], a[1])
	case a[1] <= 0:
		return fmt.Sprintf("%.3f° to %.3f° after top dead centre", -a[1], -a[0])
	}
	return fmt.Sprintf("%.3f° after to %.3f° before top dead centre", -a[0], a[1])
}
