package cli

import (
	"errors"
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"breakcue/timing"
	"breakcue/timing/sheet"
)

// conversion is what convert prints with --json. Nothing in it is rounded; what needs a crank is null without one.
type conversion struct {
	Schema       string   `json:"schema"`
	Value        string   `json:"value"`
	TravelMM     float64  `json:"travel_mm"`
	TravelIn     float64  `json:"travel_in"`
	TravelThou   float64  `json:"travel_thou"`
	AngleDeg     *float64 `json:"angle_deg"`
	Slope        *float64 `json:"slope_mm_per_deg"`
	StrokeMM     *float64 `json:"stroke_mm"`
	RodMM        *float64 `json:"rod_mm"`
	PinOffsetMM  *float64 `json:"pin_offset_mm"`
	TrueStrokeMM *float64 `json:"true_stroke_mm"`
}

// crankFlags are the flags that give a crank, as typed.
type crankFlags struct{ engine, stroke, rod, pinOffset string }

func newConvert(env Env) *cobra.Command {
	var flags crankFlags
	var asJSON bool
	c := &cobra.Command{
		Use:   "convert VALUE",
		Short: "Turn piston travel into crank angle and back, millimetres into inches",
		Long: `Turn piston travel before top dead centre into crank angle and back, exactly, and millimetres into inches.

VALUE is a number with its unit: 2mm, 2,0mm, 0.078in, 78.5thou, 20deg. Angles need a crank: --stroke and --rod, or
--engine with a sheet. --stroke is twice the crank radius; a positive --pin-offset moves top dead centre after the
crank's top position in the direction of rotation.`,
		Example: `  breakcue convert 2mm --stroke 54 --rod 110
  breakcue convert 20deg --engine twin.toml --json`,
		Args: oneValue,
		RunE: func(c *cobra.Command, args []string) error {
			crank, err := flags.crank()
			if err != nil {
				return err
			}
			out, err := convert(args[0], crank)
			if err != nil {
				return err
			}
			if asJSON {
				return printJSON(env.Out, out)
			}
			return out.print(env.Out)
		},
	}
	c.SetFlagErrorFunc(func(c *cobra.Command, err error) error {
		var unknown *pflag.NotExistError
		if errors.As(err, &unknown) && strings.IndexAny(unknown.GetSpecifiedShortnames(), "0123456789.,") == 0 {
			return fail(ExitUsage, "put -- before a value with a minus sign, as in 'breakcue convert --stroke 54 --rod 110 -- -20deg'; "+
				"only angles have one, after top dead centre", "-%s looks like a flag", unknown.GetSpecifiedShortnames())
		}
		return c.Parent().FlagErrorFunc()(c, err)
	})
	f := c.Flags()
	f.StringVar(&flags.stroke, "stroke", "", "stroke, twice the crank radius (mm unless a unit is given)")
	f.StringVar(&flags.rod, "rod", "", "rod length between centres (mm unless a unit is given)")
	f.StringVar(&flags.pinOffset, "pin-offset", "", "offset of the piston pin (mm unless a unit is given)")
	f.StringVar(&flags.engine, "engine", "", "engine sheet to take the crank from")
	f.BoolVar(&asJSON, "json", false, "print one JSON object, not rounded")
	return c
}

// oneValue is exactArgs for one VALUE; a number and its unit typed apart are told so.
func oneValue(c *cobra.Command, args []string) error {
	if len(args) == 2 {
		joined := args[0] + args[1]
		if q, err := timing.ParseQuantity(joined); err == nil && q.Unit != timing.NoUnit {
			return fail(ExitUsage, "write "+joined+", without a space", "%s needs one VALUE, got a number and a unit apart", c.CommandPath())
		}
	}
	return exactArgs(1, "one VALUE")(c, args)
}

// crank returns the crank that the flags give, or the unknown one when there are none.
func (f crankFlags) crank() (timing.Crank, error) {
	typed := f.stroke + f.rod + f.pinOffset
	switch {
	case f.engine != "" && typed != "":
		return timing.Crank{}, fail(ExitUsage, "leave out --stroke, --rod and --pin-offset, or --engine", "the crank is given twice")
	case f.engine != "":
		e, err := sheet.LoadEngine(f.engine)
		if err != nil {
			return timing.Crank{}, fail(ExitFailed, "correct the engine sheet and try again", "%w", err)
		}
		return e.Crank, nil
	case typed == "":
		return timing.Crank{}, nil
	case f.stroke == "" || f.rod == "":
		return timing.Crank{}, fail(ExitUsage, "give both, as --stroke 54 --rod 110", "a crank needs --stroke and --rod")
	}
	var lengths [3]timing.Length
	for i, flag := range []struct{ name, text string }{{"--stroke", f.stroke}, {"--rod", f.rod}, {"--pin-offset", f.pinOffset}} {
		if flag.text == "" {
			continue
		}
		q, err := timing.ParseQuantity(flag.text)
		if err == nil {
			lengths[i], err = q.Length(timing.Millimetre)
		}
		if err != nil {
			return timing.Crank{}, fail(ExitUsage, "give it as 54, 54mm or 2.125in", "%s: %w", flag.name, err)
		}
	}
	crank, err := timing.NewCrank(lengths[0], lengths[1], lengths[2])
	if err != nil {
		return timing.Crank{}, fail(ExitUsage, "check --stroke, --rod and --pin-offset: the stroke is twice the crank radius, "+
			"the rod is measured between centres", "%w", err)
	}
	return crank, nil
}

// convert works out everything that can be had from a value as typed.
func convert(text string, crank timing.Crank) (conversion, error) {
	out := conversion{Schema: "breakcue.convert/1", Value: text}
	const hint = "give a number and its unit, as 2mm, 0.078in, 78.5thou or 20deg"
	q, err := timing.ParseQuantity(text)
	if err != nil {
		return out, fail(ExitUsage, hint, "%w", err)
	}
	if q.Unit == timing.NoUnit {
		return out, fail(ExitUsage, hint, "%q has no unit", text)
	}
	if q.Unit == timing.Degree && !crank.Known() {
		return out, fail(ExitUsage, "add --stroke and --rod, or --engine SHEET", "an angle needs a crank to become a travel")
	}
	if q.Unit != timing.Degree && q.Value < 0 {
		return out, fail(ExitUsage, "leave out the minus sign; only angles have one, after top dead centre",
			"travel, got %s, want 0 or more: it is how far the piston stands below its top", q)
	}
	travel, angle, slope, err := solve(q, crank)
	if err != nil {
		return out, fail(ExitUsage, "give a value that this crank can reach", "%w", err)
	}
	out.TravelMM, out.TravelIn, out.TravelThou = float64(travel), travel.Inches(), travel.Thou()
	if crank.Known() {
		stroke, rod, offset, full := float64(crank.Stroke()), float64(crank.Rod()), float64(crank.PinOffset()), float64(crank.TrueStroke())
		out.AngleDeg, out.Slope = (*float64)(&angle), &slope
		out.StrokeMM, out.RodMM, out.PinOffsetMM, out.TrueStrokeMM = &stroke, &rod, &offset, &full
	}
	return out, nil
}

// solve returns travel, angle before top dead centre and slope [mm/degree] for a value; without a crank, travel alone.
func solve(q timing.Quantity, crank timing.Crank) (travel timing.Length, angle timing.Angle, slope float64, err error) {
	if q.Unit == timing.Degree {
		angle = timing.Angle(q.Value)
		travel, err = crank.Travel(angle)
	} else {
		travel, err = q.Length(timing.NoUnit)
		travel = max(0, travel) // no minus sign before a zero
		if err == nil && crank.Known() {
			angle, err = crank.Angle(travel, timing.BTDC)
		}
	}
	if err == nil && crank.Known() {
		slope, err = crank.Slope(angle)
	}
	return travel, angle, slope, err
}

// print writes the conversion for people, rounded.
func (c conversion) print(w io.Writer) error {
	if c.AngleDeg == nil {
		_, err := fmt.Fprintf(w, "%.4f mm = %.5f in = %.2f thou\n", c.TravelMM, c.TravelIn, c.TravelThou)
		return err
	}
	where, angle := "before", *c.AngleDeg
	if angle < 0 {
		where, angle = "after", -angle
	}
	_, err := fmt.Fprintf(w, "travel      %.4f mm = %.5f in = %.2f thou below top dead centre\n"+
		"angle       %.3f° of crank %s top dead centre\n"+
		"slope       %.4f mm per degree\n"+
		"true stroke %.4f mm\n",
		c.TravelMM, c.TravelIn, c.TravelThou, angle, where, *c.Slope, *c.TrueStrokeMM)
	return err
}
