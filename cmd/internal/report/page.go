package report

import (
	"fmt"
	"html/template"
	"slices"
	"strings"
	"time"

	"breakcue/cmd/internal/session"
	"breakcue/timing"
	"breakcue/timing/logbook"
)

// page is everything that the record shows, in words; the files beside this one say in which order and how.
type page struct {
	Style  template.CSS
	Title  string // cut to what a tab shows
	ID     string
	Engine string
	About  []fact
	Takes  []take

	Results []result
	Changes []change
	Spreads []string
	Apart   string // why there is no comparison between cylinders; empty when there is one
	Gaps    []fact // none where no gap of the points was typed
	Spec    []fact
	Advice  []string

	Plots   []plot
	Series  []series
	Working working

	Notes       []string
	Corrections []correction
	Unused      []unused
	Unread      []opening
	Between     []opening // heard between the measurements, so that they await no reading
	Steps       []fact    // each with what became of it; none without a guide
	PutBack     []putBack
	Cautions    []string
	Sheets      []fact
}

// fact is a name and what it stands for.
type fact struct{ Name, Value string }

// place is a cylinder in a phase.
type place struct{ Cylinder, Phase string }

// take is a recording that openings were heard in.
type take struct {
	N            int
	File, SHA256 string
}

// result is what a cylinder in a phase came to.
type result struct {
	place
	Class   string // of the verdict: how its frame is drawn
	Verdict string
	Error   string
	Lines   []string
	Notes   []string
}

// change is a cylinder before and after the work.
type change struct {
	Cylinder, Found, Left, Change string
}

func newPage(j logbook.Journal, r session.Report) (page, error) {
	sheets, err := session.SheetsOf(j)
	if err != nil {
		return page{}, err
	}
	entries, _ := j.Current()
	begin, _ := logbook.Journal{Entries: entries}.Begin()
	p := page{
		Title: short("Ignition timing, "+r.Session, 70), ID: r.Session, Engine: r.Engine, About: about(j, entries, begin),
		Results: results(r), Changes: changes(r), Gaps: gaps(r), Spec: specification(sheets, r), Plots: plots(sheets, r), Series: tables(j, sheets, r),
		Working: newWorking(sheets, r), Notes: messages(r.Caveats), Corrections: corrections(j, r), Unused: notUsed(r), Unread: []opening{},
		Sheets: []fact{{"Engine sheet", begin.EngineSheet}, {"Dial sheet", begin.DialSheet}},
	}
	for _, e := range entries {
		if d, ok := e.Data.(logbook.Take); ok {
			file := d.File
			if file == "" || file == "-" {
				file = "not kept"
			}
			p.Takes = append(p.Takes, take{d.Take, file, d.SHA256})
		}
	}
	for _, e := range r.Unread {
		p.Unread = append(p.Unread, newOpening(e))
	}
	p.Spreads, p.Apart = spreads(r)
	if r.Advice != nil {
		p.Advice = append(slices.Clone(r.Advice.Lines), messages(r.Advice.Caveats)...)
	}
	p.job(sheets, r.Steps)
	return p, nil
}

// day is a time as the journal has it, with its distance from UTC: no zone of whoever prints it comes in.
func day(t time.Time) string { return t.Format("2006-01-02 15:04 (-07:00)") }

// about says which session it is.
func about(j logbook.Journal, entries []logbook.Entry, begin logbook.Begin) []fact {
	first, last := j.Entries[0], j.Entries[len(j.Entries)-1]
	end := "not ended: cut short, or still being written"
	for _, e := range entries {
		switch d := e.Data.(type) {
		case logbook.Take:
			end = "not ended: cut short, or still being written"
		case logbook.End:
			end = d.Reason + ", " + day(e.Time)
		}
	}
	facts := []fact{
		{"Engine", begin.Engine}, {"Session", begin.Session}, {"Name", begin.Name}, {"Begun", day(first.Time)}, {"Ended", end},
		{"Recording", begin.Input}, {"Program", begin.Tool},
		{"Journal", fmt.Sprintf("%s, the last one, number %d, of %s", count(len(j.Entries), "entry", "entries"), last.Seq, day(last.Time))},
	}
	return slices.DeleteFunc(facts, func(f fact) bool { return f.Value == "" })
}

func results(r session.Report) []result {
	var out []result
	for _, c := range r.Cylinders {
		if len(c.Phases) == 0 {
			out = append(out, result{
				place: place{Cylinder: c.Name}, Class: "open", Verdict: "Not measured", Error: "This cylinder has no reading.",
			})
		}
		for _, ph := range c.Phases {
			one := result{place: at(c.Name, ph.Phase), Class: "open", Verdict: "No result", Notes: notes(ph.Caveats)}
			if ph.ErrorMM != nil {
				one.measured(r, ph)
			}
			out = append(out, one)
		}
	}
	return out
}

// measured fills in the figures of a phase that has some.
func (one *result) measured(r session.Report, ph session.Phase) {
	words := ph.Words()
	one.Error = strings.TrimPrefix(words[0], "error: ")
	if side := errorDeg.word(*ph.ErrorDeg); side != "" && errorMM.word(*ph.ErrorMM) != "" {
		one.Error += " " + side
	}
	switch ph.Verdict {
	case timing.InTolerance.String():
		one.Class, one.Verdict = "in", "In tolerance"
	case timing.OutOfTolerance.String():
		one.Class, one.Verdict = "out", "Out of tolerance, too early"
		if *ph.ErrorMM < 0 {
			one.Verdict = "Out of tolerance, too late"
		}
	default:
		one.Verdict = "Cannot tell"
	}
	one.Lines = []string{fmt.Sprintf("%.0f %% interval: %s; in degrees of crank %s", 100**ph.Coverage, errorMM.span(*ph.IntervalMM), errorDeg.span(*ph.IntervalDeg))}
	one.Lines = append(one.Lines, words[2:]...) // the scatter, where there is one, and the verdict
	one.Lines = append(one.Lines,
		fmt.Sprintf("mean of %s; the points open at %.3f mm of piston travel before TDC", count(ph.N, "pass", "passes"), travel(r, ph)))
}

// travel is where the points open [mm before TDC], for a phase that has a result.
func travel(r session.Report, ph session.Phase) float64 { return r.Specified.TravelMM + *ph.ErrorMM }

// changes lists what each cylinder was found like and left like.
func changes(r session.Report) []change {
	var out []change
	for _, c := range r.Cylinders {
		one := change{Cylinder: c.Name, Found: "not measured", Left: "not measured", Change: "not known"}
		for _, ph := range c.Phases {
			said := "no result"
			if ph.ErrorMM != nil {
				said = errorMM.words(*ph.ErrorMM)
			}
			if ph.Phase == logbook.AsFound {
				one.Found = said
			} else {
				one.Left = said
			}
		}
		for _, s := range r.Shifts {
			if s.Cylinder == c.Name {
				one.Change = difference(s.Difference)
				if s.ZeroedAnew {
					one.Change += "; the dial was set to zero anew in between, for another cylinder or to find TDC anew"
				}
			}
		}
		out = append(out, one)
	}
	return out
}

// gaps says what the gaps of the points were.
func gaps(r session.Report) []fact {
	var out []fact
	for _, g := range r.Gaps {
		for _, f := range g.Facts() {
			out = append(out, fact{f[0], f[1]})
		}
	}
	return out
}

// spreads says how far the cylinders lie apart, or why that is not told.
func spreads(r session.Report) (out []string, none string) {
	for _, s := range r.Spreads {
		said := fmt.Sprintf("%s: cylinder %s against cylinder %s: opens %s", s.Phase.Words(), s.Early, s.Late, difference(s.Difference))
		if s.Verdict != nil {
			verdict := map[string]string{timing.InTolerance.String(): "in tolerance", timing.OutOfTolerance.String(): "out of tolerance"}[*s.Verdict]
			if verdict == "" {
				verdict = "cannot tell"
			}
			said += fmt.Sprintf("; verdict: %s, at most %.2f mm apart allowed (probability in tolerance: %s)", verdict, *s.ToleranceMM, session.Percent(*s.InTolerance))
		}
		out = append(out, said)
	}
	if len(out) == 0 {
		none = "No two cylinders were measured in the same phase such that they can be compared."
	}
	return out, none
}

// notes returns what the caveats of a phase say. Many readings that are not used are counted: their table names them all.
func notes(caveats []timing.Caveat) []string {
	const most = 3
	isUnused := func(c timing.Caveat) bool { return c.Code == "pass_not_used" }
	n := 0
	for _, c := range caveats {
		if isUnused(c) {
			n++
		}
	}
	if n <= most {
		return messages(caveats)
	}
	rest := slices.DeleteFunc(slices.Clone(caveats), isUnused)
	return append([]string{fmt.Sprintf("%d readings are kept but not used; the table of what is not used names them", n)}, messages(rest)...)
}

// messages returns what caveats say.
func messages(caveats []timing.Caveat) []string {
	var out []string
	for _, c := range caveats {
		out = append(out, c.Message)
	}
	return out
}

// id is a name that no other part of the page has.
func id(what string, n int) string { return fmt.Sprintf("%s-%d", what, n+1) }
