package cli

import (
	"context"
	"errors"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"text/tabwriter"

	"breakcue/audio"
	"breakcue/audio/wav"
	"breakcue/cmd/internal/pump"
	"breakcue/detect"
	"breakcue/testdata/corpus"
)

// timed is the recording by which speeds are measured: 30 minutes, so that nobody's start counts.
const timed = "long"

// row is a line of the table.
type row struct {
	recipe  corpus.Recipe
	missing string // why the recording could not be made; else
	truth   corpus.Truth
	hard    bool
	limit   *corpus.Limit
	refused error
	got     []detect.Event
	score   corpus.Score
	peers   [2]*corpus.Score // nil: not installed
}

// BenchmarkTable prints what is found in each recording of the corpus, how well, and how well it could be at best, beside two general tools, and the
// speed of all three. Tone, channel and levels are found anew in each recording; only the wiring is given.
func BenchmarkTable(b *testing.B) {
	bin := filepath.Join(b.TempDir(), "breakcue")
	build := exec.Command("go", "build", "-tags", "nolive", "-o", bin, "breakcue/cmd/breakcue")
	build.Env = append(os.Environ(), "CGO_ENABLED=0")
	if out, err := build.CombinedOutput(); err != nil {
		b.Fatalf("%v\n%s", err, out)
	}
	var peers [2]peer
	var missing [2]error
	peers[0], missing[0] = newSilencedetect()
	peers[1], missing[1] = newHilbert(b)
	var rows []row
	var speeds [3]float64 // ours and the peers' [x real time]; 0: not installed
	for _, r := range corpus.Recipes() {
		line, path := measure(b, r)
		rows = append(rows, line)
		if line.missing != "" {
			continue
		}
		for i, p := range peers {
			if p != nil {
				found, _ := consult(b, p, path, line.truth)
				score := line.truth.Match(found)
				rows[len(rows)-1].peers[i] = &score
			}
		}
		if r.Name == timed {
			speeds = race(b, []peer{ours{bin}, peers[0], peers[1]}, path, line.truth)
		}
		if err := os.Remove(path); err != nil {
			b.Fatal(err)
		}
	}
	fmt.Print(tableOf(rows, speeds, missing))
	reportTable(b, rows, speeds)
}

// consult returns what a program finds in the recording at path, and its speed [x real time].
func consult(b *testing.B, p peer, path string, truth corpus.Truth) ([]corpus.Edge, float64) {
	found, cpu, err := p.edges(path, truth)
	if err != nil {
		b.Fatal(err)
	}
	return found, float64(truth.Frames) / float64(truth.Rate) / cpu.Seconds()
}

// race returns the speeds of all by turns, the best of three each: what else runs on the machine takes from some more than from others.
func race(b *testing.B, all []peer, path string, truth corpus.Truth) (best [3]float64) {
	for range 3 {
		for i, p := range all {
			if p != nil {
				_, speed := consult(b, p, path, truth)
				best[i] = max(best[i], speed)
			}
		}
	}
	return best
}

// measure makes a recording, looks through it, and measures the limit for it. It returns the path of the recording.
func measure(b *testing.B, r corpus.Recipe) (row, string) {
	take, err := r.Render()
	if err != nil {
		if notFound := (*exec.Error)(nil); !errors.As(err, &notFound) {
			b.Log(err)
		}
		return row{recipe: r, missing: firstLine(err)}, ""
	}
	line := row{recipe: r, truth: take.Truth, hard: take.Hard}
	if take.Lone != nil {
		trials := 4000
		if take.Lone.SNR > 25 && take.Lone.Shape == nil {
			trials = 20000 // few of them are off by a frame
		}
		l := take.Lone.Limit(trials, 1)
		line.limit = &l
	}
	path, err := take.WriteFiles(b.TempDir())
	if err != nil {
		b.Fatal(err)
	}
	opt := pump.Options{}
	if take.Truth.Wiring == "shunt" {
		opt.Wiring = detect.Shunt
	}
	a, err := pump.Analyse(context.Background(), func() (audio.Source, error) { return wav.Open(path) }, opt)
	if err != nil {
		b.Fatal(err)
	}
	line.refused, line.got = a.Refused, a.Edges
	found := make([]corpus.Edge, len(a.Edges))
	for i, e := range a.Edges {
		found[i] = corpus.Edge{Kind: e.Kind.String(), Sample: e.At()}
	}
	line.score = take.Truth.Match(found)
	return line, path
}

func firstLine(err error) string {
	s, _, _ := strings.Cut(err.Error(), "\n")
	return s
}

// within returns the share [%] of the errors that twice the stated standard uncertainty covers.
func (r *row) within() float64 {
	n := 0
	for _, p := range r.score.Pairs {
		if math.Abs(p.Error)*float64(r.truth.Rate) <= 2*r.got[p.Got].Uncertainty {
			n++
		}
	}
	return 100 * float64(n) / float64(len(r.score.Pairs))
}

// delay returns how long after the edge the decision was taken, on average [us]; NaN where the edge itself takes its time.
func (r *row) delay() float64 {
	if !r.hard {
		return math.NaN()
	}
	sum := 0.0
	for _, p := range r.score.Pairs {
		sum += float64(r.got[p.Got].DecidedFrame) - r.truth.Edges[p.True].Sample
	}
	return sum / float64(len(r.score.Pairs)) / float64(r.truth.Rate) * 1e6
}

// ratio returns the error over the limit; NaN without either.
func (r *row) ratio() float64 {
	if r.limit == nil {
		return math.NaN()
	}
	return r.score.RMS() * 1e6 / r.limit.RMS
}

// tableOf prints the table.
func tableOf(rows []row, speeds [3]float64, missing [2]error) string {
	var out strings.Builder
	out.WriteString(`
Found, missed and false edges of each recording. RMS: root mean square error; bias: mean error, positive = late. Limit: RMS of the most likely
instant of one lone step in this noise, measured by Monte Carlo (+- standard error); hum, spikes, bounce and gain control are not in it. In 2u: errors
within twice the stated standard uncertainty. Delay: decision after the edge, mean. ffmpeg: silencedetect, -14 dB, 0.02 s; it prints six digits:
0.1 ms from 10 s on, 1 ms from 100 s on, 10 ms from 1000 s on, and a tone below -14 dBFS (amplitude 0.2) is silence to it: hum, spikes, gain. hilbert: scipy,
envelope. Both are told the channel and the wiring, hilbert the tone too; breakcue only the wiring. A ratio from few edges at high SNR says little: at
40 dB one edge in 150 is off by one frame, the others by none.

`)
	tw := tabwriter.NewWriter(&out, 0, 0, 2, ' ', tabwriter.AlignRight)
	fmt.Fprintln(tw, "file\tfound\tmissed\tfalse\tRMS us\tbias us\tlimit us\t+-\tRMS/limit\tin 2u %\tdelay us\t|\tffmpeg\tmissed\tfalse\tRMS us\t|\thilbert\tmissed\tfalse\tRMS us\t")
	for _, r := range rows {
		if r.missing != "" {
			fmt.Fprintf(tw, "%s\t%s\t\n", r.recipe.Name, strings.Repeat("-\t", 19)+"-")
			continue
		}
		fmt.Fprintf(tw, "%s\t%s\t%s\t", r.recipe.Name, counts(&r.score), cell(1e6*r.score.Bias(), 1))
		if r.limit != nil {
			fmt.Fprintf(tw, "%.1f\t%.1f\t", r.limit.RMS, r.limit.Doubt)
		} else {
			fmt.Fprint(tw, "-\t-\t")
		}
		fmt.Fprintf(tw, "%s\t%s\t%s\t", cell(r.ratio(), 2), cell(r.within(), 1), cell(r.delay(), 0))
		for _, s := range r.peers {
			if s == nil {
				fmt.Fprint(tw, "|\t-\t-\t-\t-\t")
			} else {
				fmt.Fprintf(tw, "|\t%s\t", counts(s))
			}
		}
		fmt.Fprintln(tw)
	}
	tw.Flush()
	out.WriteString("\n")
	for _, r := range rows {
		switch {
		case r.missing != "":
			fmt.Fprintf(&out, "%s: not made: %s\n", r.recipe.Name, r.missing)
		case r.refused != nil:
			fmt.Fprintf(&out, "%s: refused: %v\n", r.recipe.Name, r.refused)
		}
	}
	fmt.Fprintf(&out, "speed by processor time on the 30 minutes of %q, one core, best of three: breakcue review %.0f x real time", timed, speeds[0])
	for i, name := range []string{"ffmpeg silencedetect", "scipy Hilbert envelope"} {
		if missing[i] != nil {
			fmt.Fprintf(&out, "; %s: %v", name, missing[i])
		} else {
			fmt.Fprintf(&out, "; %s %.0f x (%.2f of ours)", name, speeds[i+1], speeds[i+1]/speeds[0])
		}
	}
	out.WriteString("\n\n")
	return out.String()
}

// counts are the four columns found, missed, false and RMS.
func counts(s *corpus.Score) string {
	return fmt.Sprintf("%d\t%d\t%d\t%s", len(s.Pairs), s.Missed, s.False, cell(1e6*s.RMS(), 1))
}

// cell prints a number with so many decimals, and a dash for none.
func cell(v float64, decimals int) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return "-"
	}
	return fmt.Sprintf("%.*f", decimals, v)
}

// reportTable gives what programs compare from one commit to the next: the sums, the worst ratio where there are edges enough to tell, the speeds.
func reportTable(b *testing.B, rows []row, speeds [3]float64) {
	for i, name := range []string{"breakcue", "ffmpeg", "hilbert"} {
		if speeds[i] == 0 {
			continue
		}
		b.Run(name, func(b *testing.B) {
			missed, wrong, worst := 0, 0, 0.0
			for _, r := range rows {
				s := &r.score
				if i > 0 {
					s = r.peers[i-1]
				}
				if r.missing != "" {
					continue
				}
				missed += s.Missed
				wrong += s.False
				if r.limit != nil && len(s.Pairs) >= 1000 {
					worst = max(worst, s.RMS()*1e6/r.limit.RMS)
				}
			}
			b.ReportMetric(float64(missed), "missed")
			b.ReportMetric(float64(wrong), "false")
			if i == 0 { // what ffmpeg prints is too coarse for it
				b.ReportMetric(worst, "worst_rms/limit")
			}
			b.ReportMetric(speeds[i], "x_real_time")
			b.ReportMetric(0, "ns/op")
		})
	}
}
