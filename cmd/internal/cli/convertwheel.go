package cli

import (
	"fmt"
	"io"
	"math"

	"github.com/spf13/cobra"

	"breakcue/timing"
)

// wheel is what convert --table prints with --json.
type wheel struct {
	Schema string `json:"schema"`
	crankMeasures
	Rows []wheelRow `json:"rows"`
}

// wheelRow is the piston's travel at an angle before top dead centre, and as far after it, which is another one when the piston pin
// is offset.
type wheelRow struct {
	AngleDeg        float64 `json:"angle_deg"`
	TravelMM        float64 `json:"travel_mm"`
	TravelIn        float64 `json:"travel_in"`
	TravelThou      float64 `json:"travel_thou"`
	AfterTravelMM   float64 `json:"after_travel_mm"`
	AfterTravelIn   float64 `json:"after_travel_in"`
	AfterTravelThou float64 `json:"after_travel_thou"`
}

// wheelFlags say which rows a table has, as typed.
type wheelFlags struct{ from, to, step string }

// wheelOnly names the flags that only a table takes.
var wheelOnly = []string{"from", "to", "step"}

// maxRows is the most rows that a table may have.
const maxRows = 2000

func (f *wheelFlags) add(c *cobra.Command) {
	c.Flags().StringVar(&f.from, "from", "0", "first angle of the table, degrees from top dead centre")
	c.Flags().StringVar(&f.to, "to", "40", "last angle of the table, degrees from top dead centre")
	c.Flags().StringVar(&f.step, "step", "1", "degrees from row to row of the table")
}

func noValue(c *cobra.Command, args []string) error {
	if len(args) > 0 {
		return fail(ExitUsage, "leave out VALUE, or --table; --from, --to and --step say which rows it has", "--table takes no VALUE, got %q", args[0])
	}
	return nil
}

// printWheel prints a degree wheel table.
func (f convertFlags) printWheel(w io.Writer, changed func(flag string) bool) error {
	if changed("uncertainty") {
		return fail(ExitUsage, "leave out --uncertainty", "a table has no uncertainty of a VALUE")
	}
	crank, err := f.crank()
	if err != nil {
		return err
	}
	if !crank.Known() {
		return fail(ExitUsage, "add --stroke and --rod, or --engine SHEET", "a table of degrees needs a crank")
	}
	angles, err := f.wheel.angles(crank)
	if err != nil {
		return err
	}
	out := wheel{Schema: "breakcue.convert-table/1", crankMeasures: measuresOf(crank)}
	for _, b := range angles {
		before, err := crank.Travel(b)
		if err != nil {
			return err
		}
		after, err := crank.Travel(-b)
		if err != nil {
			return err
		}
		out.Rows = append(out.Rows, wheelRow{
			float64(b), float64(before), before.Inches(), before.Thou(), float64(after), after.Inches(), after.Thou(),
		})
	}
	if f.json {
		return printJSON(w, out)
	}
	return out.print(w)
}

// angles returns the angles of the rows, from the first in equal steps to the last that is not beyond the end.
func (f wheelFlags) angles(c timing.Crank) ([]timing.Angle, error) {
	var v [3]float64
	for i, flag := range []struct{ name, text string }{{"--from", f.from}, {"--to", f.to}, {"--step", f.step}} {
		q, err := timing.ParseQuantity(flag.text)
		if err == nil {
			var a timing.Angle
			a, err = q.Angle(timing.Degree)
			v[i] = float64(a)
		}
		if err != nil {
			return nil, fail(ExitUsage, "give degrees, as 20 or 20deg", "%s: %w", flag.name, err)
		}
	}
	from, to, step := v[0], v[1], v[2]
	before, after := c.Limits()
	most := math.Floor(float64(min(before, after))*1e4) / 1e4
	switch {
	case !(from >= 0 && to <= most && from <= to):
		return nil, fail(ExitUsage, "give --from and --to in degrees from top dead centre, without a sign: the table holds for both sides",
			"table, got %g°..%g°, want a range in 0..%.4f°", from, to, most)
	case !(step > 0):
		return nil, fail(ExitUsage, "give a step such as 1 or 0.5", "--step, got %g°, want more than 0", step)
	case (to-from)/step >= maxRows:
		return nil, fail(ExitUsage, "give a larger --step or a smaller range", "table, got more than %d rows", maxRows)
	}
	var out []timing.Angle
	// A step that does not come out even by rounding alone reaches the end all the same.
	for i := range int((to-from)/step+1e-9) + 1 {
		out = append(out, timing.Angle(min(to, from+float64(i)*step)))
	}
	return out, nil
}

// print writes the table for people, rounded. Without pin offset both sides are the same.
func (t wheel) print(w io.Writer) error {
	both := *t.PinOffsetMM != 0
	head := "degrees before  travel below top dead centre\n" +
		"or after TDC           mm        in     thou\n"
	if both {
		head = "         travel below TDC, before it   as far after it\n" +
			"degrees        mm        in     thou        mm        in     thou\n"
	}
	if _, err := io.WriteString(w, head); err != nil {
		return err
	}
	for _, r := range t.Rows {
		var err error
		if both {
			_, err = fmt.Fprintf(w, "%7.7g  %8.4f  %8.5f  %7.2f  %8.4f  %8.5f  %7.2f\n",
				r.AngleDeg, r.TravelMM, r.TravelIn, r.TravelThou, r.AfterTravelMM, r.AfterTravelIn, r.AfterTravelThou)
		} else {
			_, err = fmt.Fprintf(w, "%12.7g  %10.4f  %8.5f  %7.2f\n", r.AngleDeg, r.TravelMM, r.TravelIn, r.TravelThou)
		}
		if err != nil {
			return err
		}
	}
	return nil
}
