package cli

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"text/tabwriter"
	"time"

	"github.com/spf13/cobra"

	"breakcue/cmd/internal/pump"
	"breakcue/cmd/internal/session"
	"breakcue/detect"
)

// reviewResult is what `review --json` prints.
type reviewResult struct {
	Schema       string        `json:"schema"`
	File         string        `json:"file"`
	SampleRate   int           `json:"sample_rate"`
	Channels     int           `json:"channels"`
	Channel      int           `json:"channel"` // from 1; 0: none has the tone
	Frames       int64         `json:"frames"`
	ToneHz       *float64      `json:"tone_hz"`
	Wiring       string        `json:"wiring"`
	WiringSource string        `json:"wiring_source"`
	EdgeModel    *string       `json:"edge_model"` // null: no edge was seen
	Levels       reviewLevels  `json:"levels"`
	Sets         []reviewSet   `json:"sets,omitempty"` // where two tones were given: what is known of each set of points
	Edges        []reviewEdge  `json:"edges"`
	Lost         []reviewLost  `json:"lost,omitempty"` // where the signal fitted neither open nor closed points
	Caveats      []pump.Caveat `json:"caveats"`
}

// reviewLevels are null where they were not found.
type reviewLevels struct {
	Closed     *float64 `json:"closed_dbfs"`
	Open       *float64 `json:"open_dbfs"`
	Contrast   *float64 `json:"contrast_db"`
	IQDistance *float64 `json:"iq_distance_db"`
	SNR        *float64 `json:"snr_db"`
}

// reviewSet is one of two sets of points.
type reviewSet struct {
	Set       int          `json:"set"`     // 1 for the tone given first
	Channel   int          `json:"channel"` // from 1
	ToneHz    float64      `json:"tone_hz"`
	EdgeModel *string      `json:"edge_model"` // null: no edge was seen
	Levels    reviewLevels `json:"levels"`
}

type reviewEdge struct {
	Kind        string  `json:"kind"`
	Set         int     `json:"set"`
	Sample      float64 `json:"sample"`
	Time        float64 `json:"time_s"`
	Uncertainty float64 `json:"uncertainty_s"`
	Reclosures  int     `json:"reclosures"`
	Settle      float64 `json:"settle_s"`
}

// reviewLost is a stretch in which nothing is known of the points.
type reviewLost struct {
	Set   int      `json:"set"`
	Cause string   `json:"cause"` // lead_off, plug_out, shorted, no_fit, dropout
	From  float64  `json:"from_s"`
	To    *float64 `json:"to_s"` // null: to the end
}

func newReview(env Env) *cobra.Command {
	var rec recordingFlags
	var asJSON bool
	c := &cobra.Command{
		Use:   "review FILE",
		Short: "Find the openings and closings of the points in a recording",
		Long: `Find the openings and closings of the points in a recording of the test tone.

FILE is a WAV file, or - for standard input. Tone, channel and levels are found by themselves.

Two sets of points are heard at once where each has a tone of its own: give --tone twice, that of set 1 first. The two tones may come
back in two channels, or summed in one.

With --json, sample is the first frame in the new state where the tone is switched from one frame to the next (edge_model gate),
and the instant at which half of the step is done where it is not (band_limited: a sound card; soft: a slow transition). Where
noise leaves several frames likely it is the mean of these. uncertainty_s is its standard uncertainty.`,
		Example: "  breakcue review take-01.wav\n  breakcue review take-01.wav --wiring shunt --json",
		Args:    exactArgs(1, "one recording"),
		RunE: func(c *cobra.Command, args []string) error {
			opt, err := rec.options()
			if err != nil {
				return err
			}
			a, err := analyse(c.Context(), env, args[0], opt)
			if err != nil {
				return err
			}
			r := newReviewResult(args[0], rec, &a)
			if asJSON {
				if err := printJSON(env.Out, r); err != nil {
					return err
				}
			} else if a.Refused == nil {
				var page bytes.Buffer
				printReview(&page, r)
				if _, err := page.WriteTo(env.Out); err != nil {
					return err
				}
			}
			if a.Refused != nil {
				return &Failure{Code: ExitInconclusive, Err: fmt.Errorf("%s: %w", nameOf(args[0]), a.Refused), Hint: a.Hint()}
			}
			return nil
		},
	}
	rec.add(c.Flags())
	c.Flags().BoolVar(&asJSON, "json", false, "print one JSON object")
	return c
}

func newReviewResult(path string, rec recordingFlags, a *pump.Analysis) reviewResult {
	r := reviewResult{
		Schema: "breakcue.review/1", File: path,
		SampleRate: a.Format.SampleRate, Channels: a.Format.Channels, Channel: a.Found.Channel + 1, Frames: a.Frames,
		Wiring: a.Wiring().String(), WiringSource: rec.wiringSource(),
		Edges: []reviewEdge{}, Caveats: a.Caveats,
	}
	if r.Caveats == nil {
		r.Caveats = []pump.Caveat{}
	}
	if a.Levels.Edges > 0 {
		model := a.EdgeModel()
		r.EdgeModel = &model
	}
	if a.Found.Tone > 0 {
		r.ToneHz = number(a.Found.Tone)
	}
	r.Levels = levelsOf(a.Levels, a.Found, a.Wiring())
	if len(a.Sets) > 1 {
		for _, s := range a.Sets {
			set := reviewSet{Set: s.Config.Set, Channel: s.Config.Channel + 1, ToneHz: s.Config.Profile.Tone, Levels: levelsOf(s.Levels, s.Found, a.Wiring())}
			if s.Levels.Edges > 0 {
				model := s.Model.String()
				set.EdgeModel = &model
			}
			r.Sets = append(r.Sets, set)
		}
	}
	fs := float64(a.Format.SampleRate)
	for _, e := range a.Edges {
		r.Edges = append(r.Edges, reviewEdge{
			Kind: e.Kind.String(), Set: e.Set, Sample: e.At(), Time: e.At() / fs, Uncertainty: e.Uncertainty / fs,
			Reclosures: e.Reclosures, Settle: math.Max(0, (float64(e.LastFrame)-float64(e.Frame))/fs),
		})
	}
	for _, l := range a.Lost {
		out := reviewLost{Set: l.Set, Cause: string(l.Cause), From: float64(l.From) / fs}
		if l.To > 0 {
			out.To = number(float64(l.To) / fs)
		}
		r.Lost = append(r.Lost, out)
	}
	return r
}

// levelsOf gives the measured levels, or those of the survey where the detector did not run.
func levelsOf(measured detect.Levels, found detect.Findings, wiring detect.Wiring) reviewLevels {
	closed, open, dist := measured.Closed, measured.Open, measured.Distance
	if closed == 0 && open == 0 {
		closed, open, dist = found.High, found.Low, found.Distance
		if wiring == detect.Shunt {
			closed, open = open, closed
		}
	}
	var l reviewLevels
	if closed > 0 {
		l.Closed = number(pump.DBFS(closed))
	}
	if open > 0 {
		l.Open = number(pump.DBFS(open))
	}
	if closed > 0 && open > 0 {
		l.Contrast = number(math.Abs(*l.Closed - *l.Open))
	}
	if dist > 0 {
		l.IQDistance = number(pump.DBFS(dist) - pump.DBFS(math.Max(closed, open)))
	}
	if measured.Noise > 0 && measured.Edges > 0 {
		l.SNR = number(pump.SNR(measured))
	}
	return l
}

func number(x float64) *float64 { return &x }

// printReview writes the result for people.
func printReview(w io.Writer, r reviewResult) {
	dur := time.Duration(float64(r.Frames) / float64(r.SampleRate) * float64(time.Second)).Round(time.Millisecond)
	fmt.Fprintf(w, "%s: %v at %d Hz, channel %d of %d\n", session.Printable(nameOf(r.File)), dur, r.SampleRate, r.Channel, r.Channels)
	tone := func(hz float64, l reviewLevels) {
		fmt.Fprintf(w, "tone %.1f Hz; points closed %s, points open %s; %s above the noise\n", hz, dBFS(l.Closed), dBFS(l.Open), dB(l.SNR))
	}
	for _, s := range r.Sets {
		fmt.Fprintf(w, "set %d, channel %d: ", s.Set, s.Channel)
		tone(s.ToneHz, s.Levels)
	}
	if len(r.Sets) == 0 {
		tone(*r.ToneHz, r.Levels)
	}
	how := "in line with the points"
	if r.Wiring == detect.Shunt.String() {
		how = "across the points"
	}
	fmt.Fprintf(w, "wiring: %s (%s, %s)\n\n", r.Wiring, how, r.WiringSource)
	tw := tabwriter.NewWriter(w, 0, 0, 2, ' ', tabwriter.AlignRight)
	sets := false
	for _, e := range r.Edges {
		sets = sets || e.Set > 0
	}
	fmt.Fprint(tw, "no.\tpoints\ttime [s]\t± [ms]\tbounce\tsettled after [ms]\t")
	if sets {
		fmt.Fprint(tw, "set\t")
	}
	fmt.Fprintln(tw)
	openings, closings := 0, 0
	for _, e := range r.Edges {
		no := ""
		if e.Kind == detect.KindOpen.String() {
			openings++
			no = fmt.Sprint(openings)
		} else {
			closings++
		}
		word := map[string]string{"open": "open", "close": "closed"}[e.Kind]
		fmt.Fprintf(tw, "%s\t%s\t%.6f\t%.3f\t%d\t%.2f\t", no, word, e.Time, 2e3*e.Uncertainty, e.Reclosures, 1e3*e.Settle)
		if sets {
			fmt.Fprintf(tw, "%d\t", e.Set)
		}
		fmt.Fprintln(tw)
	}
	tw.Flush()
	fmt.Fprintf(w, "\n%s, %s; ± is twice the standard uncertainty\n",
		pump.Count(openings, "opening", "openings"), pump.Count(closings, "closing", "closings"))
	for _, l := range r.Lost {
		fmt.Fprintf(w, "%s\n", l.text())
	}
	for _, c := range r.Caveats {
		fmt.Fprintf(w, "note: %s\n", c.Message)
	}
}

// text says it in a line.
func (l reviewLost) text() string {
	to, whose := "the end", ""
	if l.To != nil {
		to = fmt.Sprintf("%.3f s", *l.To)
	}
	if l.Set > 0 {
		whose = fmt.Sprintf("set %d: ", l.Set)
	}
	what := map[string]string{
		string(detect.CauseLeadOff): "a lead was off", string(detect.CausePlugOut): "a plug was out or a lead broken",
		string(detect.CauseShorted): "the leads touched each other", string(detect.CauseDropout): "the sound was lost",
	}[l.Cause]
	if what == "" {
		what = "neither open nor closed"
	}
	return fmt.Sprintf("not heard: %s%.3f s to %s, %s", whose, l.From, to, what)
}

func dBFS(v *float64) string {
	if v == nil {
		return "unknown"
	}
	return fmt.Sprintf("%.1f dBFS", *v)
}

func dB(v *float64) string {
	if v == nil {
		return "unknown"
	}
	return fmt.Sprintf("%.0f dB", *v)
}
