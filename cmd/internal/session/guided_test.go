package session

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"breakcue/timing/logbook"
)

// guided is a session whose entries are kept in memory.
type guided struct {
	sheets  Sheets
	entries []logbook.Entry
	rec     *Recorder
}

func newGuided(t require.TestingT, approachS float64) *guided {
	s, err := LoadSheets(twin, dial)
	require.NoError(t, err)
	return guidedOn(t, s, approachS)
}

func guidedOn(t require.TestingT, s Sheets, approachS float64) *guided {
	g := &guided{sheets: s}
	_, err := g.Append(s.Begin("test"))
	require.NoError(t, err)
	g.rec, err = NewRecorder(g, s.Setup, logbook.Take{Take: 1, ApproachS: approachS}, nil, nil)
	require.NoError(t, err)
	return g
}

// Append implements Journal.
func (g *guided) Append(d logbook.Data) (logbook.Entry, error) {
	e := logbook.Entry{Seq: int64(len(g.entries) + 1), Time: clock(), Data: d}
	g.entries = append(g.entries, e)
	return e, nil
}

func (g *guided) step(t require.TestingT, id string, state logbook.StepState) {
	_, err := g.Append(logbook.Step{Step: id, State: state})
	require.NoError(t, err)
	g.rec.Measuring(Measures(id))
}

func (g *guided) tick(t require.TestingT, item string) {
	_, err := g.Append(logbook.Tick{Step: "put_together", Item: item})
	require.NoError(t, err)
}

func (g *guided) report(t require.TestingT) Report {
	r, err := FromJournal(logbook.Journal{Entries: g.entries})
	require.NoError(t, err)
	return r
}

// hear lets an opening and a closing be heard, at so many seconds.
func (g *guided) hear(t require.TestingT, id int64, at float64) {
	require.NoError(t, g.rec.Hear(change(true, id, 0, at)))
	require.NoError(t, g.rec.Hear(change(false, id, 0, at+0.1)))
}

var left = logbook.Place{Cylinder: "left", Phase: logbook.AsFound}

func TestOpeningsBetweenTheMeasurementsAreNoPasses(t *testing.T) {
	g := newGuided(t, 0.3)
	g.step(t, "cable", logbook.StepBegun)
	g.hear(t, 1, 1)
	assert.Zero(t, g.rec.Waiting())
	unusable, err := g.rec.Reading(Typed{Text: "2.09", Place: left})
	require.NoError(t, err)
	assert.Empty(t, unusable)
	g.step(t, "measure/left/as_found", logbook.StepBegun)
	g.hear(t, 2, 1.2) // chatter of the one before, which began before
	assert.Zero(t, g.rec.Waiting())
	g.hear(t, 3, 2)
	_, err = g.rec.Reading(Typed{Text: "2.01", Place: left})
	require.NoError(t, err)
	g.hear(t, 4, 3)
	g.step(t, "gap", logbook.StepBegun)
	g.hear(t, 5, 3.2) // chatter of one that counts
	assert.Equal(t, 1, g.rec.Waiting())
	_, _, _, ok := g.rec.Next()
	assert.False(t, ok, "a reading belongs to none")
	g.hear(t, 6, 4)
	g.hear(t, 7, 5)
	assert.Equal(t, 1, g.rec.Waiting())
	unusable, err = g.rec.Reading(Typed{Text: "7*2.02", Place: left, Number: 0})
	require.NoError(t, err)
	assert.NotEmpty(t, unusable, "the number was not taken off")
	unusable, err = g.rec.ReadingOf(7, Typed{Text: "2.02", Place: left})
	require.NoError(t, err)
	assert.Empty(t, unusable)

	r := g.report(t)
	assert.Equal(t, []string{"", "", "2.01", "", "", "", "2.02"}, pairing(r, 7))
	ids := func(edges []Edge) (out []int64) {
		for _, e := range edges {
			out = append(out, e.ID)
		}
		return out
	}
	assert.Equal(t, []int64{4}, ids(r.Unread))
	assert.Equal(t, 2, r.Unread[0].Openings, "an approach that began stays one")
	assert.Equal(t, []int64{1, 6}, ids(r.Steps.Openings))
	assert.Contains(t, printed(t, r, false), "1 opening without a reading (left, as found: number 4 at 3.000 s)")
	assert.Contains(t, printed(t, r, false), "2 openings heard in other steps")
	assert.NoError(t, reportSchema(t).Validate(asJSON(t, r)))
	for _, e := range g.entries {
		if d, ok := e.Data.(logbook.Reading); ok {
			assert.NotEqual(t, "-", d.Text)
		}
	}

	place := logbook.Place{Cylinder: "left", Phase: logbook.AsLeft}
	n := len(g.entries)
	_, err = g.rec.ThrowAway(6, place, "why", "who")
	require.NoError(t, err)
	assert.Len(t, g.entries, n, "there is nothing to throw away")
}

func TestWhatIsDoneAndWhatIsPutBack(t *testing.T) {
	g := newGuided(t, 0)
	assert.Nil(t, g.report(t).Steps)
	assert.NotContains(t, asJSON(t, g.report(t)), "steps")
	steps, err := Steps(g.sheets)
	require.NoError(t, err)
	g.step(t, steps[0].ID, logbook.StepBegun)
	assert.Contains(t, strings.Join(strings.Fields(printed(t, g.report(t), false)), " "),
		fmt.Sprintf("Not begun (%d): make it safe; open it up; clip the cable on; TDC of cylinder left, as found; and %d more.", len(steps)-1, len(steps)-5))
	for _, st := range steps {
		g.step(t, st.ID, logbook.StepBegun)
		switch st.ID {
		case "gap", "set":
			g.step(t, st.ID, logbook.StepSkipped)
		case "start":
		default:
			g.step(t, st.ID, logbook.StepDone)
		}
	}
	r := g.report(t)
	assert.Equal(t, []string{"gap", "set"}, r.Steps.Skipped)
	assert.Equal(t, []string{"start"}, r.Steps.Begun)
	assert.Empty(t, r.Steps.NotBegun)
	assert.Len(t, r.Steps.Done, len(steps)-3)
	list := steps[slices.IndexFunc(steps, func(st Step) bool { return st.Work == ByTick })].Do
	require.Greater(t, len(list), 3)
	assert.Equal(t, list, r.Steps.NotTicked, "done is not ticked")
	text := strings.Join(strings.Fields(printed(t, r, false)), " ")
	assert.Contains(t, text, fmt.Sprintf("Steps: %d done. Skipped (2): clean the points, set the gap, grease the cam; set the timing. Begun but not done (1): fuel and the first start.", len(steps)-3))
	assert.Contains(t, text, "Not ticked as put back: "+list[0]+"; ")
	assert.Contains(t, text, "note: cylinder left has no reading note:", "no line need name it: the step does")
	assert.NoError(t, reportSchema(t).Validate(asJSON(t, r)))

	ticked := func() []string { return g.report(t).Steps.Ticked }
	g.tick(t, list[1])
	g.tick(t, list[0])
	g.tick(t, "a thing of another version")
	assert.Equal(t, list[:2], ticked())
	assert.Equal(t, list[2:], g.report(t).Steps.NotTicked)
	g.step(t, "put_together", logbook.StepBegun)
	assert.Empty(t, ticked(), "done, and begun again")
	assert.Contains(t, g.report(t).Steps.Begun, "put_together")
	g.tick(t, list[0])
	g.step(t, "put_together", logbook.StepBegun)
	g.step(t, "start", logbook.StepBegun)
	assert.Equal(t, list[:1], ticked(), "gone on with")
	g.step(t, "cable", logbook.StepBegun)
	assert.Empty(t, ticked(), "the cable is on again")
	assert.Contains(t, g.report(t).Steps.Begun, "cable", "not done until done again")
	for _, one := range list {
		g.tick(t, one)
	}
	g.step(t, "cable", logbook.StepDone)
	assert.Contains(t, printed(t, g.report(t), false), fmt.Sprintf("Ticked as put back: all %d.", len(list)))

	g.step(t, "of a later version", logbook.StepBegun)
	g.step(t, "gap", "of a later version")
	assert.Equal(t, []string{"gap", "start", "of a later version"}, slices.DeleteFunc(g.report(t).Steps.Begun, func(id string) bool { return id == "put_together" }))
	assert.Empty(t, g.report(t).figures().Steps.Openings)
}

// Whatever the order: recorder and journal agree which openings await a reading, and none is written for one that awaits none.
func TestRecorderAndJournalAgree(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		g := newGuided(t, rapid.SampledFrom([]float64{0, 0.3}).Draw(t, "approach"))
		at, id := 1.0, int64(0)
		for range rapid.IntRange(0, 40).Draw(t, "things") {
			place := rapid.SampledFrom([]logbook.Place{left, {Cylinder: "right", Phase: logbook.AsLeft}}).Draw(t, "place")
			text := rapid.SampledFrom([]string{"2.03/1.98", "1.97", "-", "about", "2.03/", "5*1.9"}).Draw(t, "text")
			var err error
			switch rapid.IntRange(0, 6).Draw(t, "what") {
			case 0, 1:
				id++
				at += rapid.SampledFrom([]float64{0.2, 1}).Draw(t, "later")
				g.hear(t, id, at)
			case 2:
				step := rapid.SampledFrom([]string{"measure/left/as_found", "gap", "put_together", "measures"}).Draw(t, "step")
				g.step(t, step, rapid.SampledFrom([]logbook.StepState{logbook.StepBegun, logbook.StepDone, logbook.StepSkipped}).Draw(t, "state"))
			case 3:
				_, err = g.rec.Reading(Typed{Text: text, Place: place})
			case 4:
				_, err = g.rec.Reading(Typed{Text: text, Place: place, Number: rapid.IntRange(1, int(id)+2).Draw(t, "number")})
			case 5:
				_, err = g.rec.ReadingOf(rapid.Int64Range(0, id+1).Draw(t, "opening"), Typed{Text: text, Place: place})
			case 6:
				_, err = g.rec.ThrowAway(rapid.Int64Range(0, id+1).Draw(t, "thrown"), place, "why", "who")
			}
			require.NoError(t, err)

			b, err := build(logbook.Journal{Entries: g.entries})
			require.NoError(t, err)
			r := g.report(t)
			var wantOpen, gotOpen []int64
			for i, p := range g.rec.pairs {
				if !p.done {
					wantOpen = append(wantOpen, g.rec.heard.approaches[i].ID)
				}
			}
			for _, e := range r.Unread {
				gotOpen = append(gotOpen, e.ID)
			}
			require.Equal(t, wantOpen, gotOpen, "await a reading")
			for i, p := range g.rec.pairs {
				require.Equal(t, p.used > 0 && !p.thrown, b.used[i], "opening %d has a reading that is used", g.rec.heard.approaches[i].ID)
			}
			require.Equal(t, len(wantOpen), g.rec.Waiting())
		}
	})
}
