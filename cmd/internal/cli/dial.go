package cli

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"strings"
	"text/tabwriter"

	"github.com/spf13/cobra"

	"breakcue/cmd/internal/session"
	"breakcue/timing"
)

// dialResult is what dial prints with --json. Nothing in it is rounded but pointers, which are in whole tenths.
type dialResult struct {
	Schema   string        `json:"schema"`
	Engine   string        `json:"engine"`
	Dial     string        `json:"dial"`
	Stations []dialStation `json:"stations"`
	// Ratio is plunger movement over piston travel; MMPerDeg is plunger movement for a degree of crank at the mark.
	Ratio    float64 `json:"ratio"`
	MMPerDeg float64 `json:"plunger_mm_per_deg"`
	// GraduationDeg is one graduation in degrees of crank at the mark.
	GraduationDeg float64 `json:"graduation_deg"`
	// EarlyGraduations and LateGraduations are how far the ends of the tolerance lie from the mark.
	EarlyGraduations float64          `json:"early_graduations"`
	LateGraduations  float64          `json:"late_graduations"`
	NeededMM         float64          `json:"preload_needed_mm"`
	PreloadMM        *float64         `json:"preload_mm"` // null when the sheet does not say
	RangeMM          float64          `json:"range_mm"`
	MaxErrorMM       float64          `json:"max_error_mm"`
	Caveats          []timing.Caveat  `json:"caveats"`
	setup            timing.Setup     // for people
	plan             []timing.Station // the same as Stations
}

// dialStation is one line of what the dial must show.
type dialStation struct {
	Place     string  `json:"place"`
	AngleDeg  float64 `json:"angle_deg"`
	TravelMM  float64 `json:"travel_mm"`
	PlungerMM float64 `json:"plunger_mm"`
	ReadingMM float64 `json:"reading_mm"`
	Counter   int     `json:"counter"`
	Pointer   float64 `json:"pointer"`
	Face      string  `json:"face"` // as session takes it
}

func newDial(env Env) *cobra.Command {
	var engine, dial string
	var asJSON bool
	c := &cobra.Command{
		Use:   "dial",
		Short: "Tell what the dial must show at the mark, at each end of the tolerance and at top dead centre",
		Long: `Tell what counter and pointer of the dial must show at top dead centre, at the mark, at each end of the tolerance and
where an approach starts, and how this is worked out from the engine sheet and the dial sheet.

Counter and pointer are those of a dial that stands at zero where its sheet says, with the counter at counter_at_zero. They
can be typed in a session just as they are printed, joined by a plus: 1+98.`,
		Example: "  breakcue dial --engine twin.toml --dial dial.toml",
		Args:    exactArgs(0, "no argument"),
		RunE: func(c *cobra.Command, _ []string) error {
			if engine == "" || dial == "" {
				return fail(ExitUsage, "give both, as --engine twin.toml --dial dial.toml", "dial needs --engine and --dial")
			}
			sheets, err := session.LoadSheets(engine, dial)
			if err != nil {
				return sheetError(engine, dial, err)
			}
			out, err := dialPlan(sheets)
			if err != nil {
				return fail(ExitFailed, unfitHint, "%s with %s: %w", engine, dial, err)
			}
			if asJSON {
				return printJSON(env.Out, out)
			}
			var page bytes.Buffer
			out.print(&page)
			_, err = page.WriteTo(env.Out)
			return err
		},
	}
	f := c.Flags()
	f.StringVar(&engine, "engine", "", "engine sheet")
	f.StringVar(&dial, "dial", "", "dial sheet")
	f.BoolVar(&asJSON, "json", false, "print one JSON object, not rounded")
	return c
}

// unfitHint says what to do with a dial that cannot follow the piston of an engine.
const unfitHint = "press the dial in further at top dead centre and say so in its sheet (preload), or take a longer one"

// dialPlan works out everything that dial prints.
func dialPlan(sheets session.Sheets) (dialResult, error) {
	s := sheets.Setup
	plan, err := s.DialPlan()
	if err != nil {
		return dialResult{}, err
	}
	slope, err := s.Crank.Slope(s.Target.Angle)
	if err != nil {
		return dialResult{}, err
	}
	d := s.Dial
	out := dialResult{
		Schema: "breakcue.dial/1", Engine: sheets.Engine.Name, Dial: sheets.Dial.Name,
		Ratio: d.Ratio(), MMPerDeg: slope * d.Ratio(), GraduationDeg: float64(d.Graduation) / (slope * d.Ratio()),
		EarlyGraduations: float64(s.Target.High) * d.Ratio() / float64(d.Graduation),
		LateGraduations:  float64(-s.Target.Low) * d.Ratio() / float64(d.Graduation),
		NeededMM:         float64(plan[0].Movement), RangeMM: float64(d.Range), MaxErrorMM: float64(d.MaxError),
		Caveats: []timing.Caveat{}, setup: s, plan: plan,
	}
	if d.Preload > 0 {
		p := float64(d.Preload)
		out.PreloadMM = &p
	}
	for _, st := range plan {
		out.Stations = append(out.Stations, dialStation{
			Place: st.Place.String(), AngleDeg: float64(st.Angle), TravelMM: float64(st.Travel), PlungerMM: float64(st.Movement),
			ReadingMM: float64(st.Reading), Counter: st.Face.Counter, Pointer: st.Face.Pointer, Face: st.Face.String(),
		})
	}
	out.caveats(sheets.Dial.Unchecked)
	return out, nil
}

// caveats says what must be known of the figures.
func (r *dialResult) caveats(unchecked bool) {
	d := r.setup.Dial
	least := 0
	for _, st := range r.plan {
		least = min(least, st.Face.Counter)
	}
	if least < 0 {
		r.Caveats = append(r.Caveats, timing.Caveat{Code: "counter_below_zero", Message: fmt.Sprintf(
			"the counter would go %d below its 0; a round one with ten figures then shows %d. Set counter_at_zero in the dial sheet to what the counter really shows at zero",
			-least, ((least%10)+10)%10)})
	}
	if d.Preload == 0 {
		r.Caveats = append(r.Caveats, timing.Caveat{Code: "preload_unknown", Message: fmt.Sprintf(
			"press the plunger in by %s or more at top dead centre (the dial has %s): it must follow the piston down to where the approach starts",
			d.Format(ceilTo(r.plan[0].Movement, d.Graduation)), d.Format(d.Range))})
	}
	if unchecked {
		r.Caveats = append(r.Caveats, timing.Caveat{Code: "dial_unchecked", Message: fmt.Sprintf(
			"the sheet gives no limit of error: %s is taken, that of a good dial of its range (JIS B 7503)", d.Format(d.MaxError))})
	}
	if d.PlungerAngle != 0 {
		r.Caveats = append(r.Caveats, timing.Caveat{Code: "inclined_plunger", Message: fmt.Sprintf(
			"all this hangs on a crown that slopes by %g° under the plunger; a degree wheel or a dial in a straight hole can prove it", d.CrownSlope)})
	}
}

// ceilTo rounds a length up to a multiple of step.
func ceilTo(l, step timing.Length) timing.Length {
	return timing.Length(math.Ceil(float64(l/step)-1e-6)) * step
}

// places names the places for people.
var places = map[timing.Place]string{
	timing.Start: "start of the approach", timing.EarlyEnd: "early end of the tolerance", timing.AtMark: "the mark",
	timing.LateEnd: "late end of the tolerance", timing.AtTDC: "top dead centre",
}

// print writes the result for people.
func (r dialResult) print(w io.Writer) {
	s, d := r.setup, r.setup.Dial
	say := func(format string, args ...any) {
		fmt.Fprintln(w, session.Printable(fmt.Sprintf(format, args...)))
	}
	say("%s: points specified to open %s before TDC", r.Engine, s.Spec.Value)
	say("= %.2f mm of travel = %.2f° of crank, tolerance ±%s", s.Target.Travel, s.Target.Angle, s.Spec.Tolerance)
	name := r.Dial
	if name == "" {
		name = "dial"
	}
	zero := "top dead centre"
	if d.Zero == timing.ZeroMark {
		zero = "the mark"
	}
	wrapped(w, "", "%s: zero at %s, where it shows %s; figures rise as the plunger goes %s", name, zero, d.Face(0), d.Counting)
	say("")
	var b strings.Builder
	tw := tabwriter.NewWriter(&b, 0, 0, 2, ' ', 0)
	fmt.Fprintf(tw, "turning forwards\tcounter\tpointer\treading\tpiston\tcrank\n")
	for _, st := range r.plan {
		fmt.Fprintf(tw, "%s\t%d\t%s\t%s\t%.3f mm\t%.2f°\n", places[st.Place], st.Face.Counter, st.Face.PointerText(), d.Format(st.Reading), st.Travel, st.Angle)
	}
	tw.Flush()
	for line := range strings.Lines(b.String()) {
		say("%s", strings.TrimRight(line, " \n"))
	}
	say("")
	r.turning(w)
	say("")
	r.working(say)
	for _, c := range r.Caveats {
		wrapped(w, "", "note: %s", c.Message)
	}
}

// turning tells how the pointer runs.
func (r dialResult) turning(w io.Writer) {
	early, mark, late, top := r.plan[timing.EarlyEnd], r.plan[timing.AtMark], r.plan[timing.LateEnd], r.plan[timing.AtTDC]
	back, forth := "forwards", "backwards"
	if r.setup.Dial.Counting == timing.CountsIn {
		back, forth = forth, back
	}
	wrapped(w, "", "Turning back from TDC to the mark, the pointer runs %s from %s: %s, and stands on %s.",
		back, top.Face.PointerText(), r.turns(mark.Movement), mark.Face.PointerText())
	wrapped(w, "", "Coming up to the mark it runs %s. The points must open while it goes from %s to %s: at most %.1f graduations before the mark (early) and %.1f past it (late).",
		forth, early.Face, late.Face, r.EarlyGraduations, r.LateGraduations)
}

// turns says a movement in turns of the pointer and graduations.
func (r dialResult) turns(y timing.Length) string {
	d := r.setup.Dial
	d.Counting, d.CounterAtZero = timing.CountsOut, 0
	f := d.Face(y)
	turns := map[int]string{0: "", 1: "1 turn and "}
	if _, few := turns[f.Counter]; !few {
		turns[f.Counter] = fmt.Sprintf("%d turns and ", f.Counter)
	}
	return fmt.Sprintf("%s%g graduations", turns[f.Counter], f.Pointer)
}

// working shows how the reading at the mark comes about.
func (r dialResult) working(say func(string, ...any)) {
	s, d, mark := r.setup, r.setup.Dial, r.plan[timing.AtMark]
	say("worked out, for the mark")
	if s.Spec.Value.Unit == timing.Degree {
		say("  travel   %s of crank = %.4f mm, from stroke and rod", s.Spec.Value, mark.Travel)
	} else {
		say("  travel   %s as specified = %.4f mm", s.Spec.Value, mark.Travel)
	}
	if d.PlungerAngle == 0 && d.CrownSlope == 0 {
		say("  plunger  moves as the piston does, being in line with the bore: %.4f mm", mark.Movement)
	} else {
		a, b := d.PlungerAngle, d.CrownSlope
		say("  plunger  leans a = %g°, the crown slopes b = %g°:", a, b)
		say("           ratio cos b / cos(a-b) = %.6f / %.6f = %.6f", math.Cos(b.Radians()), math.Cos((a - b).Radians()), r.Ratio)
		say("           %.4f mm × %.6f = %.4f mm", mark.Travel, r.Ratio, mark.Movement)
	}
	say("  turns    %.4f mm = %s", mark.Movement, r.turns(mark.Movement))
	say("           (1 turn %s, 1 graduation %s)", d.Format(d.PerRevolution), d.Format(d.Graduation))
	say("  one graduation at the mark is %.3f° of crank; one degree is %.1f graduations", r.GraduationDeg, 1/r.GraduationDeg)
	if d.Preload > 0 {
		say("  pressed in %s at TDC, the plunger follows down to there;", d.Format(d.Preload))
		say("  the approach needs %s", d.Format(ceilTo(r.plan[0].Movement, d.Graduation)))
	}
}
