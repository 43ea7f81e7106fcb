package cli

import (
	"errors"
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"breakcue/timing"
)

// conversion is what convert prints with --json. Nothing in it is rounded; what needs a crank is null without one, and what
// needs an uncertainty without one.
type conversion struct {
	Schema     string  `json:"schema"`
	Value      string  `json:"value"`
	TravelMM   float64 `json:"travel_mm"`
	TravelIn   float64 `json:"travel_in"`
	TravelThou float64 `json:"travel_thou"`
	// AngleDeg is before top dead centre, negative after it.
	AngleDeg *float64 `json:"angle_deg"`
	Slope    *float64 `json:"slope_mm_per_deg"`
	crankMeasures
	uncertainConversion
}

// crankMeasures are a crank's measures, null when it is not known.
type crankMeasures struct {
	StrokeMM     *float64 `json:"stroke_mm"`
	RodMM        *float64 `json:"rod_mm"`
	PinOffsetMM  *float64 `json:"pin_offset_mm"`
	TrueStrokeMM *float64 `json:"true_stroke_mm"`
}

func measuresOf(c timing.Crank) crankMeasures {
	if !c.Known() {
		return crankMeasures{}
	}
	stroke, rod, offset, full := float64(c.Stroke()), float64(c.Rod()), float64(c.PinOffset()), float64(c.TrueStroke())
	return crankMeasures{&stroke, &rod, &offset, &full}
}

// convertFlags are the flags of convert, as typed.
type convertFlags struct {
	crankFlags
	uncertainty string
	json        bool
	table       bool
	wheel       wheelFlags
}

func newConvert(env Env) *cobra.Command {
	var flags convertFlags
	c := &cobra.Command{
		Use:   "convert VALUE",
		Short: "Turn piston travel into crank angle and back, millimetres into inches; print a degree wheel table",
		Long: `Turn piston travel before top dead centre into crank angle and back, exactly, and millimetres into inches.

VALUE is a number with its unit: 2mm, 2,0mm, 0.078in, 78.5thou, 20deg. Angles need a crank: --stroke and --rod, or
--engine with a sheet. --stroke is twice the crank radius; a positive --pin-offset moves top dead centre after the
crank's top position in the direction of rotation.

VALUE, --stroke, --rod and --pin-offset may have an uncertainty, as 2mm±0.02mm or --rod 110±0.5 (+- will do for ±), that of
VALUE also by --uncertainty. It is a standard uncertainty, one standard deviation: where only limits are known, 0.58 of their
distance from the middle. It is carried through the exact crank, near top dead centre too, where a slope would mislead.

--table prints travel for angles from --from to --to.`,
		Example: `  breakcue convert 2mm --stroke 54 --rod 110
  breakcue convert 2mm±0.02mm --stroke 54 --rod 110±0.5
  breakcue convert 20deg --engine twin.toml --json
  breakcue convert --table --stroke 54 --rod 110`,
		Args: func(c *cobra.Command, args []string) error {
			if flags.table {
				return noValue(c, args)
			}
			return oneValue(c, args)
		},
		RunE: func(c *cobra.Command, args []string) error {
			if flags.table {
				return flags.printWheel(env.Out, c.Flags().Changed)
			}
			for _, name := range wheelOnly {
				if c.Flags().Changed(name) {
					return fail(ExitUsage, "add --table, or leave it out", "--%s is only for --table", name)
				}
			}
			out, err := flags.convert(args[0])
			if err != nil {
				return err
			}
			if flags.json {
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
	flags.crankFlags.add(c)
	flags.wheel.add(c)
	f := c.Flags()
	f.StringVar(&flags.uncertainty, "uncertainty", "", "standard uncertainty of VALUE (in its unit unless another is given)")
	f.BoolVar(&flags.table, "table", false, "print a degree wheel table")
	f.BoolVar(&flags.json, "json", false, "print one JSON object, not rounded")
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

// convert works out everything that can be had from a value as typed.
func (f convertFlags) convert(text string) (conversion, error) {
	out := conversion{Schema: "breakcue.convert/1", Value: text}
	crank, crankU, err := f.uncertain()
	if err != nil {
		return out, err
	}
	q, u, err := f.value(text)
	if err != nil {
		return out, err
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
	out.crankMeasures = measuresOf(crank)
	if crank.Known() {
		out.AngleDeg, out.Slope = (*float64)(&angle), &slope
	}
	if u == nil && crankU.Known() {
		return out, nil
	}
	if out.uncertainConversion, err = carried(q, u, travel, angle, crank, crankU); err != nil {
		return out, fail(ExitUsage, "check the uncertainties: each is one standard deviation", "%w", err)
	}
	return out, nil
}

// value reads VALUE and its uncertainty, which is nil when there is none, from VALUE itself or from the flag.
func (f convertFlags) value(text string) (timing.Quantity, *timing.Quantity, error) {
	const hint = "give a number and its unit, as 2mm, 0.078in, 78.5thou or 20deg, or 2mm±0.02mm with its uncertainty"
	q, u, err := timing.ParseUncertain(text)
	if err != nil {
		return q, nil, fail(ExitUsage, hint, "%w", err)
	}
	if q.Unit == timing.NoUnit {
		return q, nil, fail(ExitUsage, hint, "%q has no unit", text)
	}
	_, plainErr := timing.ParseQuantity(text)
	inValue := plainErr != nil
	if f.uncertainty == "" {
		if inValue {
			return q, &u, nil
		}
		return q, nil, nil
	}
	if inValue {
		return q, nil, fail(ExitUsage, "leave out --uncertainty, or what stands after ±", "the uncertainty of VALUE is given twice")
	}
	const hintU = "give it as 0.02mm or 0.1deg: one standard deviation of VALUE"
	if u, err = timing.ParseQuantity(f.uncertainty); err == nil {
		u, err = q.Uncertainty(u)
	}
	if err != nil {
		return q, nil, fail(ExitUsage, hintU, "--uncertainty: %w", err)
	}
	return q, &u, nil
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
		return errors.Join(err, c.uncertainConversion.print(w))
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
	return errors.Join(err, c.uncertainConversion.print(w))
}
