package session

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
	"text/tabwriter"
	"unicode"
	"unicode/utf8"

	"breakcue/cmd/internal/pump"
	"breakcue/timing"
)

// Print writes the report for people: units, uncertainty and words, no bare signs; with budget, what makes each result
// uncertain too.
func (r Report) Print(w io.Writer, budget bool) error {
	p := &printer{w: w}
	p.line("%s: points specified to open %s before TDC", r.Engine, r.Specified.Value)
	p.line("= %.2f mm of travel = %.2f° of crank, tolerance ±%s", r.Specified.TravelMM, r.Specified.AngleDeg, r.Specified.Tolerance)
	p.line("automatic advance: %s", r.Specified.Advance)
	for _, c := range r.Cylinders {
		for _, ph := range c.Phases {
			p.line("")
			p.line("%s, %s", c.Name, ph.Phase.Words())
			p.passes(ph.Passes)
			p.result(ph)
			p.notes("  ", ph.Caveats)
			if budget {
				p.budget(ph)
			}
		}
		for _, s := range r.Shifts {
			if s.Cylinder == c.Name {
				p.shift(s)
			}
		}
	}
	for i, s := range r.Spreads {
		if i == 0 {
			p.line("")
		}
		p.spread(s)
	}
	if len(r.Gaps) > 0 {
		p.line("")
		p.gaps(r.Gaps)
	}
	if r.Advice != nil {
		p.line("")
		p.advice(*r.Advice)
	}
	if r.Steps != nil {
		p.line("")
		p.steps(*r.Steps)
	} else if len(r.Other) > 0 {
		p.line("")
	}
	p.otherSet(r.Other)
	if len(r.Caveats) > 0 {
		p.line("")
		p.notes("", r.Caveats)
	}
	return p.err
}

// Brief says in a few words what to do with the plate that carries a cylinder's points; it is empty when there is nothing to
// move.
func (a Advice) Brief(cylinder string) string {
	for _, m := range a.Moves {
		if slices.Contains(m.Cylinders, cylinder) {
			return m.Brief()
		}
	}
	return ""
}

// Print writes the advice for people.
func (a Advice) Print(w io.Writer) error {
	p := &printer{w: w}
	p.advice(a)
	return p.err
}

func (p *printer) advice(a Advice) {
	p.line("what to do")
	for _, text := range a.Lines {
		p.sentence("  ", "%s", text)
	}
	p.notes("  ", a.Caveats)
}

// printer keeps the first error of many writes.
type printer struct {
	w   io.Writer
	err error
}

func (p *printer) line(format string, args ...any) {
	if p.err == nil {
		_, p.err = io.WriteString(p.w, Printable(fmt.Sprintf(format, args...))+"\n")
	}
}

// Columns is how wide a terminal is that shows sentences whole.
const Columns = 80

// Sentence breaks a sentence into lines of a terminal, the first one indented as given and the others by two columns more.
func Sentence(indent, text string) []string { return SentenceWithin(Columns, indent, text) }

// SentenceWithin is Sentence for a terminal of so many columns.
func SentenceWithin(columns int, indent, text string) []string {
	lines := Wrap(strings.Fields(text), " ", columns-len(indent)-2)
	for i := range lines {
		if i > 0 {
			lines[i] = "  " + lines[i]
		}
		lines[i] = indent + lines[i]
	}
	return lines
}

func (p *printer) sentence(indent, format string, args ...any) {
	for _, text := range Sentence(indent, fmt.Sprintf(format, args...)) {
		p.line("%s", text)
	}
}

func (p *printer) passes(passes []Pass) {
	var b strings.Builder
	tw := tabwriter.NewWriter(&b, 0, 0, 2, ' ', 0)
	fmt.Fprint(tw, "  pass\tdial reading\ttravel before TDC\tpoints open at\tbounce\t\n")
	for _, q := range passes {
		travel, at, bounce, note := "none", "no opening", "", ""
		if q.TravelMM != nil {
			travel = fmt.Sprintf("%.3f mm", *q.TravelMM)
		}
		if q.Edge != nil {
			at, bounce = fmt.Sprintf("%.4f s", q.Edge.TimeS), fmt.Sprint(q.Edge.Reclosures)
			if q.Edge.Take > 1 {
				at = fmt.Sprintf("take %d, %s", q.Edge.Take, at)
			}
			if q.Edge.Openings > 1 {
				bounce += fmt.Sprintf(" in %d openings", q.Edge.Openings)
			}
		}
		if q.Unused != "" {
			note = "not used"
		}
		fmt.Fprintf(tw, "  %d\t%s\t%s\t%s\t%s\t%s\n", q.N, Printable(q.Reading), travel, at, bounce, note)
	}
	tw.Flush()
	for text := range strings.Lines(b.String()) {
		p.line("%s", strings.TrimRight(text, " \n"))
	}
}

// result says the error in words, with its interval and verdict.
func (p *printer) result(ph Phase) {
	for _, text := range ph.Words() {
		p.sentence("  ", "%s", text)
	}
}

// Words says the result in lines for people: the error, its interval, the scatter if there is one, and last the verdict.
func (ph Phase) Words() []string {
	if ph.ErrorMM == nil {
		return []string{"result: none yet"}
	}
	out := []string{
		fmt.Sprintf("error: %s, %.2f° of crank", timing.Words(timing.Length(*ph.ErrorMM)), math.Abs(*ph.ErrorDeg)),
		fmt.Sprintf("%.0f %% interval: %s (mean of %s)", 100**ph.Coverage, interval(ph.IntervalMM[0], ph.IntervalMM[1]), pump.Count(ph.N, "pass", "passes")),
	}
	if ph.ScatterMM != nil {
		out = append(out, fmt.Sprintf("single passes scatter by %.3f mm (standard deviation)", *ph.ScatterMM))
	}
	return append(out, fmt.Sprintf("verdict: %s (probability in tolerance: %s)", verdict(ph), Percent(*ph.InTolerance)))
}

// Brief says the result in a line, what matters most first, for a screen may cut it: the error, the move that takes it away if
// there is one, the verdict and the interval.
func (ph Phase) Brief(move string) string {
	if ph.ErrorMM == nil {
		return "no result yet"
	}
	words, _, _ := strings.Cut(timing.Words(timing.Length(*ph.ErrorMM)), " (")
	said := "cannot tell"
	switch {
	case ph.Verdict == timing.InTolerance.String():
		said = "in tolerance"
	case ph.Verdict == timing.OutOfTolerance.String():
		said = "out of tolerance"
	case ph.PassesNeeded != nil:
		said = "cannot tell yet, " + pump.Count(*ph.PassesNeeded, "more pass", "more passes")
	}
	if move != "" {
		words += ": " + move
	}
	return fmt.Sprintf("%s; %s, %.0f %%: %s", words, said, 100**ph.Coverage, interval(ph.IntervalMM[0], ph.IntervalMM[1]))
}

// Large says the error in a few letters to be read from afar: "0.28 EARLY". It is empty where there is no result.
func (ph Phase) Large() string {
	if ph.ErrorMM == nil {
		return ""
	}
	size := fmt.Sprintf("%.2f", math.Abs(*ph.ErrorMM))
	switch hundredths := math.Round(*ph.ErrorMM * 100); {
	case hundredths > 0:
		return size + " EARLY"
	case hundredths < 0:
		return size + " LATE"
	}
	return size
}

func (p *printer) notes(indent string, caveats []timing.Caveat) {
	for _, c := range caveats {
		p.sentence(indent, "note: %s", c.Message)
	}
}

// interval says from where to where an error lies: "0.10 to 0.25 mm too early", "0.03 mm too late to 0.08 mm too early".
func interval(lo, hi float64) string { return apart(lo, hi, "too late", "too early") }

// apart is interval for any two words, of which one stands for what is below 0.
func apart(lo, hi float64, below, above string) string {
	word := func(x float64) string {
		if math.Round(x*100) < 0 {
			return below
		}
		return above
	}
	a, b := math.Abs(lo), math.Abs(hi)
	if word(lo) == word(hi) {
		return fmt.Sprintf("%.2f to %.2f mm %s", min(a, b), max(a, b), word(lo))
	}
	return fmt.Sprintf("%.2f mm %s to %.2f mm %s", a, word(lo), b, word(hi))
}

func verdict(ph Phase) string {
	switch ph.Verdict {
	case timing.InTolerance.String():
		return "in tolerance"
	case timing.OutOfTolerance.String():
		if *ph.ErrorMM < 0 { // however small: of an error that rounds to 0.00 mm EarlyOrLate is on_mark
			return "out of tolerance, too late"
		}
		return "out of tolerance, too early"
	}
	if ph.PassesNeeded != nil {
		like := "these"
		if ph.N == 1 {
			like = "this one"
		}
		return fmt.Sprintf("cannot tell yet; %s like %s should settle it", pump.Count(*ph.PassesNeeded, "more pass", "more passes"), like)
	}
	if ph.scatters() {
		return fmt.Sprintf("cannot tell, and even %d passes like these would not settle it, so much do they scatter: find out why "+
			"(a wrong reading, a loose plate or dial, worn bearings, an uneven approach), then measure again", timing.MostPasses)
	}
	c := ph.largest()
	return fmt.Sprintf("cannot tell, and more passes will not settle it: the rest of the uncertainty is too large for what the error leaves of the tolerance; "+
		"most of it is from %s (%s)", c.Name, c.Remedy)
}

// Percent says a probability, 0 to 1, for people. It never says 0 or 100 for what is merely near.
func Percent(p float64) string {
	switch {
	case p < 0.01:
		return "below 1 %"
	case p > 0.99:
		return "above 99 %"
	}
	return fmt.Sprintf("%.0f %%", 100*p)
}

// Wrap joins parts to lines of at most so many columns, as long as no part is longer.
func Wrap(parts []string, between string, columns int) (lines []string) {
	gap, used := utf8.RuneCountInString(between), 0
	for _, p := range parts {
		wide := utf8.RuneCountInString(p)
		if n := len(lines) - 1; n >= 0 && used+gap+wide <= columns {
			lines[n] += between + p
			used += gap + wide
		} else {
			lines, used = append(lines, p), wide
		}
	}
	return lines
}

// Printable keeps control characters, which a file may hold, out of the terminal.
func Printable(s string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsControl(r) {
			return '\ufffd'
		}
		return r
	}, s)
}
