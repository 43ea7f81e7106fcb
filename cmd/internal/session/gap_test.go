package session

import (
	"bytes"
	"encoding/json"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"breakcue/timing"
	"breakcue/timing/logbook"
)

// stepOf returns a step of the job by its ID.
func stepOf(t testing.TB, s Sheets, id string) Step {
	steps, err := Steps(s)
	require.NoError(t, err)
	for _, st := range steps {
		if st.ID == id {
			return st
		}
	}
	require.Fail(t, "no step "+id)
	return Step{}
}

// gap types a gap in a step, as a guide does.
func (g *guided) gap(t testing.TB, step, text string) logbook.Gap {
	d := g.sheets.Gap(stepOf(t, g.sheets, step).Asks, 0, text)
	_, err := g.Append(d)
	require.NoError(t, err)
	return d
}

func TestTheStepsAskForTheGap(t *testing.T) {
	s, err := LoadSheets(twin, dial)
	require.NoError(t, err)
	assert.Equal(t, []Ask{
		{1, logbook.AsFound, "Gap of set 1, cylinder left, as found, in mm"}, {2, logbook.AsFound, "Gap of set 2, cylinder right, as found, in mm"},
	}, stepOf(t, s, "gap_found").Asks)
	assert.Equal(t, []Ask{{1, logbook.AsLeft, "Gap of set 1, cylinder left, as left, in mm"}, {2, logbook.AsLeft, "Gap of set 2, cylinder right, as left, in mm"}},
		stepOf(t, s, "gap").Asks)
	single, err := LoadSheets("../../../testdata/sheets/single.toml", dial)
	require.NoError(t, err)
	assert.Equal(t, []Ask{{1, logbook.AsFound, "Gap of the points, as found, in thou"}}, stepOf(t, single, "gap_found").Asks)
	steps, err := Steps(s)
	require.NoError(t, err)
	for _, st := range steps {
		if raw, err := json.Marshal(st); assert.NoError(t, err) && st.ID != "gap" && st.ID != "gap_found" {
			assert.Contains(t, string(raw), `"asks":[]`)
		}
	}
}

func TestGapAsTyped(t *testing.T) {
	mm, err := LoadSheets(twin, dial)
	require.NoError(t, err)
	thou, err := LoadSheets("../../../testdata/sheets/single.toml", dial)
	require.NoError(t, err)
	for _, c := range []struct {
		s     Sheets
		text  string
		want  timing.Length
		words string
	}{
		{mm, "0.42", 0.42, "0.42 mm: 0.07 mm wider than specified"}, // 0.35 mm
		{mm, " 0,42 mm", 0.42, "0.42 mm: 0.07 mm wider than specified"},
		{mm, ".3", 0.3, "0.30 mm: 0.05 mm narrower than specified"},
		{mm, "0.354", 0.354, "0.35 mm: as specified"},
		{mm, "16.5thou", 16.5 * 0.0254, "0.42 mm: 0.07 mm wider than specified"},
		{mm, "0.017in", 0.017 * 25.4, "0.43 mm: 0.08 mm wider than specified"},
		{mm, "0", 0, "0.00 mm: 0.35 mm narrower than specified"},                  // worn till they open no more
		{thou, "16,5", 16.5 * 0.0254, "16.5 thou: 1.5 thou wider than specified"}, // 15 thou
		{thou, "0.381mm", 0.381, "15.0 thou: as specified"},
	} {
		got, err := c.s.ParseGap(c.text)
		require.NoError(t, err, c.text)
		assert.InDelta(t, float64(c.want), float64(got), 1e-12, "rounding only")
		assert.Equal(t, c.words, c.s.AgainstSpecified(got), c.text)
	}
	for text, why := range map[string]string{
		"17":         "gap, got 17 mm, want 0..2 mm, or a number with thou or in after it",
		"-0.4":       "gap, got -0.4 mm, want 0..2 mm",
		"0.4deg":     "length, got 0.4°, want a number with mm, in or thou",
		"about four": "no digits where the number should be",
		"":           "empty",
		"1.2.3":      "more than one decimal mark",
	} {
		_, err := mm.ParseGap(text)
		assert.ErrorContains(t, err, why, text)
	}
}

// One with a number is that of its set, whichever is asked for.
func TestGapOfASet(t *testing.T) {
	s, err := LoadSheets(twin, dial)
	require.NoError(t, err)
	asks := stepOf(t, s, "gap").Asks
	for _, c := range []struct {
		at   int
		text string
		want logbook.Gap
	}{
		{0, "0.42", logbook.Gap{Text: "0.42", Set: 1, Phase: logbook.AsLeft}},
		{1, " 0.42 ", logbook.Gap{Text: "0.42", Set: 2, Phase: logbook.AsLeft}},
		{1, "1*0.42", logbook.Gap{Text: "0.42", Set: 1, Phase: logbook.AsLeft}},
		{0, "2 * 16thou", logbook.Gap{Text: "16thou", Set: 2, Phase: logbook.AsLeft}},
		{0, "3*0.42", logbook.Gap{Text: "3*0.42", Set: 1, Phase: logbook.AsLeft, Unusable: `set of points, got "3", want 1..2`}},
		{0, "1*", logbook.Gap{Text: "", Set: 1, Phase: logbook.AsLeft, Unusable: `number, got "" (empty), want one number such as 1.98 or 1,98, then mm, in, thou or deg`}},
		{0, "\xff", logbook.Gap{Text: "\ufffd", Set: 1, Phase: logbook.AsLeft,
			Unusable: `number, got "` + "\ufffd" + `" (no digits where the number should be), want one number such as 1.98 or 1,98, then mm, in, thou or deg`}},
	} {
		assert.Equal(t, c.want, s.Gap(asks, c.at, c.text), c.text)
	}
}

func TestGapsInTheReport(t *testing.T) {
	g := newGuided(t, 0.3)
	g.passes(t, "left", logbook.AsFound, 1, "2.20/2.14", "2.18/2.15")
	assert.Empty(t, g.report(t).Gaps)
	g.step(t, "gap_found", logbook.StepBegun)
	g.gap(t, "gap_found", "0.5")
	g.gap(t, "gap_found", "0.42") // the newest counts
	g.gap(t, "gap_found", "about four")
	g.gap(t, "gap_found", "2*0.35")
	found := g.report(t)
	require.Len(t, found.Gaps, 2)
	assert.Equal(t, "0.42", found.Gaps[0].AsFound.Text)
	assert.InDelta(t, 0.07, found.Gaps[0].AsFound.WiderMM, 1e-12, "rounding only")
	assert.Nil(t, found.Gaps[0].AsLeft)
	assert.Nil(t, found.Gaps[0].Shift)
	assert.Equal(t, []string{"right"}, found.Gaps[1].Cylinders)
	assert.Contains(t, codes(found.Caveats), "gap_not_used")
	assert.NotContains(t, codes(found.Caveats), "gap_not_typed")
	assert.Contains(t, printed(t, found, false), `gap "about four" of set 1, as found, is kept but not used: number,`)
	before := found.Advice.Lines

	g.step(t, "gap", logbook.StepBegun)
	g.gap(t, "gap", "0.35")
	g.gap(t, "gap", "2*0.35")
	r := g.report(t)
	require.NotNil(t, r.Gaps[0].Shift)
	assert.Nil(t, r.Gaps[1].Shift, "it is what it was")
	want, err := g.sheets.Engine.Breaker.GapShift(g.sheets.Setup.Crank, g.sheets.Setup.Target.Angle, 0.42, 0.35)
	require.NoError(t, err)
	assert.Equal(t, want, *r.Gaps[0].Shift)
	text := printed(t, r, false)
	for _, said := range []string{
		"\ngap of the points at full lift, 0.35 mm (13.8 thou) specified\n  set 1 (cylinder left), as found: 0.42 mm: 0.07 mm wider than specified\n  set 1 (cylinder left), as left: 0.35 mm: as specified\n",
		"  set 1 (cylinder left), changed: from 0.42 to 0.35 mm, which opens the points\n    about 0.78° to 6.1° of crank later",
	} {
		assert.Contains(t, text, said)
	}
	for line := range strings.Lines(text) {
		assert.LessOrEqual(t, len([]rune(line)), Columns+1, line)
	}
	// The advice rests on what was measured before.
	require.Len(t, r.Advice.Lines, len(before)+1)
	assert.Contains(t, r.Advice.Lines[0], "the gap of set 1 (cylinder left) was changed after this was measured, from 0.42 to 0.35 mm, which opens the points about 0.78°")
	assert.Equal(t, before, r.Advice.Lines[1:])
	assert.NoError(t, reportSchema(t).Validate(asJSON(t, r)))
	// Measured after it, it is in what was measured.
	g.passes(t, "left", logbook.AsLeft, 10, "2.20/2.14", "2.18/2.15")
	assert.NotContains(t, strings.Join(g.report(t).Advice.Lines, "\n"), "was changed after")
}

// A step that is done though its gap was not typed is told of.
func TestGapNotTyped(t *testing.T) {
	g := newGuided(t, 0.3)
	g.step(t, "gap_found", logbook.StepBegun)
	g.gap(t, "gap_found", "2*0.35")
	assert.NotContains(t, codes(g.report(t).Caveats), "gap_not_typed")
	g.step(t, "gap_found", logbook.StepDone)
	g.step(t, "gap", logbook.StepBegun)
	g.step(t, "gap", logbook.StepSkipped)
	r := g.report(t)
	var said []string
	for _, c := range r.Caveats {
		if c.Code == "gap_not_typed" {
			said = append(said, c.Message)
		}
	}
	assert.Equal(t, []string{`the step "the gap as found" is done, but the gap of set 1, as found, was not typed: it is not known`}, said)
}

// What the plates are moved by is no longer right once the gap was changed, and that is said; it is asked where it is not known.
func TestSetItemsKnowTheGap(t *testing.T) {
	const asked, changed = "was the gap changed?", "the gap was changed, and that moved the timing"
	for _, c := range []struct {
		name string
		then func(g *guided)
		want string
	}{
		{"nothing typed", func(*guided) {}, asked},
		{"found alone", func(g *guided) { g.gap(t, "gap_found", "0.42"); g.gap(t, "gap_found", "2*0.35") }, asked},
		{"one set alone", func(g *guided) { g.gap(t, "gap_found", "0.35"); g.gap(t, "gap", "0.35") }, asked},
		{"skipped", func(g *guided) { g.step(t, "gap", logbook.StepBegun); g.step(t, "gap", logbook.StepSkipped) }, ""},
		{"as it was", func(g *guided) {
			for _, text := range []string{"0.35", "2*0.36"} {
				g.gap(t, "gap_found", text)
				g.gap(t, "gap", text)
			}
		}, ""},
		{"changed", func(g *guided) { g.gap(t, "gap_found", "2*0.35"); g.gap(t, "gap", "2*0.42") }, changed},
		{"changed, then measured", func(g *guided) {
			for _, text := range []string{"0.42", "2*0.42"} {
				g.gap(t, "gap_found", text)
			}
			for _, text := range []string{"0.35", "2*0.35"} {
				g.gap(t, "gap", text)
			}
			g.passes(t, "left", logbook.AsLeft, 20, "2.20/2.14", "2.18/2.15")
		}, ""},
		{"changed once more after it was measured", func(g *guided) {
			g.gap(t, "gap", "0.35")
			g.passes(t, "left", logbook.AsLeft, 20, "2.20/2.14", "2.18/2.15")
			g.gap(t, "gap", "0.38")
		}, changed},
	} {
		t.Run(c.name, func(t *testing.T) {
			g := newGuided(t, 0.3)
			g.passes(t, "left", logbook.AsFound, 1, "2.20/2.14", "2.18/2.15")
			c.then(g)
			items := strings.Join(SetItems(g.report(t)), "\n")
			assert.Contains(t, items, "move the base plate")
			if c.want == "" {
				assert.NotContains(t, items, "the gap")
			} else {
				assert.Contains(t, items, c.want)
			}
		})
	}
}

func TestGapSinceLast(t *testing.T) {
	job := func(step string, gaps ...string) logbook.Journal {
		g := newGuided(t, 0.3)
		g.passes(t, "left", logbook.AsFound, 1, "2.01/1.98", "2.02/2.00")
		for _, text := range gaps {
			g.gap(t, step, text)
		}
		if step == "gap" {
			g.step(t, "gap", logbook.StepDone)
			g.passes(t, "left", logbook.AsLeft, 10, "2.01/1.98", "2.02/2.00")
		}
		return logbook.Journal{Entries: g.entries}
	}
	s, err := SinceLast(job("gap", "0.35", "2*0.35"), job("gap_found", "0.30", "2*0.37"))
	require.NoError(t, err)
	require.Len(t, s.Gaps, 2)
	assert.Equal(t, GapNarrower, s.Gaps[0].Changed)
	assert.Equal(t, GapStanding{logbook.AsLeft, 0.35, "0.35 mm"}, s.Gaps[0].Then)
	assert.Equal(t, GapStanding{logbook.AsFound, 0.3, "0.30 mm"}, s.Gaps[0].Now)
	// Feelers tell 0.031 mm apart: 0.04 mm (1 - sqrt(0.05)).
	assert.Equal(t, MovedUnknown, s.Gaps[1].Changed)
	var b bytes.Buffer
	require.NoError(t, s.Print(&b))
	for _, want := range []string{"set 1 (cylinder left): 0.35 mm then, as left; 0.30 mm now, as found: 0.05 mm\n    narrower, which opens the points about ",
		"set 2 (cylinder right): 0.35 mm then, as left; 0.37 mm now, as found: no\n    change that feelers could tell", "the gap of set 1 has become narrower, as it does when the heel wears"} {
		assert.Contains(t, b.String(), want)
	}
	wider, err := SinceLast(job("gap", "0.35"), job("gap_found", "0.40"))
	require.NoError(t, err)
	assert.Contains(t, strings.Join(wider.Causes, "\n"), "as it does when the contacts burn away")
	unknown, err := SinceLast(job("gap"), job("gap_found", "0.40"))
	require.NoError(t, err)
	assert.Empty(t, unknown.Gaps)
	found, err := SinceLast(job("gap_found", "0.40"), job("gap_found", "0.40"))
	require.NoError(t, err)
	require.Len(t, found.Gaps, 1)
	assert.Equal(t, logbook.AsFound, found.Gaps[0].Then.Phase, "nobody worked on it")

	g := newGuided(t, 0.3)
	g.gap(t, "gap_found", "0.40")
	g.step(t, "gap", logbook.StepBegun)
	g.step(t, "gap", logbook.StepDone)
	set, err := SinceLast(logbook.Journal{Entries: g.entries}, job("gap_found", "0.40"))
	require.NoError(t, err)
	assert.Empty(t, set.Gaps, "it was set to nobody knows what")
}

// Where all gaps are known nobody is sent to measure them first.
func TestCausesKnowTheGap(t *testing.T) {
	causes := func(gap bool) string {
		then, now := newGuided(t, 0.3), newGuided(t, 0.3)
		then.passes(t, "left", logbook.AsLeft, 1, "2.01/1.98", "2.02/2.00", "2.01/1.99")
		now.passes(t, "left", logbook.AsFound, 1, "1.82/1.79", "1.81/1.79", "1.82/1.80")
		for _, text := range []string{"0.35", "2*0.35"} {
			then.gap(t, "gap", text)
			if gap || text == "0.35" {
				now.gap(t, "gap_found", text)
			}
		}
		s, err := SinceLast(logbook.Journal{Entries: then.entries}, logbook.Journal{Entries: now.entries})
		require.NoError(t, err)
		require.Len(t, s.Causes, 1)
		return s.Causes[0]
	}
	assert.Contains(t, causes(false), "or a plate has slipped; measure the gap first")
	assert.True(t, strings.HasSuffix(causes(true), "or a plate has slipped"), causes(true))
}

func TestGapIsCorrected(t *testing.T) {
	g := newGuided(t, 0.3)
	g.gap(t, "gap_found", "4.2")
	bad := int64(len(g.entries))
	g.gap(t, "gap_found", "2*0.35")
	good := int64(len(g.entries))
	correct := func(seq int64, field string, value any) (Report, error) {
		c, err := NewCorrector(logbook.Journal{Entries: g.entries})
		require.NoError(t, err)
		of := Correction{Seq: seq}
		if err := c.Set(&of, field, value); err != nil {
			return Report{}, err
		}
		_, r, err := c.Entries(of, int64(len(g.entries)+1), "why", "who")
		require.NoError(t, err)
		return r, nil
	}
	r, err := correct(bad, "text", "0.42")
	require.NoError(t, err)
	assert.InDelta(t, 0.42, r.Gaps.Of(1, logbook.AsFound).MM, 1e-12, "what kept the old text from being used no longer holds; rounding only")
	assert.NotContains(t, codes(r.Caveats), "gap_not_used")
	r, err = correct(good, "unusable", "the wrong feeler")
	require.NoError(t, err)
	assert.Empty(t, r.Gaps)
	assert.Contains(t, printed(t, r, false), "gap \"0.35\" of set 2, as found, is kept but not used: the wrong feeler")
	// What keeps the new text from being used was written with it.
	for _, field := range []logbook.Amend{{Seq: bad, Field: "text", To: []byte(`"0.42"`)}, {Seq: bad, Field: "unusable", To: []byte(`"the wrong feeler"`)}} {
		_, err := g.Append(field)
		require.NoError(t, err)
	}
	r = g.report(t)
	assert.Nil(t, r.Gaps.Of(1, logbook.AsFound))
	assert.Contains(t, printed(t, r, false), "is kept but not used: the wrong feeler")
	r, err = correct(good, "phase", "as_left")
	require.NoError(t, err)
	assert.NotNil(t, r.Gaps.Of(2, logbook.AsLeft))
	for field, bad := range map[string]any{"text": "four", "set": 3, "phase": "later"} {
		_, err := correct(good, field, bad)
		assert.Error(t, err, field)
	}
}

// A journal that somebody has changed, or another engine's: nothing is made up of a gap that belongs nowhere.
func TestGapThatBelongsNowhere(t *testing.T) {
	g := newGuided(t, 0.3)
	for _, d := range []logbook.Gap{{Text: "0.4", Set: 0, Phase: logbook.AsLeft}, {Text: "0.4", Set: 3, Phase: logbook.AsLeft}, {Text: "0.4", Set: 1, Phase: "later"}} {
		_, err := g.Append(d)
		require.NoError(t, err)
	}
	r := g.report(t)
	assert.Empty(t, r.Gaps)
	n := 0
	for _, code := range codes(r.Caveats) {
		if code == "gap_not_used" {
			n++
		}
	}
	assert.Equal(t, 3, n)
}

func TestGapInTheTable(t *testing.T) {
	g := newGuided(t, 0.3)
	g.passes(t, "left", logbook.AsFound, 1, "2.20/2.14")
	g.passes(t, "right", logbook.AsFound, 2, "2.20/2.14")
	g.passes(t, "left", logbook.AsLeft, 3, "2.20/2.14")
	g.gap(t, "gap_found", "0,42")
	var b bytes.Buffer
	require.NoError(t, WriteCSV(&b, []Report{g.report(t)}, false))
	var ends []string
	for line := range strings.Lines(b.String()) {
		cells := strings.Split(strings.TrimSpace(line), ",")
		ends = append(ends, strings.Join(cells[len(cells)-2:], ","))
	}
	assert.Equal(t, []string{"gap_specified_mm,gap_mm", "0.35,0.42", ",", ","}, ends)
}

// Whatever is typed, an entry keeps it, and it counts just when it is a gap.
func TestPropertyGapAsTyped(t *testing.T) {
	s, err := LoadSheets(twin, dial)
	require.NoError(t, err)
	asks := stepOf(t, s, "gap").Asks
	rapid.Check(t, func(t *rapid.T) {
		text := rapid.OneOf(rapid.String(), rapid.StringMatching(`[0-9*.,]{0,6}( ?(mm|thou|in))?`)).Draw(t, "text")
		d := s.Gap(asks, rapid.IntRange(0, 1).Draw(t, "at"), text)
		require.True(t, utf8.ValidString(d.Text))
		require.Contains(t, []int{1, 2}, d.Set)
		l, err := s.ParseGap(d.Text)
		require.Equal(t, err == nil, d.Unusable == "", d.Unusable)
		if err == nil {
			require.True(t, l >= 0 && l <= 2)
			require.NotEmpty(t, s.AgainstSpecified(l))
		}
	})
}

// Who works in thousandths reads of a change in thousandths.
func TestChangeOfTheGapInTheUnitOfTheSheet(t *testing.T) {
	s, err := LoadSheets("../../../testdata/sheets/punt.toml", dial)
	require.NoError(t, err)
	require.Equal(t, timing.Thou, s.Engine.GapUnit)
	g, later := guidedOn(t, s, 0.3), guidedOn(t, s, 0.3)
	g.gap(t, "gap_found", "16.5")
	g.gap(t, "gap", "14")
	later.gap(t, "gap_found", "12")
	r := g.report(t)
	require.Len(t, r.Gaps, 1)
	facts := r.Gaps[0].Facts()
	assert.Contains(t, facts[len(facts)-1][1], "from 16.5 to 14.0 thou, which opens the points")
	since, err := SinceLast(logbook.Journal{Entries: g.entries}, logbook.Journal{Entries: later.entries})
	require.NoError(t, err)
	var b bytes.Buffer
	require.NoError(t, since.Print(&b))
	assert.Contains(t, flat(b.String()), "14.0 thou then, as left; 12.0 thou now, as found: 2.0 thou narrower, which opens the points")
}
