package session

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"breakcue/timing/logbook"
)

// twoTakes is a journal with openings 1 to 3 in each of two takes; readings are typed for the first take alone.
func twoTakes(t testing.TB) logbook.Journal {
	dir, _, w := recorded(t, 3, "# left as_found\n2.20/2.14\n2.18/2.15\n2.21/2.16\n")
	s, err := LoadSheets(twin, dial)
	require.NoError(t, err)
	_, err = NewRecorder(w, s.Setup, logbook.Take{Take: 2, File: "y.wav"}, openings(3), nil)
	require.NoError(t, err)
	j, err := logbook.Read(dir)
	require.NoError(t, err)
	return j
}

// corrected is a journal with a correction.
func corrected(t require.TestingT, j logbook.Journal, c *Corrector, of Correction) logbook.Journal {
	next := j.Entries[len(j.Entries)-1].Seq + 1
	data, _, err := c.Entries(of, next, "why", "who")
	require.NoError(t, err)
	out := logbook.Journal{Entries: append([]logbook.Entry{}, j.Entries...)}
	for i, d := range data {
		out.Entries = append(out.Entries, logbook.Entry{Seq: next + int64(i), Data: d})
	}
	return out
}

func TestOpeningsOfSeveralTakes(t *testing.T) {
	j := twoTakes(t)
	c, err := NewCorrector(j)
	require.NoError(t, err)
	place := logbook.Place{Cylinder: "left", Phase: logbook.AsLeft}
	_, err = c.Opening(0, 2, &place)
	require.ErrorContains(t, err, "opening 2 could be that of take 1 or 2")
	_, err = c.Opening(1, 2, &place)
	require.ErrorContains(t, err, "opening 2 has a reading: pass 2 of left, as found")
	_, err = c.Opening(2, 2, nil)
	require.ErrorIs(t, err, ErrNoPlace)

	// Those of the second take in whatever order: the passes come in the order of the openings.
	for _, one := range []struct {
		id   int64
		text string
	}{{3, "2.03/2.00"}, {1, "2.01/1.98"}} {
		c, err = NewCorrector(j)
		require.NoError(t, err)
		of, err := c.Opening(2, one.id, &place)
		require.NoError(t, err)
		require.NoError(t, c.Read(&of, one.text))
		j = corrected(t, j, c, of)
	}
	r, err := FromJournal(j)
	require.NoError(t, err)
	left, ok := r.Phase(place)
	require.True(t, ok)
	require.Len(t, left.Passes, 2)
	assert.Equal(t, "2.01/1.98", left.Passes[0].Reading)
	assert.Equal(t, 2, left.Passes[0].Edge.Take)
	assert.Equal(t, "2.03/2.00", left.Passes[1].Reading)
	assert.Equal(t, 2, left.N)
	require.Len(t, r.Unread, 1)
	said := ""
	for _, caveat := range r.Caveats {
		said += caveat.Message + "\n"
	}
	assert.Contains(t, said, "1 opening without a reading (number 2 of take 2 at 2.000 s)")
}

// The stored reason of a reading is that of its old text, but one that was thrown away stays so whatever it says.
func TestAReadingThrownAwayStaysSoWhenItIsCorrected(t *testing.T) {
	j := twoTakes(t)
	at := logbook.Place{Cylinder: "left", Phase: logbook.AsFound}
	step := func(what func(*Corrector, *Correction) error) Pass {
		c, err := NewCorrector(j)
		require.NoError(t, err)
		seq, err := c.Pass(at, 1)
		require.NoError(t, err)
		of := Correction{Seq: seq}
		require.NoError(t, what(c, &of))
		j = corrected(t, j, c, of)
		r, err := FromJournal(j)
		require.NoError(t, err)
		p, ok := r.Phase(at)
		require.True(t, ok)
		return p.Passes[0]
	}
	assert.Equal(t, thrownByHand, step((*Corrector).ThrowAway).Unused)
	p := step(func(c *Corrector, of *Correction) error { return c.Read(of, "2.19/2.14") })
	assert.Equal(t, thrownByHand, p.Unused)
	assert.Equal(t, "2.19/2.14", p.Reading)
	assert.Empty(t, step((*Corrector).BringBack).Unused)
}

// Whatever is corrected, and however often: what was written stays as it was, every correction can be applied, and the
// results can be worked out.
func TestPropertyCorrectionsOnlyAdd(t *testing.T) {
	begin := twoTakes(t)
	rapid.Check(t, func(t *rapid.T) {
		j := begin
		for range rapid.IntRange(1, 8).Draw(t, "corrections") {
			c, err := NewCorrector(j)
			require.NoError(t, err)
			place := logbook.Place{
				Cylinder: rapid.SampledFrom([]string{"left", "right", "middle"}).Draw(t, "cylinder"),
				Phase:    rapid.SampledFrom([]logbook.Phase{logbook.AsFound, logbook.AsLeft}).Draw(t, "phase"),
			}
			take, id := rapid.IntRange(0, 3).Draw(t, "take"), rapid.Int64Range(0, 4).Draw(t, "opening")
			text := rapid.SampledFrom([]string{"2.05/2.01", "2,00", "-", "about two", ""}).Draw(t, "text")
			of := Correction{Seq: rapid.Int64Range(1, 40).Draw(t, "entry")}
			switch rapid.IntRange(0, 5).Draw(t, "what") {
			case 0:
				err = c.Read(&of, text)
			case 1:
				err = c.Move(&of, place)
			case 2:
				err = c.ThrowAway(&of)
			case 3:
				err = c.BringBack(&of)
			case 4:
				err = c.Pair(&of, take, id)
			case 5:
				if of, err = c.Opening(take, id, &place); err == nil {
					err = c.Read(&of, text)
				}
			}
			if err != nil {
				require.NotEmpty(t, strings.TrimSpace(err.Error()))
				continue
			}
			j = corrected(t, j, c, of)
			require.Equal(t, begin.Entries, j.Entries[:len(begin.Entries)])
			_, problems := j.Current()
			require.Empty(t, problems)
			_, err = FromJournal(j)
			require.NoError(t, err)
		}
	})
}

// What a guide reads back must be what it can write.
func TestTheStateOfAStepIsOneOfThree(t *testing.T) {
	j := twoTakes(t)
	seq := int64(len(j.Entries) + 1)
	j.Entries = append(j.Entries, logbook.Entry{Seq: seq, Data: logbook.Step{Step: "make_safe", State: logbook.StepBegun}})
	c, err := NewCorrector(j)
	require.NoError(t, err)
	of := Correction{Seq: seq}
	assert.EqualError(t, c.Set(&of, "state", "half"), `state of a step, got "half", want begun, done or skipped`)
	assert.Empty(t, of.Changes)
	require.NoError(t, c.Set(&of, "state", "done"))
	assert.Len(t, of.Changes, 1)
}
