package report

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/net/html"

	"breakcue/timing/logbook"
)

// sections returns the text below each h2, by its heading.
func sections(t *testing.T, page string) map[string]string {
	out, at := map[string]string{}, ""
	for _, n := range elements(t, page) {
		switch {
		case n.Data == "h2":
			at = text(n)
			require.NotContains(t, out, at, "two parts of one name")
			out[at] = ""
		case at != "" && n.Parent.Data == "main":
			out[at] += strings.Join(strings.Fields(spaced(n)), " ") + "\n"
		}
	}
	return out
}

// spaced is the text of an element with spaces between those of its parts.
func spaced(n *html.Node) string {
	var out strings.Builder
	for d := range n.Descendants() {
		if d.Type == html.TextNode {
			out.WriteString(d.Data + " ")
		}
	}
	return out.String()
}

// The figures are worked out by hand from the readings of the sample: means of 2.165 and 2.165 mm (the third pass is thrown
// away), 1.805, 1.805 and 1.80 mm, and as left 2.005, 2.01 and 2.005 mm. The angles were computed independently, by bisection of the
// travel of a crank of 54 mm with a rod of 110 mm: 0.819° and 1.019° off 19.916°.
func TestTheRecordTellsAll(t *testing.T) {
	got := sections(t, twin(t).page(t))
	for part, wants := range map[string][]string{
		"The session": {
			"Engine Barn engine", "Session 2026-05-04-1011-barn", "Begun 2026-05-04 10:11 (+02:00)", "Ended finished, 2026-05-04 10:11 (+02:00)",
			"Program breakcue test", "1 take-01.wav abab",
		},
		"What was measured": {
			"Cylinder left , as found Out of tolerance, too early 0.17 mm too early (opens too far before TDC), 0.82° of crank too early", "95 % interval: ",
			"single passes scatter by 0.000 mm", "verdict: out of tolerance, too early", "mean of 2 passes; the points open at 2.165 mm",
			`note: pass 3, reading "2.21/2.16", is kept but not used: it was thrown away`, "Cylinder right , as found Out of tolerance, too late 0.20 mm too late",
		},
		"As found against as left":  {"left 0.17 mm too early 0.01 mm too early 0.15 mm later (95 % interval: ", "the dial was set to zero anew in between", "right 0.20 mm too late not measured not known"},
		"Cylinder against cylinder": {"as found: cylinder left against cylinder right: opens 0.36 mm earlier (95 % interval: "},
		"What is specified": {
			"2 mm before TDC, which is 2.000 mm of piston travel and 19.92° of crank", "±0.1 mm: from 1.900 to 2.100 mm before TDC, 19.40° to 20.42° of crank",
			"stroke 54 mm, rod 110 mm between centres", "zeroed at top dead centre",
		},
		"The passes": {
			"1 2.19/2.14 (corrected; first typed 2.20/2.14 ) 2.190 2.140 2.165 take 1, number 1, at 1.0000 s used",
			"3 2.21/2.16 2.210 2.160 2.185 take 1, number 3, at 3.0000 s not used: it was thrown away",
			"3 - – – none take 1, number 6, at 6.0000 s not used: no reading was taken", "2 2.01 – – 2.010 take 1, number 9, at 9.0000 s used",
		},
		"What makes the results uncertain": {"Cylinder left , as found: uncertain because of", "scatter of the passes", "all together: root of the sum of squares"},
		"The figures checked by hand": {
			"mean: (2.165 + 2.165) / 2 = 2.1650 mm error: 2.1650 mm − 2.0000 mm = 0.1650 mm too early", "mean: (1.805 + 1.805 + 1.800) / 3 = 1.8033 mm error: 2.0000 mm − 1.8033 mm = 0.1967 mm too late",
			"r = 27 mm (half the stroke) and l = 110 mm", "mean: (2.005 + 2.010 + 2.005) / 3 = 2.0067 mm correction of the mean: 0.0043 mm added",
		},
		"What a reader must know": {"a compressor ran all the time", "1 opening without a reading (number 11 at 11.000 s)"},
		"Corrections": {
			"2026-05-04 10:11 (+02:00) the apprentice left, as found, pass 1 (entry 4): reading 2.20/2.14 2.19/2.14 mistyped",
			"left, as found, pass 3", "whether it counts counts does not count: it was thrown away the dial slipped",
		},
		"Kept, but not used":                  {"right , as found 3 - no reading was taken", "left , as found 3 2.21/2.16 it was thrown away", "11 1 11.0000"},
		"The steps of the job":                {"without the guide"},
		"Put back before the engine runs":     {"dial out, plug hole clear"},
		"The sheets that the figures rest on": {`name = "Lathe-shed twin"`, "graduation = 0.01"},
		"Cautions":                            {"The maker's manual, local codes and licensed practice come first."},
		"Signed":                              {"Measured by Date Signature Looked through by Date Signature Remarks"},
	} {
		for _, want := range wants {
			assert.Contains(t, got[part], want, part)
		}
	}
}

func TestTheOrderOfTheParts(t *testing.T) {
	var got []string
	for _, n := range elements(t, twin(t).page(t)) {
		if n.Data == "h2" {
			got = append(got, text(n))
		}
	}
	assert.Equal(t, []string{
		"The session", "What was measured", "As found against as left", "Cylinder against cylinder", "What is specified", "What the figures advise",
		"Pictures of the passes", "The passes", "What makes the results uncertain", "The figures checked by hand", "What a reader must know", "Corrections",
		"Kept, but not used", "The steps of the job", "Put back before the engine runs", "The sheets that the figures rest on", "Cautions", "Signed",
	}, got)
}

func TestWhatTheGuideSaw(t *testing.T) {
	s := guided(t)
	got, back := sections(t, s.page(t)), refit(t, s)
	for _, want := range []string{
		"read the specification done", "clean the points, set the gap, grease the cam skipped",
		"set the timing begun, but not finished", "make it safe not begun",
	} {
		assert.Contains(t, got["The steps of the job"], want)
	}
	list := strings.Split(text(bySection(t, s.page(t), "Put back before the engine runs")), "\n")
	assert.Equal(t, append(prefixed("not ticked: ", back[1:]), "ticked: "+back[0]), list)
	assert.Equal(t, 1, strings.Count(s.page(t), `class="box full"`), "the box of the one that was ticked")
	assert.Contains(t, got["Kept, but not used"], "between the measurements: they await no reading Number Take Heard at, s 3 1 3.0000")
}

// bySection returns the first list below an h2.
func bySection(t *testing.T, page, heading string) *html.Node {
	at := ""
	for _, n := range elements(t, page) {
		if n.Data == "h2" {
			at = text(n)
		}
		if n.Data == "ul" && at == heading {
			return n
		}
	}
	require.Fail(t, "no list", heading)
	return nil
}

func prefixed(with string, all []string) (out []string) {
	for _, one := range all {
		out = append(out, with+one)
	}
	return out
}

func TestNothingMeasured(t *testing.T) {
	got := sections(t, begun(t, "twin.toml", "dial.toml").page(t))
	assert.Contains(t, got["What was measured"], "Cylinder left Not measured This cylinder has no reading.")
	assert.Equal(t, "There is no pass that could be drawn.\n", got["Pictures of the passes"])
	assert.Equal(t, "No reading was typed.\n", got["The passes"])
	assert.Equal(t, "Nothing was corrected after it was written.\n", got["Corrections"])
	assert.Equal(t, "Every reading and every opening is used.\n", got["Kept, but not used"])
	assert.Contains(t, got["The session"], "Ended not ended")
}

// A page with many readings that are not used counts them with the result, and names each in its table.
func TestManyUnusedReadingsAreCounted(t *testing.T) {
	s := begun(t, "twin.toml", "dial.toml")
	s.passes("left", logbook.AsFound, "2.03/1.98", "a", "b", "c", "d")
	got := sections(t, s.page(t))
	assert.Contains(t, got["What was measured"], "4 readings are kept but not used")
	assert.NotContains(t, got["What was measured"], `reading "a"`)
	assert.Contains(t, got["Kept, but not used"], "left , as found 5 d ")
}

func TestSumsOfADialThatLeansOrIsZeroAtTheMark(t *testing.T) {
	pages := samples(t)
	// cos 0 / cos 25° is what a dial at 25° over a flat crown moves for each mm; its sheet says how it stands.
	assert.Contains(t, sections(t, pages["leaning"])["The figures checked by hand"], "its movement is divided by ")
	assert.Contains(t, sections(t, pages["leaning"])["The figures checked by hand"], "e = 1.5 mm (pin offset)")
	assert.Contains(t, sections(t, pages["mark"])["The figures checked by hand"], "2.000 mm, is added to each reading")
	assert.Contains(t, sections(t, pages["mark"])["The passes"], "1 0.12/0.08 2.120 2.080 2.100 take 1")
	assert.Contains(t, sections(t, pages["long"])["The figures checked by hand"], "sum of the 5000 travels used: ")
}

// Cylinders that are specified to lie no more than so far apart have a verdict: of 2° in the sheet of the four.
func TestCylindersApart(t *testing.T) {
	s := begun(t, "four.toml", "dial.toml")
	s.passes("1", logbook.AsFound, "0.60/0.57", "0.61/0.58", "0.60/0.57")
	s.passes("3", logbook.AsFound, "0.60/0.57", "0.61/0.58", "0.60/0.57")
	got := sections(t, s.page(t))
	assert.Contains(t, got["Cylinder against cylinder"], "as found: cylinder 1 against cylinder 3: opens at the same place, to 0.01 mm (95 % interval: ")
	assert.Contains(t, got["Cylinder against cylinder"], "verdict: in tolerance, at most 0.25 mm apart allowed (probability in tolerance: above 99 %)")
}

func TestOpeningsOfOneApproach(t *testing.T) {
	s := begun(t, "twin.toml", "dial.toml")
	s.add(logbook.Take{Take: 2, File: "-", ApproachS: 2}) // longer than the second between two openings
	for id := range int64(2) {
		s.add(logbook.Opening{Edge: logbook.Edge{Take: 2, ID: id + 1, TimeS: float64(id), Uncertainty: 1e-5}})
	}
	s.add(logbook.Reading{Text: "2.03/1.98", Cylinder: "left", Phase: logbook.AsFound, Take: 2, Opening: 1})
	got := sections(t, s.page(t))
	assert.Contains(t, got["The passes"], "take 2, number 1, at 0.0000 s, the first of 2 in one approach used")
	assert.Contains(t, got["The session"], "2 not kept not noted")
}

func TestEachCautionOnce(t *testing.T) {
	seen := map[string]bool{}
	for n := range bySection(t, twin(t).page(t), "Cautions").ChildNodes() {
		if n.Type == html.ElementNode {
			assert.False(t, seen[text(n)], text(n))
			seen[text(n)] = true
		}
	}
	assert.Greater(t, len(seen), 5)
}

// A sheet from a system that ends its lines with two characters looks like any other.
func TestLineEndsOfASheet(t *testing.T) {
	s := begun(t, "twin.toml", "dial.toml")
	b := s.j.Entries[0].Data.(logbook.Begin)
	b.DialSheet = strings.ReplaceAll(b.DialSheet, "\n", "\r\n")
	s.j.Entries[0].Data = b
	assert.Equal(t, begun(t, "twin.toml", "dial.toml").page(t), s.page(t))
}

// A correction of a sheet shows the lines that differ.
func TestACorrectedSheet(t *testing.T) {
	from, to := apart("a = 1\nb = 2\nc = 3", "a = 1\nb = 5\nc = 3")
	assert.Equal(t, "b = 2", from)
	assert.Equal(t, "b = 5", to)
	from, to = apart(strings.Repeat("ä", 700), "x")
	assert.Equal(t, strings.Repeat("ä", 599)+"…", from)
	assert.Equal(t, "x", to)
}
