package session

import (
	"fmt"
	"slices"
	"strings"

	"breakcue/timing"
	"breakcue/timing/logbook"
)

// Gap is the gap of a set of points at full lift, as it was typed.
type Gap struct {
	Set         int      `json:"set"` // from 1
	Cylinders   []string `json:"cylinders"`
	SpecifiedMM float64  `json:"specified_mm"`
	// AsFound and AsLeft are the newest usable ones; null where none was typed.
	AsFound *GapReading `json:"as_found"`
	AsLeft  *GapReading `json:"as_left"`
	// Shift is what the change from the one to the other did to the timing; null where there was none, or where it cannot be had.
	Shift *timing.GapShift `json:"shift"`
}

// GapReading is a gap that was typed.
type GapReading struct {
	Entry   int64   `json:"entry"` // of the journal
	Text    string  `json:"text"`
	MM      float64 `json:"gap_mm"`
	WiderMM float64 `json:"wider_mm"` // than specified; negative: narrower
	Words   string  `json:"words"`    // "0.42 mm: 0.07 mm wider than specified"

	size string // "0.42 mm", in the unit of the engine sheet
}

// In returns the gap in a phase, nil where none was typed.
func (g Gap) In(phase logbook.Phase) *GapReading {
	if phase == logbook.AsLeft {
		return g.AsLeft
	}
	return g.AsFound
}

// Gaps are those of the sets of points, as far as any was typed.
type Gaps []Gap

// Of returns the gap of a set of points in a phase, nil where none was typed.
func (all Gaps) Of(set int, phase logbook.Phase) *GapReading {
	for _, g := range all {
		if g.Set == set {
			return g.In(phase)
		}
	}
	return nil
}

// changed tells that the gap was left another than it was found.
func (g Gap) changed() bool {
	return g.AsFound != nil && g.AsLeft != nil && !sameGap(timing.Length(g.AsFound.MM), timing.Length(g.AsLeft.MM))
}

// gaps takes the gaps that were typed into the report. typed are the entries before any amendment.
func (b *builder) gaps(entries, typed []logbook.Entry) {
	breaker := b.sheets.Engine.Breaker
	sets := map[int]*Gap{}
	for i, e := range entries {
		d, ok := e.Data.(logbook.Gap)
		if !ok {
			continue
		}
		mm, unused := b.gapOf(d, typed[i])
		if unused != "" {
			b.caveat("gap_not_used", "gap %q of set %d, %s, is kept but not used: %s", d.Text, d.Set, d.Phase.Words(), unused)
			continue
		}
		if sets[d.Set] == nil {
			sets[d.Set] = &Gap{Set: d.Set, Cylinders: b.sheets.of(d.Set - 1), SpecifiedMM: float64(breaker.Gap)}
		}
		read := &GapReading{e.Seq, d.Text, float64(mm), float64(mm - breaker.Gap), b.sheets.AgainstSpecified(mm), b.sheets.length(mm)}
		if d.Phase == logbook.AsLeft {
			sets[d.Set].AsLeft = read
		} else {
			sets[d.Set].AsFound = read
		}
	}
	for set := 1; set <= breaker.Sets; set++ {
		g := sets[set]
		if g == nil {
			continue
		}
		if g.changed() {
			found, left := timing.Length(g.AsFound.MM), timing.Length(g.AsLeft.MM)
			if s, err := breaker.GapShift(b.sheets.Setup.Crank, b.sheets.Setup.Target.Angle, found, left); err == nil {
				g.Shift = &s
			}
		}
		b.report.Gaps = append(b.report.Gaps, *g)
	}
	b.untypedGaps(entries)
}

// gapOf reads a gap, or says why it cannot be used. The reason in the entry was written for the text of that time.
func (b *builder) gapOf(d logbook.Gap, typed logbook.Entry) (mm timing.Length, unused string) {
	was, _ := typed.Data.(logbook.Gap)
	mm, err := b.sheets.ParseGap(d.Text)
	switch {
	case err != nil:
		return 0, reason(err)
	case d.Set < 1 || d.Set > b.sheets.Engine.Breaker.Sets:
		return 0, fmt.Sprintf("the engine sheet has no set %d", d.Set)
	case d.Phase != logbook.AsFound && d.Phase != logbook.AsLeft:
		return 0, fmt.Sprintf("there is no phase %q", d.Phase)
	case d.Text == was.Text || d.Unusable != was.Unusable:
		return mm, d.Unusable
	}
	return mm, ""
}

// untypedGaps says which gaps were measured or set, by the steps, and are not written down.
func (b *builder) untypedGaps(entries []logbook.Entry) {
	if b.report.Steps == nil {
		return
	}
	for _, st := range b.steps {
		if !slices.Contains(b.report.Steps.Done, st.ID) {
			continue
		}
		for _, a := range st.Asks {
			if b.report.Gaps.Of(a.Set, a.Phase) == nil {
				b.caveat("gap_not_typed", "the step %q is done, but the gap of set %d, %s, was not typed: it is not known", st.Title, a.Set, a.Phase.Words())
			}
		}
	}
}

// of names the cylinders of a set of points, counted from 0.
func (s Sheets) of(set int) []string {
	out := []string{}
	for i, c := range s.Engine.Cylinders {
		if i%s.Engine.Breaker.Sets == set {
			out = append(out, c)
		}
	}
	return out
}

// gapChanged says of each set whose gap was changed after its cylinders were last measured what that did to them.
func (b *builder) gapChanged() []string {
	var out []string
	for _, g := range b.report.Gaps {
		if !g.changed() || !slices.ContainsFunc(g.Cylinders, func(c string) bool {
			_, phase, ok := b.last(c)
			return ok && phase == logbook.AsFound
		}) {
			continue
		}
		out = append(out, fmt.Sprintf("the gap of set %d (%s) was changed after this was measured, %s: measure again before any plate is moved",
			g.Set, cylindersOf(g.Cylinders), g.change()))
	}
	return out
}

// change says from what to what the gap went, and what that does: "from 0.42 to 0.35 mm, which opens the points …".
func (g Gap) change() string {
	found, _, _ := strings.Cut(g.AsFound.size, " ")
	said := "from " + found + " to " + g.AsLeft.size
	if g.Shift == nil {
		return said + ", which moves the timing further than can be told"
	}
	return said + ", which " + g.Shift.Words()
}

// cylindersOf names cylinders.
func cylindersOf(names []string) string {
	if len(names) == 1 {
		return "cylinder " + names[0]
	}
	return "cylinders " + list(names)
}

// gaps says what was typed of the gaps of the points.
func (p *printer) gaps(gaps []Gap) {
	p.line("gap of the points at full lift, %s specified", lengthOf(timing.Length(gaps[0].SpecifiedMM)))
	for _, g := range gaps {
		for _, f := range g.Facts() {
			p.sentence("  ", "%s: %s", f[0], f[1])
		}
	}
}

// Facts say for people what the gap is in each phase, and what its change did, each with its name.
func (g Gap) Facts() [][2]string {
	which := fmt.Sprintf("set %d (%s), ", g.Set, cylindersOf(g.Cylinders))
	var out [][2]string
	for _, phase := range []logbook.Phase{logbook.AsFound, logbook.AsLeft} {
		said := "not typed"
		if read := g.In(phase); read != nil {
			said = read.Words
		}
		out = append(out, [2]string{which + phase.Words(), said})
	}
	if g.changed() {
		out = append(out, [2]string{which + "changed", g.change() + "; that part of the change of the timing is the gap's, not a plate's"})
	}
	return out
}
